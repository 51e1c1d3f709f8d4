#include "runner/capture/open_channel.hpp"

namespace afterload::runner {

void silence_figures(const CaptureContext& context, const std::vector<OpenChannel>& channels,
                     CaptureAnalysis& result) {
    for (std::size_t c = 0; c < channels.size(); ++c) {
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        analysis::NoiseSettings noise{context.band(channels[c].waveform.rate),
                                      Weighting::unweighted};
        out.figures.push_back(analysis::noise(channels[c].waveform, out.channel, noise,
                                              context.share, context.conditions));
        noise.weighting = Weighting::a;
        out.figures.push_back(analysis::noise(channels[c].waveform, out.channel, noise,
                                              context.share, context.conditions));
        if (context.settings.mains) {
            out.figures.push_back(analysis::hum_voltage(channels[c].waveform, out.channel,
                                                        *context.settings.mains, context.share,
                                                        context.conditions));
        }
    }
}

}  // namespace afterload::runner
