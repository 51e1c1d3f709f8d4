/// A bench that writes down what is done to the simulated one behind it.
#pragma once

#include "instruments/simulated_bench.hpp"

#include <memory>
#include <string>
#include <vector>

namespace afterload::test {

/// Outlives the bench, so that a test can look at it after the run.
struct BenchLog {
    struct Entry {
        std::string what;            ///< "play", "mute", "record", "select low", "connect", ...
        double largest_drive = 0.0;  ///< V rms open circuit, of a play
        double worst_output = 0.0;   ///< largest |terminal volts| that the unit gave until then
        double worst_range_use = 0.0;
        bool generator = false;  ///< played or muted, and not the card
    };
    std::vector<Entry> entries;
};

class WatchingBench final : public instruments::Bench {
public:
    /// `bench` must be a simulated one. Its loads may be given as wired for good.
    WatchingBench(std::unique_ptr<instruments::Bench> bench, std::shared_ptr<BenchLog> log,
                  bool with_meter = true, bool with_switched_loads = true);
    ~WatchingBench() override;

    [[nodiscard]] instruments::Clock& clock() override;
    [[nodiscard]] instruments::Source& source() override;
    [[nodiscard]] instruments::Source* generator() override;
    [[nodiscard]] instruments::Capture& capture() override;
    [[nodiscard]] instruments::Load& load() override;
    [[nodiscard]] instruments::RangeSwitch& range_switch() override;
    [[nodiscard]] instruments::Meter* meter() override;
    [[nodiscard]] instruments::Hands* hands() override;

private:
    struct Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace afterload::test
