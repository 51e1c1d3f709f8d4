#include "analysis/measure_sweep.hpp"
#include "analysis/sweep_recognition.hpp"
#include "instruments/recording.hpp"
#include "runner/capture/open_channel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::runner {
namespace {

constexpr Hertz usual_reference{1000.0};

/// What was played on one channel of the capture.
struct Played {
    Waveform waveform;
    analysis::SweepPlan plan;
    bool silent = false;
    std::string not_exponential;  ///< why only a magnitude can be had; empty for a proper sweep
};

Played played(const std::vector<double>& samples, SampleRate rate,
              const std::optional<Band>& bandwidth) {
    Played out;
    out.waveform = {samples, rate};
    out.silent =
        std::all_of(samples.begin(), samples.end(), [](double sample) { return sample == 0.0; });
    const auto plan = analysis::recognised_sweep(out.waveform);
    out.plan = plan ? *plan : analysis::plan_of_any_sound(out.waveform);
    if (!plan) {
        out.not_exponential = plan.error().what;
    }
    if (bandwidth) {
        out.plan.band = {std::max(bandwidth->low, out.plan.band.low),
                         std::min(bandwidth->high, out.plan.band.high)};
    }
    return out;
}

Hertz reference_of(const analysis::SweptResponse& response) {
    const Hertz low = response.linear.front().frequency;
    const Hertz high = response.linear.back().frequency;
    if (low <= usual_reference && usual_reference <= high) {
        return usual_reference;
    }
    return response.linear[response.linear.size() / 2].frequency;
}

Figure none(FigureKind kind, int channel, std::string why) {
    Figure figure;
    figure.kind = kind;
    figure.channel = channel;
    figure.unresolved = std::move(why);
    return figure;
}

void of_channel(const CaptureContext& context, const Played& stimulus, OpenChannel& channel,
                CaptureChannel& out) {
    const auto response =
        analysis::swept_response(channel.waveform, stimulus.waveform, stimulus.plan);
    if (!response) {
        out.figures.push_back(
            none(FigureKind::frequency_response, out.channel, response.error().what));
        channel.faults.push_back(analysis::sweep_fault(response.error()));
        return;
    }
    const Frames frames{static_cast<std::int64_t>(channel.waveform.volts.size())};
    channel.faults =
        analysis::sweep_faults(*response, stimulus.plan, duration(frames, channel.waveform.rate));
    const analysis::SweptRecord swept{*response, out.channel, context.share, context.conditions};
    const Figure curve = analysis::swept_frequency_response(swept, reference_of(*response), 0.0);
    out.figures.push_back(curve);
    for (const bool low : {true, false}) {
        out.figures.push_back(analysis::bandwidth(curve, low, Gain{-3.0}));
    }
    if (!stimulus.not_exponential.empty()) {
        for (const FigureKind kind : {FigureKind::thd, FigureKind::harmonic}) {
            out.figures.push_back(none(kind, out.channel, stimulus.not_exponential));
        }
        return;
    }
    out.figures.push_back(analysis::swept_distortion(swept));
    for (const analysis::SweptOrder& order : response->harmonics) {
        out.figures.push_back(analysis::swept_harmonic(swept, order));
    }
}

/// Which channel of the stimulus belongs to channel `c` of a capture of `count`.
tl::expected<std::size_t, std::string> stimulus_channel(const instruments::Recording& stimulus,
                                                        std::size_t c, std::size_t count,
                                                        const std::string& path) {
    const std::size_t played = stimulus.channels.size();
    if (played == count) {
        return c;
    }
    const bool all_alike =
        std::all_of(stimulus.channels.begin(), stimulus.channels.end(),
                    [&](const auto& channel) { return channel == stimulus.channels.front(); });
    if (all_alike) {
        return 0;
    }
    return tl::unexpected(fmt::format(
        "{}: the stimulus has {} different channels and the capture {}: give a stimulus "
        "of one channel, or of as many",
        path, played, count));
}

void note_once(CaptureAnalysis& result, std::string note) {
    if (std::find(result.notes.begin(), result.notes.end(), note) == result.notes.end()) {
        result.notes.push_back(std::move(note));
    }
}

}  // namespace

tl::expected<void, std::string> sweep_figures(const CaptureContext& context,
                                              std::vector<OpenChannel>& channels,
                                              CaptureAnalysis& result) {
    const std::string& path = context.settings.stimulus;
    const auto stimulus = instruments::read_recording(path);
    if (!stimulus) {
        return tl::unexpected(path + ": " + stimulus.error().what);
    }
    if (!(stimulus->rate == result.rate)) {
        return tl::unexpected(fmt::format(
            "{}: recorded at {:g} Hz, but the stimulus {} has {:g} Hz: record at the rate of the "
            "stimulus, or play one of the capture's rate",
            result.file, result.rate.frequency().in<Hertz>(), path,
            stimulus->rate.frequency().in<Hertz>()));
    }
    std::vector<std::optional<Played>> sounds(stimulus->channels.size());
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const auto which = stimulus_channel(*stimulus, c, channels.size(), path);
        if (!which) {
            return tl::unexpected(which.error());
        }
        std::optional<Played>& sound = sounds[*which];
        if (!sound) {
            sound = played(stimulus->channels[*which], stimulus->rate, context.settings.bandwidth);
        }
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        if (sound->silent) {
            out.figures.push_back(none(FigureKind::frequency_response, out.channel,
                                       "the stimulus is silent on this channel: play it there"));
            continue;
        }
        if (!sound->not_exponential.empty()) {
            note_once(result, sound->not_exponential +
                                  "; the stimulus file was divided out as it is, which gives the "
                                  "magnitude alone");
        } else if (sound->plan.pilots.empty()) {
            note_once(result,
                      "no steady tone stands before or after the sweep: the clocks cannot be told "
                      "apart, and there is no phase");
        }
        channels[c].least = sound->plan.end - sound->plan.begin;
        of_channel(context, *sound, channels[c], out);
    }
    return {};
}

}  // namespace afterload::runner
