#include "analysis/dominant_tone.hpp"
#include "runner/capture/open_channel.hpp"

#include <algorithm>
#include <utility>

namespace afterload::runner {
namespace {

void fit(const CaptureSettings& settings, OpenChannel& channel) {
    // A frequency that was stated is a place to look, not a promise: 997 Hz is called 1 kHz.
    const Band where = settings.frequency
                           ? Band{0.97 * *settings.frequency, 1.03 * *settings.frequency}
                           : Band{Hertz{5.0}, channel.waveform.rate.nyquist()};
    const auto found = analysis::dominant_tone(channel.waveform, where);
    if (found) {
        channel.frequency = *found;
    } else if (settings.frequency) {
        channel.frequency = *settings.frequency;
    } else {
        channel.failure = found.error().what;
        return;
    }
    analysis::ToneFitSettings fit_settings;
    fit_settings.nominal = channel.frequency;
    fit_settings.mains = settings.mains;
    fit_settings.highest_harmonic = settings.highest_order;
    auto fit = analysis::fit_tone(channel.waveform, fit_settings);
    if (fit) {
        channel.fit = *std::move(fit);
    } else {
        channel.failure = fit.error().what;
    }
}

void of_channel(const CaptureContext& context, const OpenChannel& channel, CaptureChannel& out) {
    if (!channel.fit) {
        Figure none;
        none.kind = FigureKind::output_voltage;
        none.channel = out.channel;
        none.unresolved = channel.failure;
        out.figures.push_back(std::move(none));
        return;
    }
    const analysis::ToneRecord tone{channel.waveform.view(), *channel.fit, out.channel,
                                    context.share, context.conditions};
    const Hertz edge = analysis::default_upper_edge(channel.waveform.rate);
    const analysis::HarmonicBand harmonics{
        context.settings.highest_order,
        context.settings.bandwidth ? std::min(context.settings.bandwidth->high, edge) : edge};
    const analysis::NoiseSettings noise{context.band(channel.waveform.rate), Weighting::unweighted};
    out.figures.push_back(analysis::output_voltage(tone));
    if (context.settings.load) {
        out.figures.push_back(analysis::output_power(tone));
    }
    out.figures.push_back(analysis::frequency(tone));
    out.figures.push_back(analysis::thd(tone, harmonics));
    out.figures.push_back(analysis::harmonics(tone, harmonics));
    for (Figure& figure : analysis::thd_plus_noise_and_sinad(tone, noise)) {
        out.figures.push_back(std::move(figure));
    }
}

void of_pair(const CaptureContext& context, const std::vector<OpenChannel>& channels, int first,
             int second, CaptureAnalysis& result) {
    const OpenChannel& a = channels[static_cast<std::size_t>(first) - 1];
    const OpenChannel& b = channels[static_cast<std::size_t>(second) - 1];
    if (!a.fit && !b.fit) {
        return;
    }
    const auto level = [](const OpenChannel& channel) {
        return channel.fit ? channel.fit->fundamental.amplitude : 0.0;
    };
    CapturePair out{first, second, {}};
    const bool leak_in_b = level(b) < leak_ratio * level(a);
    const bool leak_in_a = level(a) < leak_ratio * level(b);
    if (leak_in_a || leak_in_b) {
        const OpenChannel& driven = leak_in_b ? a : b;
        const OpenChannel& quiet = leak_in_b ? b : a;
        const int from = leak_in_b ? first : second;
        const int to = leak_in_b ? second : first;
        out.from = from;
        out.to = to;
        const analysis::ToneRecord tone{driven.waveform.view(), *driven.fit, from, context.share,
                                        context.conditions};
        out.figures.push_back(analysis::channel_separation(tone, quiet.waveform, to, context.share,
                                                           context.settings.mains));
    } else {
        const analysis::ToneRecord left{a.waveform.view(), *a.fit, first, context.share,
                                        context.conditions};
        const analysis::ToneRecord right{b.waveform.view(), *b.fit, second, context.share,
                                         context.conditions};
        out.figures.push_back(analysis::channel_balance(left, right));
    }
    result.pairs.push_back(std::move(out));
}

}  // namespace

void tone_figures(const CaptureContext& context, std::vector<OpenChannel>& channels,
                  CaptureAnalysis& result) {
    for (OpenChannel& channel : channels) {
        fit(context.settings, channel);
    }
    for (std::size_t c = 0; c < channels.size(); ++c) {
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        of_channel(context, channels[c], out);
    }
    for (std::size_t c = 0; c + 1 < channels.size(); c += 2) {
        of_pair(context, channels, static_cast<int>(c) + 1, static_cast<int>(c) + 2, result);
    }
}

}  // namespace afterload::runner
