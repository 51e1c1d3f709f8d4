#include "analysis/measure_multitone.hpp"
#include "runner/capture/open_channel.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::runner {
namespace {

constexpr Hertz reference{1000.0};
constexpr Hertz high_reference{10000.0};

tl::expected<analysis::MultitoneSource, std::string> source_in(const std::string& file,
                                                               SampleRate rate) {
    const auto recording = instruments::read_recording(file);
    if (!recording) {
        return tl::unexpected(file + ": " + recording.error().what);
    }
    if (recording->rate != rate) {
        return tl::unexpected(fmt::format(
            "{}: the stimulus has {:g} samples a second and the capture {:g}: give the file that "
            "was played, at the rate of the capture",
            file, recording->rate.frequency().in<Hertz>(), rate.frequency().in<Hertz>()));
    }
    std::vector<WaveformView> channels;
    for (const std::vector<double>& samples : recording->channels) {
        channels.push_back({samples, recording->rate});
    }
    auto source = analysis::tones_of(channels);
    if (!source) {
        return tl::unexpected(
            fmt::format("{}: no stimulus of steady tones: {}", file, source.error().what));
    }
    return *std::move(source);
}

void of_channel(const analysis::MultitoneRecord& multitone, const analysis::Alignment& alignment,
                const CaptureContext& context, CaptureChannel& out) {
    const Band band = context.band(multitone.fit.rate);
    out.figures.push_back(
        analysis::multitone_response(multitone, alignment, out.channel, reference));
    out.figures.push_back(analysis::multitone_polarity(multitone, alignment, out.channel));
    out.figures.push_back(analysis::multitone_identity(multitone, alignment, out.channel));
    out.figures.push_back(
        analysis::multitone_distortion_plus_noise(multitone, alignment, out.channel, band));
}

void of_pair(const analysis::MultitoneRecord& multitone, const analysis::Alignment& alignment,
             int first, int second, CaptureAnalysis& result) {
    CapturePair both{first, second, {}};
    both.figures.push_back(
        analysis::multitone_balance(multitone, alignment, first, second, reference));
    both.figures.push_back(analysis::multitone_polarity(multitone, alignment, first, second));
    for (const Hertz at : {reference, high_reference}) {
        both.figures.push_back(
            analysis::multitone_separation(multitone, alignment, first, second, at));
    }
    CapturePair back{second, first, {}};
    for (const Hertz at : {reference, high_reference}) {
        back.figures.push_back(
            analysis::multitone_separation(multitone, alignment, second, first, at));
    }
    result.pairs.push_back(std::move(both));
    result.pairs.push_back(std::move(back));
}

// The tones each channel carries, for its timeline to be looked at.
void note_tones(const analysis::MultitoneSource& source, const analysis::Alignment& alignment,
                std::vector<OpenChannel>& channels) {
    for (std::size_t c = 0; c < channels.size(); ++c) {
        if (const int input = alignment.outputs[c].input; input > 0) {
            for (const auto& tone : source.channels[static_cast<std::size_t>(input) - 1]) {
                channels[c].tones.push_back(tone.frequency);
            }
        }
    }
}

}  // namespace

tl::expected<void, std::string> multitone_figures(const CaptureContext& context,
                                                  std::vector<OpenChannel>& channels,
                                                  CaptureAnalysis& result) {
    const auto source = source_in(context.settings.stimulus, result.rate);
    if (!source) {
        return tl::unexpected(source.error());
    }
    std::vector<WaveformView> record;
    for (const OpenChannel& channel : channels) {
        record.push_back(channel.waveform);
        result.channels.emplace_back().channel = static_cast<int>(record.size());
    }
    const auto fit = analysis::fit_multitone(
        record, analysis::frequencies_of(*source, duration(result.frames, result.rate)),
        {context.settings.mains, 0.1, source->repeat});
    if (!fit) {
        for (CaptureChannel& out : result.channels) {
            Figure none;
            none.kind = FigureKind::frequency_response;
            none.channel = out.channel;
            none.conditions = context.conditions;
            none.unresolved = fit.error().what;
            out.figures.push_back(std::move(none));
        }
        return {};
    }
    const analysis::MultitoneRecord multitone{
        record, *fit, *source, std::vector<analysis::BenchShare>(record.size(), context.share),
        context.conditions};
    const analysis::Alignment alignment = analysis::aligned(multitone);
    note_tones(*source, alignment, channels);
    for (CaptureChannel& out : result.channels) {
        of_channel(multitone, alignment, context, out);
    }
    for (int c = 1; c + 1 <= static_cast<int>(record.size()); c += 2) {
        of_pair(multitone, alignment, c, c + 1, result);
    }
    return {};
}

}  // namespace afterload::runner
