#include "instruments/simulated_instruments.hpp"

#include "instruments/playable.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace afterload::instruments {

namespace {

tl::unexpected<BenchFailure> refused(std::string instrument, std::string asked,
                                     std::string answered) {
    return tl::unexpected<BenchFailure>(BenchFailure{BenchFailure::Kind::refused,
                                                     std::move(instrument), std::move(asked),
                                                     std::move(answered), Seconds{0.0}});
}

}  // namespace

SimulatedSource::SimulatedSource(SimulatedWorld& world, const Simulation& simulation)
    : world_{world}, full_scale_{simulation.source_full_scale}, rate_{simulation.rate} {}

std::string SimulatedSource::identity() const {
    return "simulated source";
}

Task<BenchResult<void>> SimulatedSource::play(Stimulus stimulus) {
    if (auto why = cannot_play(stimulus, rate_, full_scale_, identity())) {
        co_return tl::unexpected<BenchFailure>(std::move(*why));
    }
    world_.play(stimulus);
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedSource::mute() {
    world_.play(Stimulus{});
    co_return BenchResult<void>{};
}

SimulatedRangeSwitch::SimulatedRangeSwitch(SimulatedWorld& world, const Simulation& simulation)
    : world_{world}, ranges_{simulation.ranges} {
    const auto safest = std::max_element(
        ranges_.begin(), ranges_.end(),
        [](const SimulatedRange& a, const SimulatedRange& b) { return a.safe < b.safe; });
    selected_ = static_cast<std::size_t>(safest - ranges_.begin());
    world_.select_range(selected_);
}

std::string SimulatedRangeSwitch::selected() const {
    return ranges_[selected_].name;
}

bool SimulatedRangeSwitch::select_now(const std::string& range) {
    const auto found =
        std::find_if(ranges_.begin(), ranges_.end(),
                     [&range](const SimulatedRange& one) { return one.name == range; });
    if (found == ranges_.end()) {
        return false;
    }
    selected_ = static_cast<std::size_t>(found - ranges_.begin());
    world_.select_range(selected_);
    return true;
}

Task<BenchResult<void>> SimulatedRangeSwitch::select(std::string range) {
    if (!select_now(range)) {
        co_return refused("simulated ranges", "select \"" + range + "\"", "there is no such range");
    }
    co_return BenchResult<void>{};
}

SimulatedCapture::SimulatedCapture(SimulatedWorld& world, const Simulation& simulation,
                                   const SimulatedRangeSwitch& range_switch)
    : world_{world}, range_switch_{range_switch}, rate_{simulation.rate}, bits_{simulation.bits} {}

std::string SimulatedCapture::identity() const {
    return "simulated card";
}

Task<BenchResult<Captured>> SimulatedCapture::record(Seconds length) {
    co_await give_way();
    constexpr double longest = 600.0;  // the record is held in memory
    if (!(length > Seconds{0.0} && length.in<Seconds>() <= longest)) {
        co_return refused(identity(), fmt::format("record {:.6g} s", length.in<Seconds>()),
                          fmt::format("a record lasts more than 0 and at most {:.0f} s", longest));
    }
    Captured captured;
    captured.started = world_.now();
    captured.record.rate = rate_;
    captured.record.bits = bits_;
    captured.record.channels = world_.record(frames_in(length, rate_));
    const VoltsPeak full_scale = range_switch_.range().full_scale;
    captured.record.calibration = {{"left", full_scale}, {"right", full_scale}};
    co_return captured;
}

std::string SimulatedLoads::identity() const {
    return "simulated loads";
}

Task<BenchResult<void>> SimulatedLoads::connect() {
    connected_ = true;
    world_.connect_load(true);
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedLoads::release() {
    connected_ = false;
    world_.connect_load(false);
    co_return BenchResult<void>{};
}

std::string SimulatedMeter::identity() const {
    return "simulated meter";
}

bool SimulatedMeter::can_read(MeterQuantity /*quantity*/) const {
    return true;
}

Task<BenchResult<MeterReading>> SimulatedMeter::read(MeterQuantity quantity, Channels channel) {
    const bool of_the_room = quantity == MeterQuantity::mains_voltage ||
                             quantity == MeterQuantity::ambient ||
                             quantity == MeterQuantity::tone_rail;
    if (channel == Channels::both && !of_the_room) {
        co_return refused(identity(), "read " + std::string{name(quantity)} + " of both channels",
                          "it reads one channel at a time");
    }
    MeterReading reading = world_.read(quantity, channel == Channels::right);
    reading.source = identity();
    co_return reading;
}

Task<BenchResult<void>> SimulatedHands::set(std::string control, std::string position) {
    bool done = false;
    if (control == "range") {
        done = range_switch_.select_now(position);
    } else {
        UnitControls controls = world_.controls();
        done = turn(controls, control, position);
        if (done) {
            world_.set_controls(controls);
        }
    }
    if (!done) {
        co_return refused("simulated hands", "set " + control + " to \"" + position + "\"",
                          "there is no such control or position");
    }
    co_return BenchResult<void>{};
}

}  // namespace afterload::instruments
