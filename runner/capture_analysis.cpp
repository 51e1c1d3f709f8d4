#include "runner/capture_analysis.hpp"

#include "analysis/dominant_tone.hpp"
#include "analysis/measure.hpp"
#include "analysis/soundness.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::runner {
namespace {

constexpr double least_rate = 44100.0;
constexpr Seconds least_tone{0.01};    // twenty periods of 2 kHz; the fit asks for two of any tone
constexpr Seconds least_silence{0.1};  // two periods of 20 Hz
/// A channel this far below the other holds its leak and not a tone of its own.
constexpr double leak_ratio = 0.1;

struct Channel {
    Waveform waveform;
    std::optional<analysis::ToneFit> fit;
    std::string failure;
    Hertz frequency;
};

class CaptureWork {
public:
    CaptureWork(const CaptureSettings& settings, CaptureAnalysis& result)
        : settings_{settings}, result_{result} {
        share_.load = settings.load;
        share_.load_source = "stated load";
        if (settings.load) {
            conditions_.load = settings.load;
        }
    }

    void tones(std::vector<Channel>& channels) {
        for (Channel& channel : channels) {
            fit(channel);
        }
        for (std::size_t c = 0; c < channels.size(); ++c) {
            CaptureChannel& out = result_.channels.emplace_back();
            out.channel = static_cast<int>(c) + 1;
            tone_figures(channels[c], out);
        }
        for (std::size_t c = 0; c + 1 < channels.size(); c += 2) {
            pair(channels, static_cast<int>(c) + 1, static_cast<int>(c) + 2);
        }
    }

    void silence(std::vector<Channel>& channels) {
        for (std::size_t c = 0; c < channels.size(); ++c) {
            CaptureChannel& out = result_.channels.emplace_back();
            out.channel = static_cast<int>(c) + 1;
            analysis::NoiseSettings noise{band(channels[c].waveform.rate), Weighting::unweighted};
            out.figures.push_back(
                analysis::noise(channels[c].waveform, out.channel, noise, share_, conditions_));
            noise.weighting = Weighting::a;
            out.figures.push_back(
                analysis::noise(channels[c].waveform, out.channel, noise, share_, conditions_));
            if (settings_.mains) {
                out.figures.push_back(analysis::hum_voltage(channels[c].waveform, out.channel,
                                                            *settings_.mains, share_, conditions_));
            }
        }
    }

private:
    [[nodiscard]] Band band(SampleRate rate) const {
        const Band asked = settings_.bandwidth.value_or(analysis::audio_band());
        return {asked.low, std::min(asked.high, analysis::default_upper_edge(rate))};
    }

    void fit(Channel& channel) const {
        // A frequency that was stated is a place to look, not a promise: 997 Hz is called 1 kHz.
        const Band where = settings_.frequency
                               ? Band{0.97 * *settings_.frequency, 1.03 * *settings_.frequency}
                               : Band{Hertz{5.0}, channel.waveform.rate.nyquist()};
        const auto found = analysis::dominant_tone(channel.waveform, where);
        if (found) {
            channel.frequency = *found;
        } else if (settings_.frequency) {
            channel.frequency = *settings_.frequency;
        } else {
            channel.failure = found.error().what;
            return;
        }
        analysis::ToneFitSettings fit_settings;
        fit_settings.nominal = channel.frequency;
        fit_settings.mains = settings_.mains;
        fit_settings.highest_harmonic = settings_.highest_order;
        auto fit = analysis::fit_tone(channel.waveform, fit_settings);
        if (fit) {
            channel.fit = *std::move(fit);
        } else {
            channel.failure = fit.error().what;
        }
    }

    void tone_figures(const Channel& channel, CaptureChannel& out) const {
        if (!channel.fit) {
            Figure none;
            none.kind = FigureKind::output_voltage;
            none.channel = out.channel;
            none.unresolved = channel.failure;
            out.figures.push_back(std::move(none));
            return;
        }
        const analysis::ToneRecord tone{channel.waveform.view(), *channel.fit, out.channel, share_,
                                        conditions_};
        const Hertz edge = analysis::default_upper_edge(channel.waveform.rate);
        const analysis::HarmonicBand harmonics{
            settings_.highest_order,
            settings_.bandwidth ? std::min(settings_.bandwidth->high, edge) : edge};
        const analysis::NoiseSettings noise{band(channel.waveform.rate), Weighting::unweighted};
        out.figures.push_back(analysis::output_voltage(tone));
        if (settings_.load) {
            out.figures.push_back(analysis::output_power(tone));
        }
        out.figures.push_back(analysis::frequency(tone));
        out.figures.push_back(analysis::thd(tone, harmonics));
        out.figures.push_back(analysis::harmonics(tone, harmonics));
        out.figures.push_back(analysis::thd_plus_noise(tone, noise));
        out.figures.push_back(analysis::sinad(tone, noise));
    }

    void pair(const std::vector<Channel>& channels, int first, int second) const {
        const Channel& a = channels[static_cast<std::size_t>(first) - 1];
        const Channel& b = channels[static_cast<std::size_t>(second) - 1];
        if (!a.fit && !b.fit) {
            return;
        }
        const auto level = [](const Channel& channel) {
            return channel.fit ? channel.fit->fundamental.amplitude : 0.0;
        };
        CapturePair out{first, second, {}};
        const bool leak_in_b = level(b) < leak_ratio * level(a);
        const bool leak_in_a = level(a) < leak_ratio * level(b);
        if (leak_in_a || leak_in_b) {
            const Channel& driven = leak_in_b ? a : b;
            const Channel& quiet = leak_in_b ? b : a;
            const int from = leak_in_b ? first : second;
            const int to = leak_in_b ? second : first;
            out.from = from;
            out.to = to;
            const analysis::ToneRecord tone{driven.waveform.view(), *driven.fit, from, share_,
                                            conditions_};
            out.figures.push_back(
                analysis::channel_separation(tone, quiet.waveform, to, share_, settings_.mains));
        } else {
            const analysis::ToneRecord left{a.waveform.view(), *a.fit, first, share_, conditions_};
            const analysis::ToneRecord right{b.waveform.view(), *b.fit, second, share_,
                                             conditions_};
            out.figures.push_back(analysis::channel_balance(left, right));
        }
        result_.pairs.push_back(std::move(out));
    }

    const CaptureSettings& settings_;
    CaptureAnalysis& result_;
    analysis::BenchShare share_;
    Conditions conditions_;
};

std::vector<CaptureFault> faults_of_capture(const std::vector<Channel>& channels,
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
    for (const Channel& channel : channels) {
        loudest = std::max(loudest, channel.fit ? channel.fit->fundamental.amplitude : 0.0);
    }
    std::vector<WaveformView> with_tone;
    std::vector<int> which;
    analysis::Expectation expected;
    expected.mains = settings.mains;
    expected.least = settings.signal == CaptureSettings::Signal::tone ? least_tone : least_silence;
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const Channel& channel = channels[c];
        expected.full_scale = settings.full_scale[settings.full_scale.size() == 1 ? 0 : c];
        const bool own_tone =
            channel.fit && channel.fit->fundamental.amplitude > leak_ratio * loudest;
        const bool asked = settings.signal == CaptureSettings::Signal::tone;
        if (asked && own_tone) {
            with_tone.push_back(channel.waveform);
            which.push_back(static_cast<int>(c) + 1);
            expected.tone = channel.frequency;
            continue;
        }
        analysis::Expectation quiet = expected;
        quiet.tone = asked && loudest == 0.0
                         ? std::optional{settings.frequency.value_or(Hertz{1000.0})}
                         : std::nullopt;
        for (CaptureFault fault : analysis::faults_of(channel.waveform, quiet)) {
            fault.channel = static_cast<int>(c) + 1;
            faults.push_back(std::move(fault));
        }
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
    std::vector<Channel> channels(count);
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
        CaptureWork work{settings, result};
        if (settings.signal == CaptureSettings::Signal::tone) {
            work.tones(channels);
        } else {
            work.silence(channels);
        }
    }
    result.faults = faults_of_capture(channels, recording, settings);
    return result;
}

}  // namespace afterload::runner
