/// A source that remembers how hard it drives.
#pragma once

#include "instruments/source.hpp"

#include <memory>
#include <string>
#include <utility>

namespace afterload::instruments {

class RememberingSource final : public Source {
public:
    explicit RememberingSource(std::unique_ptr<Source> source) : source_{std::move(source)} {}

    [[nodiscard]] std::string identity() const override { return source_->identity(); }
    [[nodiscard]] VoltsPeak full_scale() const override { return source_->full_scale(); }
    [[nodiscard]] bool channels_apart() const override { return source_->channels_apart(); }
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    [[nodiscard]] Task<BenchResult<void>> mute() override;

    /// The louder channel of what plays, open circuit; 0 while it is mute.
    [[nodiscard]] VoltsRms drive() const { return drive_; }

private:
    std::unique_ptr<Source> source_;
    VoltsRms drive_{0.0};
};

}  // namespace afterload::instruments
