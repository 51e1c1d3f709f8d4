#include "runner/capture/capture_analysis.hpp"

#include "analysis/multitone_timeline.hpp"
#include "analysis/soundness.hpp"
#include "runner/capture/open_channel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::runner {
namespace {

constexpr double least_rate = 44100.0;
constexpr Seconds least_tone{0.01};    // twenty periods of 2 kHz; the fit asks for two of any tone
constexpr Seconds least_silence{0.1};  // two periods of 20 Hz

void add_multitone_faults(const std::vector<OpenChannel>& channels,
                          std::vector<CaptureFault>& faults) {
    std::vector<WaveformView> views;
    std::vector<std::vector<Hertz>> tones;
    for (const OpenChannel& channel : channels) {
        views.push_back(channel.waveform);
        tones.push_back(channel.tones);
    }
    const bool said = std::any_of(faults.begin(), faults.end(), [](const CaptureFault& fault) {
        return fault.kind == CaptureFaultKind::silent ||
               fault.kind == CaptureFaultKind::not_finite ||
               fault.kind == CaptureFaultKind::too_short;
    });
    for (CaptureFault& fault : analysis::multitone_faults_of_all(views, tones)) {
        if (fault.kind != CaptureFaultKind::silent || !said) {
            faults.push_back(std::move(fault));
        }
    }
}

std::vector<CaptureFault> faults_of_capture(const std::vector<OpenChannel>& channels,
                                            const instruments::Recording& recording,
                                            const CaptureSettings& settings) {
    std::vector<CaptureFault> faults;
    if (recording.truncated) {
        faults.push_back(
            {CaptureFaultKind::too_short, 0,
             duration(Frames{static_cast<std::int64_t>(recording.channels.front().size())},
                      recording.rate),
             "the file ends before its header says: the recording was cut off"});
    }
    if (recording.rate.frequency().in<Hertz>() < least_rate) {
        faults.push_back(
            {CaptureFaultKind::wrong_rate, 0, Seconds{0.0},
             fmt::format("{:g} Hz cannot hold the audio band: record at 44.1 kHz or more",
                         recording.rate.frequency().in<Hertz>())});
    }
    // Channels without a tone of their own hold a leak: their phase says nothing of the timeline.
    double loudest = 0.0;
    for (const OpenChannel& channel : channels) {
        loudest = std::max(loudest, channel.tone_amplitude());
    }
    std::vector<WaveformView> with_tone;
    std::vector<int> which;
    analysis::Expectation expected;
    expected.mains = settings.mains;
    const bool asked = settings.signal == CaptureSettings::Signal::tone ||
                       settings.signal == CaptureSettings::Signal::two_tone;
    expected.least = asked ? least_tone : least_silence;
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const OpenChannel& channel = channels[c];
        expected.full_scale = settings.full_scale[settings.full_scale.size() == 1 ? 0 : c];
        const bool own_tone = channel.tone_amplitude() > leak_ratio * loudest;
        if (asked && own_tone) {
            with_tone.push_back(channel.waveform);
            which.push_back(static_cast<int>(c) + 1);
            expected.tone = channel.frequency;
            expected.beside = channel.beside;
            continue;
        }
        analysis::Expectation quiet = expected;
        quiet.least = std::max(quiet.least, channel.least);
        quiet.silence = settings.signal == CaptureSettings::Signal::silence;
        quiet.tone = std::nullopt;
        quiet.beside = std::nullopt;
        if (asked && loudest == 0.0) {
            quiet.tone =
                channel.beside ? channel.frequency : settings.frequency.value_or(Hertz{1000.0});
            quiet.beside = channel.beside;
        }
        for (CaptureFault fault : analysis::faults_of(channel.waveform, quiet)) {
            fault.channel = static_cast<int>(c) + 1;
            faults.push_back(std::move(fault));
        }
        for (CaptureFault fault : channel.faults) {
            fault.channel = static_cast<int>(c) + 1;
            const bool seen = std::any_of(faults.begin(), faults.end(), [&](const auto& other) {
                return other.kind == fault.kind && other.channel == fault.channel;
            });
            if (!seen) {
                faults.push_back(std::move(fault));
            }
        }
    }
    if (settings.signal == CaptureSettings::Signal::multitone) {
        add_multitone_faults(channels, faults);
    }
    if (!with_tone.empty()) {
        for (CaptureFault fault : analysis::faults_of_all(with_tone, expected)) {
            if (fault.channel > 0) {
                fault.channel = which[static_cast<std::size_t>(fault.channel) - 1];
            }
            faults.push_back(std::move(fault));
        }
    }
    std::stable_sort(faults.begin(), faults.end(),
                     [](const auto& a, const auto& b) { return a.start < b.start; });
    return faults;
}

}  // namespace

Band CaptureContext::band(SampleRate rate) const {
    const Band asked = settings.bandwidth.value_or(analysis::audio_band());
    return {asked.low, std::min(asked.high, analysis::default_upper_edge(rate))};
}

tl::expected<CaptureAnalysis, std::string> analyze_capture(const std::string& file,
                                                           const instruments::Recording& recording,
                                                           const CaptureSettings& settings) {
    const std::size_t count = recording.channels.size();
    if (settings.full_scale.size() != 1 && settings.full_scale.size() != count) {
        return tl::unexpected(fmt::format(
            "{}: has {} channel{}, --full-scale lists {} voltages: give one, or one a channel",
            file, count, count == 1 ? "" : "s", settings.full_scale.size()));
    }
    CaptureAnalysis result;
    result.file = file;
    result.rate = recording.rate;
    result.frames = Frames{static_cast<std::int64_t>(recording.channels.front().size())};
    std::vector<OpenChannel> channels(count);
    bool finite = true;
    for (std::size_t c = 0; c < count; ++c) {
        const double volts =
            settings.full_scale[settings.full_scale.size() == 1 ? 0 : c].in<VoltsPeak>();
        channels[c].waveform.rate = recording.rate;
        channels[c].waveform.volts.reserve(recording.channels[c].size());
        for (const double sample : recording.channels[c]) {
            finite = finite && std::isfinite(sample);
            channels[c].waveform.volts.push_back(volts * sample);
        }
    }
    // No figure of a record with NaN in it means anything.
    if (finite) {
        CaptureContext context{settings, {}, {}};
        context.share.load = settings.load;
        context.share.load_source = "stated load";
        context.conditions.load = settings.load;
        switch (settings.signal) {
            case CaptureSettings::Signal::tone:
                tone_figures(context, channels, result);
                break;
            case CaptureSettings::Signal::two_tone:
                two_tone_figures(context, channels, result);
                break;
            case CaptureSettings::Signal::silence:
                silence_figures(context, channels, result);
                break;
            case CaptureSettings::Signal::sweep:
                if (auto done = sweep_figures(context, channels, result); !done) {
                    return tl::unexpected(done.error());
                }
                break;
            case CaptureSettings::Signal::multitone:
                if (auto done = multitone_figures(context, channels, result); !done) {
                    return tl::unexpected(std::move(done).error());
                }
                break;
            default:
                return tl::unexpected(file + ": this signal is not measured by this version");
        }
    }
    result.faults = faults_of_capture(channels, recording, settings);
    return result;
}

}  // namespace afterload::runner
