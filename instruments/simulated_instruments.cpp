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

tl::unexpected<BenchFailure> gone(std::string instrument, std::string asked) {
    return tl::unexpected<BenchFailure>(BenchFailure{BenchFailure::Kind::lost,
                                                     std::move(instrument), std::move(asked),
                                                     "the device is gone", Seconds{0.0}});
}

}  // namespace

SimulatedSource::SimulatedSource(SimulatedWorld& world, const Simulation& simulation)
    : world_{world}, full_scale_{simulation.source_full_scale}, rate_{simulation.rate} {}

std::string SimulatedSource::identity() const {
    return "simulated source";
}

Task<BenchResult<void>> SimulatedSource::play(Stimulus stimulus) {
    if (world_.playing_lost()) {
        co_return gone(identity(), "play");
    }
    if (auto why = cannot_play(stimulus, rate_, full_scale_, identity())) {
        co_return tl::unexpected<BenchFailure>(std::move(*why));
    }
    world_.hand_over(false);
    world_.play(stimulus);
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedSource::mute() {
    world_.hand_over(false);
    if (world_.playing_lost()) {
        world_.play(Stimulus{});  // nothing comes out of it; nobody can know
        co_return gone(identity(), "mute");
    }
    world_.play(Stimulus{});
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedSineSource::play(Stimulus stimulus) {
    if (stimulus.silent()) {
        auto muted = co_await mute();
        co_return muted;
    }
    if (auto why = generator_cannot_play(stimulus, full_scale_, identity())) {
        co_return tl::unexpected<BenchFailure>(std::move(*why));
    }
    world_.hand_over(true);
    world_.play(stimulus);
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedSineSource::mute() {
    world_.hand_over(true);
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
    if (world_.capture_lost()) {
        co_return gone(identity(), fmt::format("record {:.6g} s", length.in<Seconds>()));
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

Task<BenchResult<std::unique_ptr<CaptureStream>>> SimulatedCapture::stream() {
    if (world_.capture_lost()) {
        co_return gone(identity(), "record without an end");
    }
    BenchResult<std::unique_ptr<CaptureStream>> opened{
        std::make_unique<SimulatedStream>(world_, range_switch_.range().full_scale, bits_)};
    co_return opened;
}

Task<BenchResult<void>> SimulatedStream::next(Frames frames, CapturedBlock& block) {
    co_await give_way();
    block.first = next_;
    block.reported.clear();
    world_.record_into(frames, block.channels);
    block.came_by = world_.now();
    next_ += frames.count();
    if (world_.capture_lost()) {
        co_return gone("simulated card", "record on");
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedMainsSwitch::open() {
    world_.open_mains();
    co_return BenchResult<void>{};
}

std::string SimulatedLoads::identity() const {
    return "simulated loads";
}

Task<BenchResult<void>> SimulatedLoads::connect(Ohms resistance) {
    if (!world_.choose_loads(resistance)) {
        co_return tl::unexpected<BenchFailure>(load_refused(identity(), resistance));
    }
    connected_ = true;
    world_.connect_load(true);
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> SimulatedLoads::release() {
    connected_ = false;
    world_.connect_load(false);
    co_return BenchResult<void>{};
}

SimulatedMeter::SimulatedMeter(SimulatedWorld& world, int further, int index)
    : world_{world}, index_{index} {
    for (int i = 1; i <= further; ++i) {
        further_.push_back(std::make_unique<SimulatedMeter>(world, 0, index + i));
    }
}

std::string SimulatedMeter::identity() const {
    return index_ == 0 ? "simulated meter" : fmt::format("simulated sensor {}", index_ + 1);
}

bool SimulatedMeter::can_read(MeterQuantity quantity) const {
    return index_ == 0 || quantity == MeterQuantity::heat_sink;
}

std::vector<Meter*> SimulatedMeter::members() {
    std::vector<Meter*> all{this};
    for (const auto& one : further_) {
        all.push_back(one.get());
    }
    return all;
}

Task<BenchResult<MeterReading>> SimulatedMeter::read(MeterQuantity quantity, Channels channel) {
    const bool of_the_room =
        quantity == MeterQuantity::mains_voltage || quantity == MeterQuantity::ambient ||
        quantity == MeterQuantity::mains_power || quantity == MeterQuantity::tone_rail;
    if (channel == Channels::both && !of_the_room) {
        co_return refused(identity(), "read " + std::string{name(quantity)} + " of both channels",
                          "it reads one channel at a time");
    }
    const bool right = channel == Channels::right;
    if (quantity == MeterQuantity::heat_sink) {
        auto sensed = world_.read_sink_sensor(static_cast<std::size_t>(index_), right);
        if (!sensed) {
            co_return tl::unexpected<BenchFailure>(
                BenchFailure{BenchFailure::Kind::wrong_reply, identity(), "read heat_sink",
                             "-127 degrees: nothing answers on its line", Seconds{0.0}});
        }
        sensed->source = identity();
        co_return *std::move(sensed);
    }
    MeterReading reading = world_.read(quantity, right);
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
