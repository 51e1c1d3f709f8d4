#include "runner/level_finder.hpp"

#include "analysis/level.hpp"
#include "analysis/soundness.hpp"
#include "analysis/tone_figure.hpp"
#include "runner/level_steps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr double most_blind_drive = 0.020;  // V: more is never put into an output that is not seen
constexpr double gain_change_worth_saying_db = 0.5;

/// Did the card lose or repeat samples in this look?
bool slipped(const std::array<Waveform, 2>& waveforms,
             const std::array<std::optional<analysis::ToneFit>, 2>& fits, Hertz frequency,
             std::optional<Hertz> mains) {
    std::vector<WaveformView> seen;
    for (std::size_t c = 0; c < 2; ++c) {
        if (fits[c]) {
            seen.push_back(waveforms[c]);
        }
    }
    if (seen.empty()) {
        return false;
    }
    analysis::Expectation expected;
    expected.tone = frequency;
    expected.mains = mains;
    const auto faults = analysis::faults_of_all(seen, expected);
    return std::any_of(faults.begin(), faults.end(), [](const CaptureFault& fault) {
        return fault.kind == CaptureFaultKind::gap || fault.kind == CaptureFaultKind::repeat;
    });
}

// A first look at milliwatts on a noisy rig shows a gain that is hardly known: what it loses later
// is no compression.
constexpr double sure_sigmas = 4.0;
constexpr double well_known = 0.02;  // relative standard deviation

/// How one channel comes closer to its target.
struct Approach {
    double drive = 0.0;
    double output = 0.0;
    double gain = 0.0;
    double gain_sigma = 0.0;  ///< relative, from the noise of the look
    double first_gain = 0.0;  ///< the first that was known well
    double first_sigma = 0.0;
    bool seen = false;
    bool reached = false;
    bool at_the_end = false;  ///< of what the source gives
    bool ended = false;       ///< reached, or cannot be

    /// Decibels by which a gain must have fallen against another before noise is ruled out.
    [[nodiscard]] double unsure(double other_sigma) const {
        return sure_sigmas * analysis::decibels_a_neper * std::hypot(gain_sigma, other_sigma);
    }
};

/// One output for both channels: the channel that is louder at the same drive sets it, so that no
/// target is passed.
void play_alike(std::array<Approach, 2>& channels) {
    auto& [left, right] = channels;
    if (left.drive > 0.0 && right.drive > 0.0) {
        left.drive = right.drive = std::min(left.drive, right.drive);
    }
}

}  // namespace

std::string short_of(double drive, double output, double target) {
    return fmt::format(
        "{:.3g} V is all the drive there is: {:.3g} of {:.3g} V; look at the gain, or use a "
        "stronger source",
        drive, output, target);
}

double LevelFinder::known_gain(const std::string& path, std::size_t channel,
                               Hertz frequency) const {
    const auto memory = memory_.find(path);
    if (memory == memory_.end() || memory->second.gains[channel].empty()) {
        return 0.0;
    }
    const auto& gains = memory->second.gains[channel];
    const auto distance = [&](const Known& known) {
        return std::abs(std::log(known.frequency / frequency));
    };
    return std::min_element(
               gains.begin(), gains.end(),
               [&](const Known& a, const Known& b) { return distance(a) < distance(b); })
        ->gain;
}

void LevelFinder::learn(const LevelRequest& request, std::size_t channel, double gain,
                        double output) {
    PathMemory& memory = memory_[request.path];
    memory.highest[channel] = std::max(memory.highest[channel], output);
    Ways& ways = ways_[request.terminals][channel];
    ways.largest_gain = std::max(ways.largest_gain, gain);
    ways.highest = std::max(ways.highest, output);
    auto& gains = memory.gains[channel];
    for (Known& known : gains) {
        if (std::abs(known.frequency / request.frequency - 1.0) < 0.01) {
            known.gain = gain;
            return;
        }
    }
    gains.push_back({request.frequency, gain});
}

double LevelFinder::first_drive(const LevelRequest& request, std::size_t channel) const {
    const double target = request.target[channel];
    const auto memory = memory_.find(request.path);
    const double gain = known_gain(request.path, channel, request.frequency);
    if (memory == memory_.end() || gain <= 0.0) {
        const auto ways = ways_.find(request.terminals);
        if (ways == ways_.end() || ways->second[channel].largest_gain <= 0.0) {
            return first_drive_unknown(target, request.load);
        }
        const Ways& other = ways->second[channel];
        return other_way_first_output(target, other.highest) / other.largest_gain;
    }
    const auto& gains = memory->second.gains[channel];
    const bool same_frequency = std::any_of(gains.begin(), gains.end(), [&](const Known& known) {
        return std::abs(known.frequency / request.frequency - 1.0) < 0.01;
    });
    return known_first_output(target, memory->second.highest[channel], same_frequency) / gain;
}

Task<RunResult<std::array<std::optional<analysis::ToneFit>, 2>>> LevelFinder::look(
    Hertz frequency, std::optional<Hertz> mains, Seconds at_least) {
    const Seconds length = look_length(frequency, at_least);
    std::array<std::optional<analysis::ToneFit>, 2> fits;
    for (int take = 0; take < most_looks; ++take) {
        auto captured = co_await driver_.record(length);
        if (!captured) {
            co_return tl::unexpected(captured.error());
        }
        const std::array<Waveform, 2> waveforms{calibrated(captured->record, 0),
                                                calibrated(captured->record, 1)};
        for (std::size_t c = 0; c < 2; ++c) {
            analysis::ToneFitSettings settings;
            settings.nominal = frequency;
            settings.mains = mains;
            auto fit = analysis::fit_tone(waveforms[c], settings);
            fits[c] = fit ? std::optional{*std::move(fit)} : std::nullopt;
        }
        // A slip of the card would make the level read low, and the next drive too high.
        if (captured->reported.empty() && !slipped(waveforms, fits, frequency, mains)) {
            break;
        }
    }
    co_return fits;
}

Task<RunResult<LevelReached>> LevelFinder::reach(LevelRequest request) {
    std::array<Approach, 2> channels;
    LevelReached result;
    for (std::size_t c = 0; c < 2; ++c) {
        if (request.target[c] > 0.0) {
            channels[c].drive = first_drive(request, c);
        } else {
            channels[c].ended = true;
        }
    }
    const bool together = !driver_.channels_apart();
    const double most_drive = driver_.largest_drive();
    std::array<double, 2> last_played{};
    for (int step = 0; step < most_level_steps; ++step) {
        if (together) {
            play_alike(channels);
        }
        for (Approach& channel : channels) {
            channel.at_the_end = channel.drive >= most_drive;
            channel.drive = std::min(channel.drive, most_drive);
        }
        last_played = {channels[0].drive, channels[1].drive};
        ToneDrive drive{request.frequency, last_played};
        ExpectedOutput expected{};
        bool last_step = false;
        for (std::size_t c = 0; c < 2; ++c) {
            const double gain = channels[c].seen ? channels[c].gain
                                                 : known_gain(request.path, c, request.frequency);
            expected[c] = channels[c].drive * gain;
            last_step = last_step ||
                        (request.target[c] > 0.0 && is_last_step(expected[c], request.target[c]));
        }
        const auto played = co_await driver_.play(drive, expected);
        if (!played) {
            co_return tl::unexpected(played.error());
        }
        const auto waited = co_await driver_.wait(
            last_step ? request.settle : std::min(request.settle, approach_settle));
        if (!waited) {
            co_return tl::unexpected(waited.error());
        }
        auto looked = co_await look(request.frequency, request.mains, shortest_look);
        if (!looked) {
            co_return tl::unexpected(looked.error());
        }
        bool all_ended = true;
        for (std::size_t c = 0; c < 2; ++c) {
            Approach& channel = channels[c];
            if (request.target[c] <= 0.0) {
                continue;
            }
            const auto& fit = (*looked)[c];
            // A channel that is driven and silent must not take the other one's leak for its
            // output.
            const Approach& other = channels[1 - c];
            double output = fit ? fit->fundamental.amplitude / std::sqrt(2.0) : 0.0;
            const bool only_leak = other.seen && output < 0.02 * other.gain * channel.drive;
            if (!fit || only_leak) {
                output = 0.0;
            }
            if (output > 0.0) {
                const double gain = output / channel.drive;
                const double sigma = analysis::relative_noise(*fit);
                if (!channel.seen || channel.first_sigma > well_known) {
                    channel.first_gain = gain;
                    channel.first_sigma = sigma;
                }
                const double before = channel.output;
                const double raised = before > 0.0 ? decibels(gain / channel.gain) : 0.0;
                const double sigma_before = channel.gain_sigma;
                channel.seen = true;
                channel.gain = gain;
                channel.gain_sigma = sigma;
                channel.output = output;
                learn(request, c, gain, output);
                const double missing = decibels(request.target[c] / output);
                channel.reached = missing >= 0.0 && missing <= -reached_db;
                const double fallen = decibels(gain / channel.first_gain);
                const bool compressing =
                    before > 0.0 && (raised < -0.5 - channel.unsure(sigma_before) ||
                                     fallen < -1.0 - channel.unsure(channel.first_sigma));
                if (channel.reached || ((compressing || channel.at_the_end) && missing > 0.0)) {
                    channel.ended = true;
                } else if (missing < 0.0) {
                    channel.ended = false;
                    channel.drive = aimed_output(request.target[c]) / gain;
                } else {
                    channel.ended = false;
                    channel.drive = next_output(output, request.target[c]) / gain;
                }
            } else if (!channel.seen) {
                double most = most_blind_drive;
                if (other.seen) {
                    most = std::min(most, request.target[c] / other.gain);
                }
                if (channel.drive >= most * 0.999) {
                    channel.ended = true;
                } else {
                    channel.drive = std::min(channel.drive * ratio(search_step_db), most);
                }
            } else {
                channel.ended =
                    true;  // it was there and is gone: the record that follows will show it
            }
            all_ended = all_ended && channel.ended;
        }
        if (all_ended || (together && (channels[0].reached || channels[1].reached))) {
            break;
        }
    }
    for (std::size_t c = 0; c < 2; ++c) {
        const Approach& channel = channels[c];
        // Where one channel's target ends the search for both, the other has a next step that
        // nobody took.
        result.drive[c] = last_played[c];
        result.output[c] = channel.output;
        result.seen[c] = channel.seen;
        result.reached[c] = channel.reached;
        if (request.target[c] <= 0.0) {
            continue;
        }
        if (!channel.seen) {
            result.findings.push_back(
                fmt::format("{}: no output seen at {:.3g} Hz with a drive of {:.3g} mV: look at "
                            "the input lead, "
                            "the source selector, the sense lead",
                            side_of(c), request.frequency.in<Hertz>(), 1e3 * channel.drive));
        } else if (!channel.reached && channel.at_the_end) {
            result.short_of_level[c] = short_of(channel.drive, channel.output, request.target[c]);
            result.findings.push_back(fmt::format("{} at {:.3g} Hz: {}", side_of(c),
                                                  request.frequency.in<Hertz>(),
                                                  result.short_of_level[c]));
        } else if (!channel.reached && !(together && channels[1 - c].reached)) {
            result.findings.push_back(fmt::format(
                "{}: {:.3g} V is all it gives of the {:.3g} V asked for at {:.3g} Hz", side_of(c),
                channel.output, request.target[c], request.frequency.in<Hertz>()));
        }
        const double change = channel.seen ? decibels(channel.gain / channel.first_gain) : 0.0;
        if (std::abs(change) > gain_change_worth_saying_db) {
            result.findings.push_back(
                fmt::format("{}: gain changes by {:+.1f} dB with level at {:.3g} Hz", side_of(c),
                            change, request.frequency.in<Hertz>()));
        }
    }
    co_return result;
}

}  // namespace afterload::runner
