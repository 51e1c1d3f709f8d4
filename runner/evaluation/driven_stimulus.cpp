#include "runner/evaluation/driven_stimulus.hpp"

#include "analysis/level.hpp"
#include "analysis/two_tone.hpp"

#include <algorithm>
#include <mutex>
#include <numbers>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

using sequences::Signal;

constexpr Radians sine_start{-std::numbers::pi / 2};
/// A card needs that long from being told to play until it does, and to be heard.
constexpr Seconds latency{0.5};
constexpr Seconds rise_fade{0.01};

std::array<VoltsPeak, 2> peaks(const DrivenAs& driven) {
    return {peak_of_sine(VoltsRms{driven.drive_left_volts}),
            peak_of_sine(VoltsRms{driven.drive_right_volts})};
}

using Designed = tl::expected<analysis::Multitone, std::string>;

/// A design takes a good part of a second and the same one is asked for when it is played, when its
/// record is looked at, and when its figures are taken: the last few are kept.
Designed designed(const analysis::MultitoneSettings& settings) {
    constexpr std::size_t most_kept = 8;
    static std::mutex lock;
    static std::vector<std::pair<analysis::MultitoneSettings, Designed>> kept;
    const std::lock_guard guard{lock};
    const auto known = std::find_if(kept.begin(), kept.end(),
                                    [&](const auto& entry) { return entry.first == settings; });
    if (known != kept.end()) {
        return known->second;
    }
    auto made = analysis::design_multitone(settings);
    if (kept.size() == most_kept) {
        kept.erase(kept.begin());
    }
    kept.emplace_back(
        settings, made ? Designed{*std::move(made)} : Designed{tl::unexpected(made.error().what)});
    return kept.back().second;
}

}  // namespace

analysis::SweepPlan sweep_plan(const DrivenAs& driven) {
    return analysis::shipped_sweep_plan(driven.band->low, driven.band->high, driven.period);
}

tl::expected<analysis::Multitone, std::string> multitone_of(const DrivenAs& driven, SampleRate rate,
                                                            std::optional<Hertz> mains) {
    analysis::MultitoneSettings settings;
    settings.rate = rate;
    settings.period = driven.period;
    settings.band = driven.band;
    if (mains) {
        settings.mains = *mains;
    }
    return designed(settings);
}

tl::expected<analysis::MultitoneSource, std::string> multitone_source_of(
    const DrivenAs& driven, SampleRate rate, std::optional<Hertz> mains) {
    const auto designed = multitone_of(driven, rate, mains);
    if (!designed) {
        return tl::unexpected(designed.error());
    }
    const auto peak = peaks(driven);
    return analysis::described(analysis::at_peak(*designed, peak[0], peak[1]), designed->period);
}

Waveform sweep_played(const DrivenAs& driven, std::size_t channel, SampleRate rate) {
    Waveform waveform;
    waveform.rate = rate;
    waveform.volts.resize(
        static_cast<std::size_t>(frames_in(sweep_plan(driven).length, rate).count()));
    const DrivenStimulus made = driven_stimulus(driven, rate, std::nullopt);
    add_samples(made.stimulus, channel, rate, 0.0, Frames{0}, waveform.volts);
    return waveform;
}

DrivenStimulus driven_stimulus(const DrivenAs& driven, SampleRate rate,
                               std::optional<Hertz> mains) {
    DrivenStimulus made;
    const auto peak = peaks(driven);
    for (std::size_t c = 0; c < 2; ++c) {
        if (peak[c] <= VoltsPeak{0.0}) {
            continue;
        }
        switch (driven.signal) {
            case Signal::silence:
                break;
            case Signal::tone:
                made.stimulus.channels[c] = {{driven.nominal, peak[c], sine_start}};
                break;
            case Signal::two_tones:
                made.stimulus.channels[c] =
                    analysis::two_tones({driven.tones[0], driven.tones[1], driven.tone_ratio},
                                        rms_of_sine(peak[c]), c == 0, c == 1)
                        .channels[c];
                break;
            case Signal::rising_tone:
                made.stimulus.bursts[c] = {{{driven.nominal, peak[c], sine_start},
                                            Seconds{0.0},
                                            driven.period,
                                            rise_fade,
                                            rise_of_tone}};
                made.whole = driven.period + latency;
                break;
            case Signal::sweep: {
                const Stimulus both = analysis::shipped_sweep(
                    driven.band->low, driven.band->high, driven.period, peak[c], c == 0, c == 1);
                made.stimulus.bursts[c] = both.bursts[c];
                made.stimulus.sweeps[c] = both.sweeps[c];
                made.whole = sweep_plan(driven).length + latency;
                break;
            }
            case Signal::multitone:
                break;  // below: one design for both channels
        }
    }
    if (driven.signal == Signal::multitone) {
        if (const auto multitone = multitone_of(driven, rate, mains)) {
            made.stimulus = analysis::at_peak(*multitone, peak[0], peak[1]);
        }
    }
    return made;
}

}  // namespace afterload::runner
