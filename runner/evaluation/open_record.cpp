#include "runner/evaluation/open_record.hpp"

#include "analysis/projection.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/measured_conditions.hpp"

namespace afterload::runner {

namespace {

using sequences::Signal;

/// Takes over what a fit found, or why there is none.
template <class T>
void keep(analysis::Expected<T> found, std::optional<T>& into, std::string& failure) {
    if (found) {
        into = *std::move(found);
    } else {
        failure = found.error().what;
    }
}

void fit_channel(ChannelOfRecord& channel, std::size_t index, const DrivenAs& driven,
                 std::optional<Hertz> mains) {
    switch (driven.signal) {
        case Signal::silence:
            channel.quiet = std::make_shared<const analysis::QuietRecord>(channel.waveform, mains);
            break;
        case Signal::tone: {
            analysis::ToneFitSettings settings;
            settings.nominal = driven.nominal;
            settings.mains = mains;
            keep(analysis::fit_tone(channel.waveform, settings), channel.fit, channel.failure);
            break;
        }
        case Signal::two_tones:
            if (driven.tones.size() == 2) {
                const analysis::TwoToneSettings settings{driven.tones[0], driven.tones[1], mains};
                keep(analysis::fit_two_tones(channel.waveform, settings), channel.pair,
                     channel.failure);
            }
            break;
        case Signal::sweep:
            keep(analysis::swept_response(channel.waveform,
                                          sweep_played(driven, index, channel.waveform.rate),
                                          sweep_plan(driven)),
                 channel.swept, channel.failure);
            break;
        case Signal::rising_tone:
        case Signal::multitone:
            break;
    }
}

std::shared_ptr<const MultitoneOfRecord> fit_multitone(const OpenRecord& opened,
                                                       std::optional<Hertz> mains) {
    auto found = std::make_shared<MultitoneOfRecord>();
    const DrivenAs& driven = opened.driven();
    const Waveform& left = opened.of(1).waveform;
    auto source = multitone_source_of(driven, left.rate, mains);
    if (!source) {
        found->failure = std::move(source).error();
        return found;
    }
    found->source = *std::move(source);
    found->views = {left, opened.of(2).waveform};
    const Seconds length =
        duration(Frames{static_cast<std::int64_t>(left.volts.size())}, left.rate);
    keep(analysis::fit_multitone(found->views, analysis::frequencies_of(found->source, length),
                                 {mains, 0.1, found->source.repeat}),
         found->fit, found->failure);
    if (found->fit) {
        found->alignment = analysis::aligned({found->views,
                                              *found->fit,
                                              found->source,
                                              {opened.of(1).bench, opened.of(2).bench},
                                              {}});
    }
    return found;
}

}  // namespace

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
            channel.bench = bench_share(context.bench, source_that_played(context.bench, driven),
                                        *range, static_cast<int>(c) + 1, driven.load);
            if (!path.output.starts_with("speaker")) {
                channel.bench.load.reset();
            }
        }
        if (driven.silent() || channel.drive > 0.0) {
            fit_channel(channel, c, driven, context.mains_nominal);
        }
    }
    if (driven.signal == Signal::multitone) {
        opened.multitone = fit_multitone(opened, context.mains_nominal);
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
