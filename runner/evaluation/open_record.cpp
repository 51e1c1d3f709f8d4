#include "runner/evaluation/open_record.hpp"

#include "analysis/projection.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/measured_conditions.hpp"

namespace afterload::runner {

OpenRecord open_record(const MeasuredRecord& measured, const StepPath& path,
                       const EvaluationContext& context) {
    OpenRecord opened;
    opened.measured = &measured;
    const DrivenAs& driven = measured.stored.driven;
    opened.conditions = measured_conditions(path, driven, context.bench);
    const auto* range = find_range(context.bench, driven.range);
    for (std::size_t c = 0; c < 2; ++c) {
        ChannelOfRecord& channel = opened.channels[c];
        channel.waveform = calibrated(measured.record, c);
        channel.drive = c == 0 ? driven.drive_left_volts : driven.drive_right_volts;
        if (range != nullptr) {
            channel.bench = bench_share(context.bench, *range, static_cast<int>(c) + 1);
            if (!path.output.starts_with("speaker")) {
                channel.bench.load.reset();
            }
        }
        if (driven.silent()) {
            channel.quiet = std::make_shared<const analysis::QuietRecord>(channel.waveform,
                                                                          context.mains_nominal);
        }
        if (driven.signal != sequences::Signal::tone || channel.drive <= 0.0) {
            continue;
        }
        analysis::ToneFitSettings settings;
        settings.nominal = driven.nominal;
        settings.mains = context.mains_nominal;
        auto fit = analysis::fit_tone(channel.waveform, settings);
        if (fit) {
            channel.fit = *std::move(fit);
        } else {
            channel.failure = fit.error().what;
        }
    }
    return opened;
}

std::optional<analysis::ToneFit> fit_or_buried(const OpenRecord& opened, int channel) {
    const ChannelOfRecord& own = opened.of(channel);
    if (own.fit) {
        return own.fit;
    }
    const ChannelOfRecord& other = opened.of(3 - channel);
    const Hertz frequency = other.fit ? other.fit->fundamental.frequency : opened.driven().nominal;
    auto buried = analysis::fit_at(own.waveform, frequency);
    if (!buried) {
        return std::nullopt;
    }
    return *std::move(buried);
}

}  // namespace afterload::runner
