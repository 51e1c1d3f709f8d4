#include "runner/capture/capture_watch.hpp"

#include "analysis/level.hpp"
#include "analysis/tone_figure.hpp"
#include "analysis/watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

namespace afterload::runner {
namespace {

using analysis::ChannelFigures;
using analysis::decibels_a_neper;
using analysis::record_noise;
using analysis::WatchEvent;

constexpr std::size_t block_frames = 8192;
constexpr double least_watched_rate = 44100.0;

/// Feeds all of the file to `watch`.
std::size_t feed(instruments::RecordingReader& reader, const std::vector<double>& full_scale,
                 analysis::Watch& watch) {
    std::vector<std::vector<double>> volts(reader.channels(), std::vector<double>(block_frames));
    const std::vector<std::span<double>> into(volts.begin(), volts.end());
    std::vector<std::span<const double>> block(volts.size());
    std::size_t frames = 0;
    std::size_t got = block_frames;
    while (got == block_frames) {
        got = reader.read(into, full_scale);
        for (std::size_t c = 0; c < volts.size(); ++c) {
            block[c] = std::span{volts[c]}.first(got);
        }
        watch.feed(block);
        frames += got;
    }
    watch.finish();
    return frames;
}

Figure figure_of(FigureKind kind, int channel, double value, double sigma,
                 const Conditions& conditions) {
    Figure figure;
    figure.kind = kind;
    figure.channel = channel;
    figure.value = value;
    figure.budget = {{record_noise, BudgetLine::Kind::noise, sigma}};
    figure.conditions = conditions;
    return figure;
}

void tone_figures(const ChannelFigures& seen, const CaptureSettings& settings,
                  Conditions conditions, CaptureChannel& out) {
    const double rms = seen.amplitude / std::numbers::sqrt2;
    const double rms_sigma = seen.amplitude_sigma / std::numbers::sqrt2;
    conditions.frequency = Hertz{seen.frequency};
    Figure level = figure_of(FigureKind::output_voltage, out.channel, rms, rms_sigma, conditions);
    level.details = {
        {"lowest_db", gain_of(AmplitudeRatio{seen.lowest / seen.amplitude}).decibels()},
        {"highest_db", gain_of(AmplitudeRatio{seen.highest / seen.amplitude}).decibels()},
        {"drift_db", gain_of(AmplitudeRatio{seen.last / seen.first}).decibels()}};
    out.figures.push_back(std::move(level));
    if (settings.load) {
        const double ohms = settings.load->in<Ohms>();
        out.figures.push_back(figure_of(FigureKind::output_power, out.channel, rms * rms / ohms,
                                        2.0 * rms * rms_sigma / ohms, conditions));
    }
    out.figures.push_back(figure_of(FigureKind::frequency, out.channel, seen.frequency,
                                    seen.frequency_sigma, conditions));
    if (seen.harmonics >= 3) {
        Conditions of_thd = conditions;
        of_thd.highest_order = seen.harmonics;
        Figure thd =
            figure_of(FigureKind::thd, out.channel, seen.distortion, seen.distortion_sigma, of_thd);
        if (seen.distortion < 2.0 * seen.distortion_sigma) {
            thd.value.reset();
            thd.bound = Bound{seen.distortion + 2.0 * seen.distortion_sigma, Bound::Side::at_most};
        }
        out.figures.push_back(std::move(thd));
    }
}

void figures_of(const ChannelFigures& seen, bool driven, const CaptureSettings& settings,
                SampleRate rate, CaptureChannel& out) {
    Conditions conditions;
    conditions.load = settings.load;
    if (seen.windows == 0 || !driven) {
        Figure none;
        none.kind = FigureKind::output_voltage;
        none.channel = out.channel;
        none.conditions = conditions;
        none.unresolved = seen.windows == 0 ? "no tone stood still long enough to be watched"
                                            : "the channel has no tone of its own";
        out.figures.push_back(std::move(none));
    }
    if (seen.windows == 0) {
        return;
    }
    if (driven) {
        tone_figures(seen, settings, conditions, out);
    }
    Conditions of_noise = conditions;
    of_noise.bandwidth = Band{Hertz{0.0}, rate.nyquist()};
    out.figures.push_back(figure_of(FigureKind::noise_voltage, out.channel, seen.residual,
                                    seen.residual_sigma, of_noise));
    if (settings.mains) {
        out.figures.push_back(
            figure_of(FigureKind::hum_voltage, out.channel, seen.hum, seen.hum_sigma, conditions));
    }
    Figure offset;
    offset.kind = FigureKind::dc_offset;
    offset.channel = out.channel;
    offset.conditions = conditions;
    offset.details = {{"mean_v", seen.offset}};
    offset.unresolved =
        "a sound card is coupled through a capacitor and shows no lasting offset: measure it with "
        "a meter";
    out.figures.push_back(std::move(offset));
}

std::vector<CaptureFault> faults_of(const analysis::WatchSummary& summary,
                                    const std::vector<WatchEvent>& events, SampleRate rate,
                                    bool truncated) {
    std::vector<CaptureFault> faults;
    const auto add = [&](CaptureFaultKind kind, const WatchEvent& first, std::string note) {
        faults.push_back({kind, first.channel, first.start, std::move(note)});
    };
    struct Unfit {
        WatchEvent::Kind event;
        CaptureFaultKind fault;
    };
    for (const Unfit& unfit : {Unfit{WatchEvent::Kind::gap, CaptureFaultKind::gap},
                               Unfit{WatchEvent::Kind::repeat, CaptureFaultKind::repeat},
                               Unfit{WatchEvent::Kind::clipping, CaptureFaultKind::clipped}}) {
        std::vector<WatchEvent> all;
        std::copy_if(events.begin(), events.end(), std::back_inserter(all),
                     [&](const WatchEvent& event) { return event.kind == unfit.event; });
        std::vector<int> told;
        for (const WatchEvent& event : all) {
            if (std::find(told.begin(), told.end(), event.channel) != told.end()) {
                continue;
            }
            told.push_back(event.channel);
            const auto count = std::count_if(all.begin(), all.end(), [&](const WatchEvent& other) {
                return other.channel == event.channel;
            });
            add(unfit.fault, event,
                fmt::format("{} time{}; the first: {:g} samples", count, count == 1 ? "" : "s",
                            event.size));
        }
    }
    if (truncated) {
        faults.push_back({CaptureFaultKind::too_short, 0, duration(summary.frames, rate),
                          "the file ends before its header says: the recording was cut off"});
    }
    if (rate.frequency().in<Hertz>() < least_watched_rate) {
        faults.push_back(
            {CaptureFaultKind::wrong_rate, 0, Seconds{0.0},
             fmt::format("{:g} Hz cannot hold the audio band: record at 44.1 kHz or more",
                         rate.frequency().in<Hertz>())});
    }
    if (!summary.signal_found) {
        faults.push_back({CaptureFaultKind::silent, 0, Seconds{0.0},
                          "no tone stands still anywhere in the capture"});
    }
    if (summary.not_finite > 0) {
        faults.push_back({CaptureFaultKind::not_finite, 0, summary.first_not_finite,
                          "there are samples that are not numbers"});
    }
    std::stable_sort(faults.begin(), faults.end(),
                     [](const auto& a, const auto& b) { return a.start < b.start; });
    return faults;
}

void add_balance(const analysis::WatchSummary& summary, CaptureAnalysis& result) {
    for (std::size_t c = 0; c + 1 < summary.channels.size(); c += 2) {
        const ChannelFigures& left = summary.channels[c];
        const ChannelFigures& right = summary.channels[c + 1];
        if (!summary.driven[c] || !summary.driven[c + 1] || left.windows == 0 ||
            right.windows == 0) {
            continue;
        }
        const int number = static_cast<int>(c) + 1;
        Figure balance =
            figure_of(FigureKind::channel_balance, 0,
                      gain_of(AmplitudeRatio{left.amplitude / right.amplitude}).decibels(),
                      decibels_a_neper * std::hypot(left.amplitude_sigma / left.amplitude,
                                                    right.amplitude_sigma / right.amplitude),
                      {});
        balance.pair = {number, number + 1};
        balance.conditions.frequency = Hertz{left.frequency};
        result.pairs.push_back({number, number + 1, {std::move(balance)}});
    }
}

}  // namespace

tl::expected<CaptureAnalysis, std::string> watch_capture(const std::string& file,
                                                         instruments::RecordingReader& reader,
                                                         const CaptureSettings& settings) {
    const std::size_t count = reader.channels();
    if (settings.full_scale.size() != 1 && settings.full_scale.size() != count) {
        return tl::unexpected(fmt::format(
            "{}: has {} channel{}, --full-scale lists {} voltages: give one, or one a channel",
            file, count, count == 1 ? "" : "s", settings.full_scale.size()));
    }
    analysis::WatchSettings watched;
    watched.rate = reader.rate();
    watched.tone = settings.frequency;
    watched.mains = settings.mains;
    std::vector<double> full_scale;
    for (std::size_t c = 0; c < count; ++c) {
        watched.full_scale.push_back(settings.full_scale[settings.full_scale.size() == 1 ? 0 : c]);
        full_scale.push_back(watched.full_scale.back().in<VoltsPeak>());
    }
    analysis::Watch watch{watched};
    if (feed(reader, full_scale, watch) == 0) {
        return tl::unexpected(file + ": is damaged: not one frame can be read");
    }
    if (reader.grew()) {
        return tl::unexpected(file + ": still grows: end the recording first");
    }

    const analysis::WatchSummary summary = watch.summary();
    CaptureAnalysis result;
    result.file = file;
    result.rate = reader.rate();
    result.frames = summary.frames;
    result.watched = CaptureEvents{watch.events(), summary.unwatched, summary.events_left_out};
    result.faults = faults_of(summary, result.watched->events, result.rate, reader.truncated());
    for (std::size_t c = 0; c < count; ++c) {
        CaptureChannel& out = result.channels.emplace_back();
        out.channel = static_cast<int>(c) + 1;
        figures_of(summary.channels[c], summary.driven[c], settings, result.rate, out);
    }
    add_balance(summary, result);
    return result;
}

}  // namespace afterload::runner
