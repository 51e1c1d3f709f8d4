#include "analysis/measure_quiet.hpp"
#include "runner/capture/open_channel.hpp"

namespace afterload::runner {
namespace {

constexpr int density_columns = 20;  // a decade

void of_channel(const CaptureContext& context, const Waveform& waveform, CaptureChannel& out) {
    const analysis::QuietRecord quiet{waveform, context.settings.mains};
    const auto noise = [&](Band band, Weighting weighting, Detector detector) {
        return analysis::noise(quiet, out.channel, {band, weighting, detector}, context.share,
                               context.conditions);
    };
    const Band band = context.band(waveform.rate);
    Figure flat = noise(band, Weighting::unweighted, Detector::rms);
    analysis::add_density(flat, quiet, density_columns);
    out.figures.push_back(std::move(flat));
    if (!(band == analysis::broadcast_band())) {
        out.figures.push_back(
            noise(analysis::broadcast_band(), Weighting::unweighted, Detector::rms));
    }
    out.figures.push_back(noise(band, Weighting::a, Detector::rms));
    out.figures.push_back(noise(band, Weighting::itu_r_468, Detector::rms));
    out.figures.push_back(noise(band, Weighting::itu_r_468, Detector::quasi_peak));
    if (context.settings.mains) {
        out.figures.push_back(
            analysis::hum_voltage(quiet, out.channel, context.share, context.conditions));
    }
    out.figures.push_back(
        analysis::random_steps(quiet, out.channel, context.share, context.conditions));
}

}  // namespace

void silence_figures(const CaptureContext& context, const std::vector<OpenChannel>& channels,
                     CaptureAnalysis& result) {
    for (std::size_t c = 0; c < channels.size(); ++c) {
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        of_channel(context, channels[c].waveform, out);
    }
}

}  // namespace afterload::runner
