/// When a soak does what: driven or silent, noise or sine, and when steps are measured again.
#pragma once

#include "analysis/quantity.hpp"
#include "runner/soak/soak_player.hpp"
#include "sequences/soak.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace afterload::runner {

class SoakSchedule {
public:
    explicit SoakSchedule(const sequences::Soak& soak);

    /// What is to play at `at`, while nothing holds the soak.
    [[nodiscard]] SoakPlayer::What due(Seconds at) const;

    /// Sets of steps whose time has come by `at` and that were not done for it; a set that is late
    /// comes once. `steady`: the heat sink has stopped rising.
    [[nodiscard]] std::vector<std::size_t> remeasure_due(Seconds at, bool steady);
    /// Those for the start and the end, once each.
    [[nodiscard]] std::vector<std::size_t> at_start() const;
    [[nodiscard]] std::vector<std::size_t> at_end() const;
    /// A soak that goes on at `at`: what was due before is not made up for.
    void go_on_from(Seconds at);

private:
    const sequences::Soak& soak_;
    std::vector<Seconds> next_;  ///< of each set
    std::vector<bool> hot_done_;
};

}  // namespace afterload::runner
