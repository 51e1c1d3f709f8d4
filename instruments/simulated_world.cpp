#include "instruments/simulated_world.hpp"

#include "instruments/amplifier_model.hpp"
#include "instruments/digitiser.hpp"
#include "instruments/fault.hpp"
#include "instruments/heat.hpp"
#include "instruments/mains_model.hpp"
#include "instruments/source_model.hpp"
#include "instruments/stretch.hpp"
#include "instruments/unit_controls.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <future>
#include <limits>
#include <span>
#include <stdexcept>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr std::size_t block_frames = 64;
constexpr double tick_seconds = 0.1;         // how often the slow states are looked at
constexpr double computed_in_full = 2.0;     // longest sleep that is
constexpr double computed_at_the_end = 1.0;  // of a longer one
constexpr double computed_for_power = 0.6;   // until the rails have settled and the power is known
constexpr double slow_step_seconds = 5.0;
constexpr double wattmeter_seconds = 0.7;
constexpr double standby_watts = 6.0;  // transformer and what else is always on

/// A unit without mains: nothing comes out, nothing heats it.
void switch_off(UnitParameters& unit) {
    for (ChannelParameters& channel : unit.channels) {
        channel.output_gain = 0.0;
        channel.idle_watts = 0.0;
        channel.hum_gain = 0.0;
        channel.noise_volts = 0.0;
        channel.input_noise_volts = 0.0;
        channel.offset_volts = 0.0;
        channel.offset_cold_volts = 0.0;
        channel.offset_per_kelvin = 0.0;
        channel.step_volts = 0.0;
    }
    unit.supply.ripple_rejection = 0.0;
}

}  // namespace

class SimulatedWorld::Parts {
public:
    explicit Parts(const Simulation& simulation);

    void run(std::int64_t frames, Samples* out);
    void skip(double skipped);
    void run_for(double duration);
    void settle_parameters();
    /// Moves the slow states; true: parameters have to be settled anew.
    [[nodiscard]] bool tick(double step, double time, const MeanPower& watts);
    [[nodiscard]] std::int64_t frame_at(double time) const {
        return std::llround(time * true_rate);
    }
    [[nodiscard]] double resistance_of_load(std::size_t channel) const;
    [[nodiscard]] std::array<double, 2> load_ohms() const;
    void turn_to(const UnitControls& wanted);
    /// What the unit takes now; a wattmeter shows the mean of about a second.
    [[nodiscard]] double mains_watts() const {
        if (mains_open) {
            return 0.0;
        }
        double watts = standby_watts;
        for (std::size_t c = 0; c < 2; ++c) {
            watts += power.sink_watts[c] + power.load_watts[c] +
                     heat.extra_idle_watts(unit.channels[c], c);
        }
        return watts;
    }
    [[nodiscard]] Ohms source_impedance() const {
        return from_generator ? settings.generator->impedance : settings.source_impedance;
    }
    [[nodiscard]] double level_error() const {
        return from_generator ? settings.generator->level_error : settings.source_level_error;
    }
    [[nodiscard]] std::array<double, 2> sink_celsius() const {
        return {ambient + heat.sink_rise(0), ambient + heat.sink_rise(1)};
    }

    Simulation settings;
    double true_rate;  ///< frames of the card in a true second
    double ambient;
    UnitParameters healthy;
    UnitParameters unit;
    RigParameters rig;
    FaultSchedule schedule;
    MainsModel mains;
    Heat heat;
    SourceModel source;
    AmplifierModel amplifier;
    Digitiser digitiser;
    NoiseSource input_noise;
    NoiseSource meter_noise;
    UnitControls controls;  ///< as they were turned
    UnitControls standing;  ///< as they stand: with what was left wrong
    bool connected = false;
    std::size_t range = 0;
    double seconds = 0.0;    ///< true seconds since the bench was opened
    std::int64_t frame = 0;  ///< frames computed or skipped so far
    std::int64_t since_tick = 0;
    std::int64_t unsettled = 0;  ///< frames after a skip in which filters still ring
    MeanPower power;
    std::array<double, 2> set_for_ohms{};
    std::array<double, 2> source_volts{};  ///< rms of the steady tones that play
    bool faults_changed = false;
    bool frames_lost = false;
    bool came_late = false;
    bool mains_open = false;
    bool from_generator = false;  ///< it plays, and not the card
    std::optional<double> metered_watts;
    std::array<std::optional<double>, 2> frozen_sink{};  ///< what a frozen sensor answers
    Strain strain;

private:
    [[nodiscard]] bool drive(std::int64_t frames, Stretch& stretch);
    [[nodiscard]] bool run_in_two(std::int64_t& frames, Samples* out);

    Stretch stretch_;
    std::vector<double> driven_;
    std::vector<double> doubled_;
};

SimulatedWorld::Parts::Parts(const Simulation& simulation)
    : settings{simulation},
      true_rate{simulation.rate.frequency().in<Hertz>() * (1.0 + 1e-6 * simulation.clock_ppm)},
      ambient{simulation.ambient.in<Celsius>()},
      healthy{healthy_unit(simulation)},
      unit{healthy},
      schedule{simulation.faults},
      mains{simulation},
      heat{unit, simulation.warm},
      source{simulation},
      amplifier{simulation.rate.frequency().in<Hertz>(), simulation.mains_frequency.in<Hertz>()},
      digitiser{simulation, true_rate, amplifier.inner_frames()},
      input_noise{simulation.run_seed, 0x696E7074U},
      meter_noise{simulation.run_seed, 0x6D657465U} {
    for (std::size_t c = 0; c < 2; ++c) {
        power.sink_watts[c] = unit.channels[c].idle_watts;
    }
    // The unit has been on for a while: filters and supply are at rest before anybody looks.
    frame = -frame_at(computed_at_the_end);
    schedule.look(0.0, sink_celsius());
    turn_to({});
    run(-frame, nullptr);
    digitiser.forget_worst();
    strain = {};
}

double SimulatedWorld::Parts::resistance_of_load(std::size_t channel) const {
    const SimulatedLoad& load = settings.loads[channel];
    return load.nominal.in<Ohms>() * (1.0 + load.error) *
           (1.0 + load.temperature_coefficient * heat.load_rise(channel));
}

std::array<double, 2> SimulatedWorld::Parts::load_ohms() const {
    std::array<double, 2> ohms{};
    for (std::size_t c = 0; c < 2; ++c) {
        ohms[c] = connected && unit.channels[c].load_off < 0.5
                      ? resistance_of_load(c)
                      : std::numeric_limits<double>::infinity();
    }
    return ohms;
}

void SimulatedWorld::Parts::turn_to(const UnitControls& wanted) {
    controls = wanted;
    standing = wanted;
    for (const LeftWrong& left : settings.left_wrong) {
        if (!turn(standing, left.control, left.position)) {
            throw std::invalid_argument("simulated unit: it has no control " + left.control +
                                        " that stands at " + left.position);
        }
    }
    settle_parameters();
}

void SimulatedWorld::Parts::settle_parameters() {
    unit = healthy;
    rig = {};
    schedule.apply_to(unit, rig);
    apply(standing, unit);
    if (mains_open) {
        switch_off(unit);
    }
    source.freeze(static_cast<std::int64_t>(rig.frozen_frames), frame);
    set_for_ohms = load_ohms();
    amplifier.set(unit, standing, set_for_ohms, source_impedance().in<Ohms>());
    amplifier.set_heat(heat);
    amplifier.set_mains(mains.relative() * rig.mains_factor, mains.hertz());
    digitiser.set(unit, rig, amplifier.residual_state());
}

bool SimulatedWorld::Parts::tick(double step, double time, const MeanPower& watts) {
    mains.advance(step);
    const double now_watts = mains_watts();
    const double settled = -std::expm1(-step / wattmeter_seconds);
    metered_watts =
        metered_watts ? *metered_watts + settled * (now_watts - *metered_watts) : now_watts;
    std::array<double, 2> sink_watts = watts.sink_watts;
    for (std::size_t c = 0; c < 2; ++c) {
        sink_watts[c] += heat.extra_idle_watts(unit.channels[c], c);
    }
    heat.advance(step, unit, sink_watts, watts.load_watts,
                 {settings.loads[0].rise_per_watt, settings.loads[1].rise_per_watt});
    amplifier.set_heat(heat);
    amplifier.set_mains(mains.relative() * rig.mains_factor, mains.hertz());
    strain.into_left += Joules{step * watts.load_watts[0]};
    strain.into_right += Joules{step * watts.load_watts[1]};
    const bool changed = schedule.look(std::max(time, 0.0), sink_celsius());
    faults_changed = faults_changed || changed;
    const std::array<double, 2> ohms = load_ohms();
    const bool moved = connected && (std::abs(ohms[0] / set_for_ohms[0] - 1.0) > 2e-5 ||
                                     std::abs(ohms[1] / set_for_ohms[1] - 1.0) > 2e-5);
    return changed || moved;
}

// What the unit puts out over at most `frames` frames, up to the next tick. True: that tick asks
// for new parameters, before anything else is computed.
bool SimulatedWorld::Parts::drive(std::int64_t frames, Stretch& stretch) {
    const auto per_tick = static_cast<std::int64_t>(tick_seconds * true_rate);
    std::int64_t left = std::min(frames, per_tick - since_tick);
    stretch.blocks.clear();
    stretch.inner.resize(2 * amplifier.inner_frames() * static_cast<std::size_t>(left));
    std::span<double> inner{stretch.inner};
    while (left > 0) {
        const auto count =
            static_cast<std::size_t>(std::min(left, static_cast<std::int64_t>(block_frames)));
        driven_.resize(2 * count);
        doubled_.resize(4 * count);
        source.render(frame, driven_);
        const std::array<double, 2> sigma = amplifier.input_noise_sigma();
        for (std::size_t c = 0; c < 2; ++c) {
            if (sigma[c] > 0.0) {
                input_noise.add_to(std::span{driven_}.subspan(c), 2, sigma[c]);
            }
        }
        source.put_out(driven_, doubled_);
        const std::size_t size = 2 * amplifier.inner_frames() * count;
        amplifier.process(doubled_, inner.first(size));
        inner = inner.subspan(size);
        const ResidualState state = amplifier.residual_state();
        stretch.blocks.push_back(
            {count, state.ripple_volts, state.rail_volts, mains.hertz(), unsettled <= 0});
        const auto done = static_cast<std::int64_t>(count);
        unsettled = std::max(std::int64_t{0}, unsettled - done);
        frame += done;
        left -= done;
        since_tick += done;
    }
    if (since_tick < per_tick) {
        return false;
    }
    since_tick = 0;
    power = amplifier.take_mean_power();
    return tick(tick_seconds, static_cast<double>(frame) / true_rate, power);
}

void SimulatedWorld::Parts::run(std::int64_t frames, Samples* out) {
    const auto worth_two_threads = static_cast<std::int64_t>(0.5 * true_rate);
    while (frames > 0) {
        bool settle = false;
        if (frames >= worth_two_threads) {
            settle = run_in_two(frames, out);
        } else {
            const std::int64_t before = frame;
            settle = drive(frames, stretch_);
            frames -= frame - before;
            digitiser.process(stretch_, out);
        }
        if (settle) {
            settle_parameters();
        }
    }
}

// The unit runs ahead on this thread while another one digitises. Nothing flows back from the card,
// so the samples are the same as if they had taken turns. Returns when all is digitised and either
// no frames are left or (true) new parameters are due.
bool SimulatedWorld::Parts::run_in_two(std::int64_t& frames, Samples* out) {
    StretchLine line;
    const auto digitise = [this, &line, out] {
        Stretch stretch;
        while (line.receive(stretch)) {
            digitiser.process(stretch, out);
            line.give_back(std::move(stretch));
        }
    };
    std::future<void> digitising = std::async(std::launch::async, digitise);
    // Ends the line on every way out: the future's destructor waits for its reader.
    const std::unique_ptr<StretchLine, void (*)(StretchLine*)> ended{
        &line, [](StretchLine* one) { one->end(); }};
    bool settle = false;
    while (frames > 0 && !settle) {
        Stretch stretch = line.take_empty();
        const std::int64_t before = frame;
        settle = drive(frames, stretch);
        frames -= frame - before;
        line.send(std::move(stretch));
    }
    line.end();
    digitising.get();
    return settle;
}

// Slow states alone. What the unit delivers is taken as constant until a fault comes or goes; then
// it is looked at again.
void SimulatedWorld::Parts::skip(double skipped) {
    const double end = seconds + skipped;
    while (seconds < end) {
        const double step = std::min(end - seconds, slow_step_seconds);
        seconds += step;
        faults_changed = false;
        if (tick(step, seconds, power)) {
            settle_parameters();
        }
        frame = frame_at(seconds);
        unsettled = frame_at(0.1);
        if (faults_changed && end - seconds > computed_for_power) {
            run_for(computed_for_power);
        }
    }
}

void SimulatedWorld::Parts::run_for(double duration) {
    seconds += duration;
    run(frame_at(seconds) - frame, nullptr);
}

SimulatedWorld::SimulatedWorld(const Simulation& simulation)
    : parts_{std::make_unique<Parts>(simulation)} {}

SimulatedWorld::~SimulatedWorld() = default;

Seconds SimulatedWorld::now() const {
    return Seconds{parts_->seconds};
}

void SimulatedWorld::advance(Seconds duration) {
    Parts& parts = *parts_;
    const double whole = duration.in<Seconds>();
    if (whole <= computed_in_full) {
        parts.run_for(whole);
        return;
    }
    const double end = parts.seconds + whole;
    parts.run_for(computed_for_power);
    parts.skip(end - computed_at_the_end - parts.seconds);
    parts.run_for(end - parts.seconds);
}

std::vector<std::vector<std::int32_t>> SimulatedWorld::record(Frames frames) {
    Samples out;
    record_into(frames, out);
    return out;
}

void SimulatedWorld::record_into(Frames frames, Samples& out) {
    Parts& parts = *parts_;
    const auto lost = static_cast<std::int64_t>(parts.frames_lost ? 0.0 : parts.rig.lost_frames);
    const std::int64_t count = frames.count();
    out.resize(2);
    for (std::vector<std::int32_t>& channel : out) {
        channel.clear();
        channel.reserve(static_cast<std::size_t>(count));
    }
    const std::int64_t before = lost > 0 ? count * 2 / 5 : count;
    parts.run(before, &out);
    if (lost > 0) {
        parts.run(lost, nullptr);
        parts.run(count - before, &out);
        parts.frames_lost = true;
    }
    parts.seconds += static_cast<double>(count + lost) / parts.true_rate;
    if (parts.rig.late_seconds > 0.0 && !parts.came_late) {
        parts.came_late = true;
        const auto late =
            std::min(count, static_cast<std::int64_t>(parts.rig.late_seconds * parts.true_rate));
        for (std::vector<std::int32_t>& channel : out) {
            std::fill_n(channel.begin(), late, 0);
        }
    }
}

bool SimulatedWorld::capture_lost() const {
    return parts_->rig.card_lost >= 1.0;
}

bool SimulatedWorld::playing_lost() const {
    return parts_->rig.card_lost >= 1.5;
}

void SimulatedWorld::open_mains() {
    parts_->mains_open = true;
    parts_->strain.powered = false;
    parts_->settle_parameters();
}

bool SimulatedWorld::mains_open() const {
    return parts_->mains_open;
}

void SimulatedWorld::play(const Stimulus& stimulus) {
    parts_->source.play(stimulus, parts_->frame);
    parts_->strain.driven = !stimulus.silent();
    for (std::size_t c = 0; c < 2; ++c) {
        double square = 0.0;
        for (const Partial& partial : stimulus.channels[c]) {
            const double volts = rms_of_sine(partial.amplitude).in<VoltsRms>();
            square += volts * volts;
        }
        if (stimulus.loop && stimulus.loop->samples[c] != nullptr) {
            const double volts = stimulus.loop->amplitude[c].in<VoltsPeak>();
            for (const double sample : *stimulus.loop->samples[c]) {
                square += volts * volts * sample * sample /
                          static_cast<double>(stimulus.loop->samples[c]->size());
            }
        }
        parts_->source_volts[c] = std::sqrt(square) * (1.0 + parts_->level_error());
    }
}

void SimulatedWorld::hand_over(bool to_generator) {
    if (parts_->from_generator == to_generator) {
        return;
    }
    play(Stimulus{});
    parts_->from_generator = to_generator;
    parts_->source.hand_over(parts_->settings, to_generator);
    parts_->settle_parameters();
}

void SimulatedWorld::connect_load(bool connected) {
    parts_->connected = connected;
    parts_->settle_parameters();
}

bool SimulatedWorld::choose_loads(Ohms resistance) {
    constexpr double most_off = 1.25;  // as a calibration may find it: the next is a half or double
    auto& loads = parts_->settings.loads;
    auto& others = parts_->settings.other_loads;
    const auto off = [&](const std::array<SimulatedLoad, 2>& pair) {
        return std::abs(std::log(pair[0].nominal / resistance));
    };
    const auto nearest =
        std::min_element(others.begin(), others.end(),
                         [&](const auto& one, const auto& other) { return off(one) < off(other); });
    if (nearest != others.end() && off(*nearest) < off(loads)) {
        std::swap(loads, *nearest);
        parts_->settle_parameters();
    }
    return off(loads) < std::log(most_off);
}

void SimulatedWorld::select_range(std::size_t index) {
    parts_->range = index;
    parts_->digitiser.select(parts_->settings.ranges[index]);
}

void SimulatedWorld::set_controls(const UnitControls& controls) {
    parts_->turn_to(controls);
}

const UnitControls& SimulatedWorld::controls() const {
    return parts_->controls;
}

MeterReading SimulatedWorld::read(MeterQuantity quantity, bool right) {
    Parts& parts = *parts_;
    const std::size_t c = right ? 1 : 0;
    const ChannelParameters& channel = parts.unit.channels[c];
    double truth = 0.0;
    double relative = 0.0;  // standard uncertainty of the reading, of the value and beside it
    double beside = 0.0;
    switch (quantity) {
        case MeterQuantity::dc_offset:
            truth = parts.heat.offset_volts(channel, c);
            relative = 0.005;
            beside = 0.1e-3;
            break;
        case MeterQuantity::mains_voltage:
            truth = parts.mains.volts() * parts.rig.mains_factor;
            relative = 0.002;
            break;
        case MeterQuantity::ambient:
            truth = parts.ambient;
            beside = 0.3;
            break;
        case MeterQuantity::heat_sink:
            truth = parts.sink_celsius()[c];
            beside = 0.3;
            break;
        case MeterQuantity::load_temperature:
            truth = parts.ambient + parts.heat.load_rise(c);
            beside = 0.5;
            break;
        case MeterQuantity::emitter_voltage:
            truth = parts.heat.emitter_volts(channel, c);
            relative = 0.005;
            beside = 0.03e-3;
            break;
        case MeterQuantity::main_rail:
            truth = parts.amplifier.rails(c)[0];
            relative = 0.003;
            break;
        case MeterQuantity::mains_power:
            truth = parts.metered_watts.value_or(parts.mains_watts());
            relative = 0.005;
            beside = 0.2;
            break;
        case MeterQuantity::tone_rail:
            truth = parts.unit.supply.tone_rail_volts;
            relative = 0.003;
            break;
        case MeterQuantity::source_voltage:
            truth = parts.source_volts[c];
            relative = 0.0005;  // it repeats; what it is off by it is off by every time
            beside = 0.0;
            truth *= 1.0 + parts.settings.meter_error;
            break;
        case MeterQuantity::load_resistance:
            truth = parts.resistance_of_load(c);
            relative = 0.001;
            beside = 5e-3;  // of the leads, taken off
            break;
    }
    MeterReading reading;
    reading.u_k1 = std::hypot(relative * truth, beside);
    reading.value = truth + reading.u_k1 * parts.meter_noise.normal_within(3.0);
    return reading;
}

std::optional<MeterReading> SimulatedWorld::read_sink_sensor(std::size_t index, bool right) {
    MeterReading reading = read(MeterQuantity::heat_sink, right);
    std::optional<double>& frozen = parts_->frozen_sink[right ? 1 : 0];
    const RigParameters& rig = parts_->rig;
    if (index > 0) {
        return reading;
    }
    if (rig.sensor_dead >= 0.5) {
        return std::nullopt;
    }
    reading.value += rig.sensor_kelvin;
    if (rig.sensor_frozen < 0.5) {
        frozen.reset();
        return reading;
    }
    if (!frozen) {
        frozen = reading.value;
    }
    reading.value = *frozen;
    return reading;
}

Strain SimulatedWorld::strain() const {
    Strain strain = parts_->strain;
    strain.worst_output = parts_->digitiser.worst_volts();
    strain.worst_range_use = parts_->digitiser.worst_range_use();
    return strain;
}

}  // namespace afterload::instruments
