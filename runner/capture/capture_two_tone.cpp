#include "analysis/measure_two_tone.hpp"
#include "runner/capture/open_channel.hpp"

namespace afterload::runner {
namespace {

void fit_two_tones(const CaptureSettings& settings, OpenChannel& channel) {
    const auto found = analysis::dominant_pair(channel.waveform);
    if (!found) {
        channel.failure = found.error().what;
        return;
    }
    channel.frequency = found->high;
    channel.beside = found->low;
    analysis::TwoToneSettings fit_settings;
    fit_settings.low = found->low;
    fit_settings.high = found->high;
    fit_settings.mains = settings.mains;
    auto fit_two_tones = analysis::fit_two_tones(channel.waveform, fit_settings);
    if (fit_two_tones) {
        channel.pair = *std::move(fit_two_tones);
    } else {
        channel.failure = fit_two_tones.error().what;
    }
}

Figure figure_of(const CaptureContext& context, const OpenChannel& channel, int number) {
    if (!channel.pair) {
        Figure none;
        none.kind = FigureKind::modulation_distortion;
        none.channel = number;
        none.unresolved = channel.failure;
        return none;
    }
    const analysis::TwoToneRecord tones{*channel.pair, number, context.share, context.conditions};
    return analysis::close_together(channel.pair->low.frequency, channel.pair->high.frequency)
               ? analysis::difference_frequency_distortion(tones)
               : analysis::modulation_distortion(tones);
}

}  // namespace

void two_tone_figures(const CaptureContext& context, std::vector<OpenChannel>& channels,
                      CaptureAnalysis& result) {
    for (std::size_t c = 0; c < channels.size(); ++c) {
        fit_two_tones(context.settings, channels[c]);
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        out.figures.push_back(figure_of(context, channels[c], out.channel));
    }
}

}  // namespace afterload::runner
