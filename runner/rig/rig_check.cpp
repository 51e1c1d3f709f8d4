#include "runner/rig/rig_check.hpp"

#include "analysis/loop_distortion.hpp"
#include "analysis/quiet_record.hpp"
#include "analysis/soundness.hpp"
#include "analysis/tone_figure.hpp"
#include "runner/level_steps.hpp"
#include "runner/rig/loop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace afterload::runner {

using instruments::MeterQuantity;
using instruments::Task;
using Kind = RigFinding::Kind;

namespace {

constexpr Hertz check_tone{997.0};
constexpr double level_off_db = 0.05;     // against the calibration
constexpr double drift_db = 0.01;         // of a steady tone within five seconds
constexpr double divider_slack_db = 0.2;  // a step of a divider, to so much
constexpr double clock_off_ppm = 150.0;   // crystals are within 100
constexpr double no_signal_db = 45.0;     // beyond any divider's step: what couples over
constexpr std::array divider_steps_db{6.0, 10.0, 20.0, 26.0, 40.0};
constexpr double resampled_ratio = 0.18;  // -15 dB, of both filters together
constexpr double ambient_low = 5.0;
constexpr double ambient_high = 45.0;

class Check {
public:
    Check(Driver& driver, Operator& person, RigCheckSettings settings)
        : driver_{driver}, person_{person}, settings_{std::move(settings)} {}

    Task<RunResult<RigCheck>> carry_out() {
        check_.found.made = settings_.now;
        check_.found.mixer = settings_.mixer;
        compare_mixer();
        auto done = co_await join_loop(driver_, person_, true);
        for (const sequences::RangeEntry& range : ranges_safest_first(driver_.file())) {
            if (done) {
                sequences::RangeEntry copy = range;
                done = co_await check_range(std::move(copy));
            }
        }
        if (done) {
            done = co_await look_long();
        }
        if (done) {
            done = co_await look_at_polarity();
        }
        if (done) {
            done = co_await look_near_the_end_of_the_band();
        }
        if (done) {
            done = co_await join_loop(driver_, person_, false);
        }
        const auto muted = co_await driver_.mute();
        if (!done || !muted) {
            co_return tl::unexpected<Trouble>(done ? muted.error() : done.error());
        }
        add_distortion();
        co_await read_meters();
        co_return std::move(check_);
    }

    Task<RunResult<std::vector<RigFinding>>> without_hands() {
        compare_mixer();
        co_await read_meters();
        co_return std::move(check_.findings);
    }

private:
    void find(Kind kind, std::string what, bool stops = false) {
        check_.findings.push_back({kind, std::move(what), stops});
    }

    void compare_mixer() {
        for (const sequences::MixerControl& before : driver_.file().mixer) {
            const auto now = std::find_if(
                settings_.mixer.begin(), settings_.mixer.end(),
                [&](const auto& control) { return control.control == before.control; });
            const std::string is = now == settings_.mixer.end() ? "not there" : now->values;
            if (is != before.values) {
                find(Kind::mixer,
                     fmt::format("the mixer's {} was {} when the bench was calibrated and is {}: "
                                 "set it back, or calibrate anew",
                                 before.control, before.values, is),
                     true);
            }
        }
    }

    Task<RunResult<void>> check_range(sequences::RangeEntry range) {
        std::string name = range.name;
        auto done = co_await driver_.select_range(std::move(name));
        if (!done) {
            co_return done;
        }
        sequences::CheckedRange& found = check_.found.ranges.emplace_back();
        found.name = range.name;
        done = co_await hear_silence(range, found);
        if (done) {
            done = co_await look_at_level(range);
        }
        if (done) {
            done = co_await look_at_leak(range, found);
        }
        co_return done;
    }

    Task<RunResult<void>> hear_silence(const sequences::RangeEntry& range,
                                       sequences::CheckedRange& found) {
        const auto muted = co_await driver_.mute();
        if (!muted) {
            co_return muted;
        }
        const auto captured = co_await record_settled(driver_, Seconds{2.0});
        if (!captured) {
            co_return tl::unexpected<Trouble>(captured.error());
        }
        const std::array<Waveform, 2> heard{calibrated(captured->record, 0),
                                            calibrated(captured->record, 1)};
        analysis::Expectation silence;
        silence.silence = true;
        silence.mains = settings_.mains;
        for (const CaptureFault& fault : analysis::faults_of_all({heard[0], heard[1]}, silence)) {
            if (fault.kind == CaptureFaultKind::gap) {
                find(Kind::gap,
                     fmt::format("range {}, two seconds of silence, {:.3f} s into it: {}",
                                 range.name, fault.start.in<Seconds>(), fault.note));
            }
        }
        // No converter is quieter than its own steps, though a server's silence may be.
        const double step = range.full_scale.in<VoltsPeak>() /
                            (std::pow(2.0, captured->record.bits - 1) * std::sqrt(12.0));
        double noise = step;
        double weighted = step;
        double hum = step;
        for (const Waveform& wave : heard) {
            const analysis::QuietRecord quiet{wave, settings_.mains.value_or(Hertz{50.0})};
            const auto flat = quiet.noise({analysis::audio_band(), Weighting::unweighted});
            const auto a = quiet.noise({analysis::audio_band(), Weighting::a});
            noise = std::max(noise, flat ? flat->value : 0.0);
            weighted = std::max(weighted, a ? a->value : 0.0);
            if (quiet.hum() && *quiet.hum()) {
                hum = std::max(hum, (*quiet.hum())->together.value);
            }
        }
        found.own_noise = VoltsRms{noise};
        found.own_noise_a = VoltsRms{weighted};
        found.own_hum = VoltsRms{hum};
        if (hum > 3.0 * weighted) {
            find(Kind::hum,
                 fmt::format("range {}: {:.3g} uV of hum beside {:.3g} uV of noise: a loop of "
                             "grounds; unplug one lead after the other and watch it",
                             range.name, 1e6 * hum, 1e6 * weighted));
        }
        co_return RunResult<void>{};
    }

    /// The same drive in every range, so that the source's own distortion stays what it is.
    [[nodiscard]] double drive() const {
        double volts = 1e9;
        for (const sequences::RangeEntry& range : driver_.file().ranges) {
            volts = std::min(volts, loop_drive(driver_.file(), range));
        }
        return volts;
    }

    Task<RunResult<void>> look_at_level(sequences::RangeEntry range) {
        const double volts = drive();
        ToneDrive tone{check_tone, {volts, volts}};
        const auto seen = co_await look_at_loop(driver_, tone, Seconds{2.0});
        if (!seen) {
            co_return tl::unexpected<Trouble>(seen.error());
        }
        look_for_faults(*seen, "range " + range.name + ", a tone of two seconds");
        for (std::size_t c = 0; c < 2; ++c) {
            const double off_db = seen->fits[c] ? decibels(seen->volts(c) / volts) : -300.0;
            if (off_db < -no_signal_db) {
                find(Kind::channels,
                     fmt::format("range {}: nothing comes back on the {}: look at the loop's lead",
                                 range.name, side_of(c)),
                     true);
                continue;
            }
            // What is not known is no fault. After a calibration the meter's error is in source
            // and range alike, and cancels.
            const bool through_the_loop = !driver_.file().calibrated.empty();
            const double u = through_the_loop
                                 ? range.balance_u_k1
                                 : std::hypot(range.level_u_k1, driver_.file().source.level_u_k1);
            const double known_db = 2.0 * analysis::decibels_a_neper * u;
            if (std::abs(off_db) > level_off_db + known_db) {
                find(Kind::level, level_words(range.name, side_of(c), off_db), true);
            }
        }
        if (seen->fits[0]) {
            const auto& fit = *seen->fits[0];
            looks_.push_back({fit.fundamental.amplitude / range.full_scale.in<VoltsPeak>(), fit});
            const double ppm =
                1e6 * (fit.fundamental.frequency.in<Hertz>() / check_tone.in<Hertz>() - 1.0);
            if (looks_.size() == 1 && std::abs(ppm) > clock_off_ppm) {
                find(
                    Kind::clock,
                    fmt::format("the tone comes back {:+.0f} ppm off: the card does not run at the "
                                "rate that it says, or something resamples",
                                ppm));
            }
        }
        co_return RunResult<void>{};
    }

    Task<RunResult<void>> look_at_leak(const sequences::RangeEntry& range,
                                       sequences::CheckedRange& found) {
        const double volts = drive();
        double leak = 0.0;
        for (std::size_t driven = 0; driven < 2; ++driven) {
            if (!driver_.channels_apart()) {
                co_return RunResult<void>{};
            }
            ToneDrive tone{check_tone, {driven == 0 ? volts : 0.0, driven == 1 ? volts : 0.0}};
            const auto seen = co_await look_at_loop(driver_, tone, Seconds{1.0});
            if (!seen) {
                co_return tl::unexpected<Trouble>(seen.error());
            }
            const double own = seen->volts(driven);
            const double other = seen->volts(1 - driven);
            if (other > own) {
                find(Kind::channels,
                     fmt::format("range {}: the {} source comes back on the {}: the leads are "
                                 "swapped",
                                 range.name, side_of(driven), side_of(1 - driven)),
                     true);
            } else if (other > 0.1 * own) {
                find(Kind::channels,
                     fmt::format("range {}: the {} source comes back on both inputs: they are "
                                 "joined somewhere, or the card mixes to mono",
                                 range.name, side_of(driven)),
                     true);
            }
            leak = std::max(leak, own > 0.0 ? other / own : 0.0);
        }
        // Below what a second of record can tell, the floor is what is known.
        const double floor = found.own_noise->in<VoltsRms>() / (volts * std::sqrt(2.0e4));
        found.own_separation = AmplitudeRatio{std::max(leak, 2.0 * floor)};
        co_return RunResult<void>{};
    }

    /// Samples that are missing or came twice, and a level that is not one: in any look at a tone.
    void look_for_faults(const LoopTone& seen, const std::string& where) {
        analysis::Expectation expected;
        expected.tone = check_tone;
        const std::vector<WaveformView> both{seen.records[0], seen.records[1]};
        auto faults = analysis::faults_of_all(both, expected);
        faults.insert(faults.end(), seen.reported.begin(), seen.reported.end());
        for (const CaptureFault& fault : faults) {
            if (fault.kind == CaptureFaultKind::silent) {
                continue;  // said already, with the lead to look at
            }
            const bool gap =
                fault.kind == CaptureFaultKind::gap || fault.kind == CaptureFaultKind::repeat;
            find(gap ? Kind::gap : Kind::drift,
                 fmt::format("{}, {:.3f} s into it: {} {}", where, fault.start.in<Seconds>(),
                             name(fault.kind), fault.note));
        }
    }

    /// Ten seconds on the most sensitive range: gaps, and a level that stays.
    Task<RunResult<void>> look_long() {
        const double volts = drive();
        ToneDrive tone{check_tone, {volts, volts}};
        const auto seen = co_await look_at_loop(driver_, tone, Seconds{10.0});
        if (!seen) {
            co_return tl::unexpected<Trouble>(seen.error());
        }
        look_for_faults(*seen, "a tone of ten seconds");
        for (std::size_t c = 0; c < 2; ++c) {
            const double change = change_db(seen->records[c]);
            if (std::abs(change) > drift_db) {
                find(Kind::drift,
                     fmt::format("{}: a steady tone moves by {:+.3f} dB in ten seconds: automatic "
                                 "gain, an enhancement, or a contact",
                                 side_of(c), change));
            }
        }
        co_return RunResult<void>{};
    }

    /// Level of the last fifth of a record over that of its first.
    static double change_db(const Waveform& record) {
        const std::size_t fifth = record.volts.size() / 5;
        const auto level = [&](std::size_t from) {
            const WaveformView part{std::span{record.volts}.subspan(from, fifth), record.rate};
            analysis::ToneFitSettings settings;
            settings.nominal = check_tone;
            const auto fit = analysis::fit_tone(part, settings);
            return fit ? fit->fundamental.amplitude : 0.0;
        };
        const double first = level(0);
        const double last = level(record.volts.size() - fifth);
        return first > 0.0 && last > 0.0 ? decibels(last / first) : 0.0;
    }

    /// A tone and its octave: turned round, the octave's phase re the tone moves by half a turn.
    Task<RunResult<void>> look_at_polarity() {
        const double volts = 0.5 * drive();
        StimulusDrive both{{}, {2.0 * volts, 2.0 * volts}};
        for (auto& channel : both.stimulus.channels) {
            channel.push_back({check_tone, peak_of_sine(VoltsRms{volts}), Radians{0.0}});
            channel.push_back(
                {2.0 * check_tone, peak_of_sine(VoltsRms{0.5 * volts}), Radians{0.0}});
        }
        const auto played = co_await driver_.play(std::move(both), {2.0 * volts, 2.0 * volts});
        if (!played) {
            co_return played;
        }
        const auto captured = co_await record_settled(driver_, Seconds{0.5});
        if (!captured) {
            co_return tl::unexpected<Trouble>(captured.error());
        }
        for (std::size_t c = 0; c < 2; ++c) {
            const Waveform wave = calibrated(captured->record, c);
            analysis::ToneFitSettings settings;
            settings.nominal = check_tone;
            const auto fit = analysis::fit_tone(wave, settings);
            if (!fit || fit->harmonics.empty()) {
                continue;
            }
            const double turned = fit->harmonics.front().phase - 2.0 * fit->fundamental.phase;
            if (std::cos(turned) < 0.0) {
                find(Kind::polarity,
                     fmt::format("{}: comes back turned round: a sense lead, or a source lead, is "
                                 "the wrong way about",
                                 side_of(c)),
                     true);
            }
        }
        co_return RunResult<void>{};
    }

    /// A converter still passes most of 0.48 of its rate; what was brought to another rate on the
    /// way, and back, lost it in the resampler's filters, whichever of the two rates is the higher.
    Task<RunResult<void>> look_near_the_end_of_the_band() {
        const double volts = 0.5 * drive();
        const Hertz high = 0.48 * driver_.file().card.rate.frequency();
        std::array<double, 2> levels{};
        for (std::size_t i = 0; i < 2; ++i) {
            ToneDrive tone{i == 0 ? check_tone : high, {volts, volts}};
            const auto seen = co_await look_at_loop(driver_, tone, Seconds{0.3});
            if (!seen) {
                co_return tl::unexpected<Trouble>(seen.error());
            }
            levels[i] = std::max(seen->volts(0), seen->volts(1));
        }
        if (levels[0] > 0.0 && levels[1] < resampled_ratio * levels[0]) {
            find(Kind::clock,
                 fmt::format("{:.1f} kHz do not come back at a rate of {:g} kHz: something on the "
                             "way resamples; open the card itself (hw:) and end what else holds "
                             "it, or take the rate that it has",
                             high.in<Hertz>() / 1000.0,
                             driver_.file().card.rate.frequency().in<Hertz>() / 1000.0),
                 true);
        }
        co_return RunResult<void>{};
    }

    void add_distortion() {
        const analysis::LoopVerdict verdict = analysis::loop_distortion(looks_);
        if (!verdict.halves) {
            find(Kind::distortion, "own distortion is not known: " + verdict.why_not);
            return;
        }
        for (sequences::CheckedRange& found : check_.found.ranges) {
            for (const sequences::RangeEntry& range : driver_.file().ranges) {
                if (range.name != found.name) {
                    continue;
                }
                for (const double share : {0.03, 0.1, 0.3, 0.8}) {
                    const double peak = share * range.full_scale.in<VoltsPeak>();
                    found.own_distortion.push_back(
                        {VoltsRms{peak / std::numbers::sqrt2},
                         AmplitudeRatio{verdict.halves->source},
                         AmplitudeRatio{std::max(1e-9, verdict.halves->input_at(share))}});
                }
            }
        }
    }

    Task<void> read_meters() {
        instruments::Meter* const meter = driver_.bench().meter();
        if (meter == nullptr) {
            co_return;
        }
        for (const MeterQuantity quantity :
             {MeterQuantity::ambient, MeterQuantity::mains_voltage}) {
            if (!meter->can_read(quantity)) {
                continue;
            }
            const auto reading = co_await meter->read(quantity, Channels::both);
            if (!reading) {
                find(Kind::sensor, instruments::text(reading.error()));
            } else {
                judge_reading(quantity, reading->value);
            }
        }
    }

    void judge_reading(MeterQuantity quantity, double value) {
        if (quantity == MeterQuantity::ambient) {
            if (value < ambient_low || value > ambient_high) {
                find(Kind::sensor,
                     fmt::format("the room is said to have {:.1f} °C: look at the sensor", value));
            }
            return;
        }
        // EN 50160: 230 V ± 10 %; the 120 V class likewise.
        const bool plausible = (value > 207.0 && value < 253.0) ||
                               (value > 108.0 && value < 132.0) || (value > 90.0 && value < 110.0);
        if (!plausible) {
            find(Kind::sensor,
                 fmt::format("mains {:.1f} V is not within 10 % of 230 V, 120 V or 100 V", value));
        }
    }

    Driver& driver_;
    Operator& person_;
    RigCheckSettings settings_;
    RigCheck check_;
    std::vector<analysis::LoopLook> looks_;
};

}  // namespace

std::string level_words(const std::string& range, const std::string& channel, double off_db) {
    for (const double step : divider_steps_db) {
        if (std::abs(std::abs(off_db) - step) < divider_slack_db) {
            return fmt::format(
                "range {}, {}: the loop reads {:+.2f} dB off, a divider's step of "
                "{:g} dB: another range is switched than is said",
                range, channel, off_db, step);
        }
    }
    return fmt::format(
        "range {}, {}: the loop reads {:+.2f} dB off the calibration: a mixer or a "
        "volume was moved, or a lead; mend it, or calibrate anew",
        range, channel, off_db);
}

Task<RunResult<RigCheck>> check_rig(Driver& driver, Operator& person, RigCheckSettings settings) {
    Check check{driver, person, std::move(settings)};
    auto found = co_await check.carry_out();
    co_return found;
}

Task<RunResult<std::vector<RigFinding>>> check_rig_unattended(Driver& driver,
                                                              RigCheckSettings settings) {
    struct Nobody final : Operator {
        Answer ask(const sequences::Prompt& /*prompt*/, int /*number*/, int /*count*/) override {
            return Answer::stop;
        }
        std::string type_in(const std::string& /*what*/) override { return {}; }
    } nobody;
    Check check{driver, nobody, std::move(settings)};
    auto findings = co_await check.without_hands();
    co_return findings;
}

}  // namespace afterload::runner
