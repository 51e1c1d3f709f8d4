#include "instruments/recording.hpp"
#include "runner/capture/capture_watch.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/analysis_json.hpp"
#include "runner/papers/json_text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::runner {
namespace {

/// "268 points, 10 Hz to 21600 Hz, -0.12 to 0.003 dB".
std::string curve_text(const Figure& figure) {
    const Curve& curve = *figure.curve;
    if (curve.value.empty()) {
        return " no points";
    }
    const bool percent = unit_of(figure.kind) == Unit::ratio;
    const auto [least, most] = std::minmax_element(curve.value.begin(), curve.value.end());
    const double scale = percent ? 100.0 : 1.0;
    std::string text =
        fmt::format(" {} points, {:.5g} Hz to {:.5g} Hz, {:.3g} to {:.3g} {}", curve.value.size(),
                    curve.frequency_hz.front(), curve.frequency_hz.back(), scale * *least,
                    scale * *most, percent ? "%" : symbol(unit_of(figure.kind)));
    if (figure.kind == FigureKind::harmonic && figure.conditions.highest_order) {
        text += fmt::format(" of H{}", *figure.conditions.highest_order);
    }
    if (figure.kind == FigureKind::frequency_response) {
        text += curve.phase_degrees.empty() ? ", no phase" : ", with phase";
    }
    return text;
}

std::string figure_line(const Figure& figure) {
    std::string text = fmt::format("    {:<20}", name(figure.kind));
    if (figure.curve) {
        return text + curve_text(figure) + "\n";
    }
    if (figure.kind == FigureKind::harmonic && figure.unresolved.empty()) {
        for (const HarmonicRow& row : figure.table) {
            if (row.order <= 5) {
                text += fmt::format(" H{} {:.3g} %", row.order, 100.0 * row.ratio);
            }
        }
        return text + "\n";
    }
    if (!figure.unresolved.empty()) {
        return text + " not resolvable: " + figure.unresolved + "\n";
    }
    const bool percent = unit_of(figure.kind) == Unit::ratio;
    const double scale = percent ? 100.0 : 1.0;
    const std::string unit = percent ? "%" : std::string{symbol(unit_of(figure.kind))};
    if (figure.bound) {
        return text +
               fmt::format(" {} {:.5g} {}\n",
                           figure.bound->side == Bound::Side::at_most ? "at most" : "at least",
                           scale * figure.bound->value, unit);
    }
    return text + fmt::format(" {:.6g} {}  ± {:.2g} (k = 2)\n", scale * figure.value.value_or(0.0),
                              unit, scale * expanded(figure.budget));
}

std::string channel_text(int channel) {
    return channel == 0 ? std::string{"all channels"} : fmt::format("channel {}", channel);
}

std::string events_text(const CaptureEvents& watched) {
    std::string text = watched.events.empty() ? "  nothing happened\n" : "";
    for (const analysis::WatchEvent& event : watched.events) {
        text +=
            fmt::format("  {:>12.3f} s  {:<10} {:<12} for {:.4g} s, {:.4g} {}{}: {}\n",
                        event.start.in<Seconds>(), name(event.kind), channel_text(event.channel),
                        event.duration.in<Seconds>(), event.size, size_unit(event.kind),
                        event.timeline_intact ? "" : ", timeline slipped", name(event.blame));
    }
    if (watched.left_out > 0) {
        text += fmt::format("  and {} more events\n", watched.left_out);
    }
    for (const analysis::UnwatchedPart& part : watched.unwatched) {
        text += fmt::format("  {:>12.3f} s  not watched for {:.4g} s: {}\n",
                            part.start.in<Seconds>(), part.duration.in<Seconds>(), name(part.why));
    }
    return text;
}

std::string analysis_text(const CaptureAnalysis& analysis) {
    std::string text = fmt::format("{}: {:g} Hz, {} frames, {}\n", analysis.file,
                                   analysis.rate.frequency().in<Hertz>(), analysis.frames.count(),
                                   analysis.sound() ? "sound" : "NOT SOUND");
    for (const CaptureFault& fault : analysis.faults) {
        text += fmt::format("  {} at {:.4g} s, {}: {}\n", name(fault.kind),
                            fault.start.in<Seconds>(), channel_text(fault.channel), fault.note);
    }
    for (const std::string& note : analysis.notes) {
        text += "  " + note + "\n";
    }
    for (const CaptureChannel& channel : analysis.channels) {
        text += fmt::format("  channel {}\n", channel.channel);
        for (const Figure& figure : channel.figures) {
            text += figure_line(figure);
        }
    }
    for (const CapturePair& pair : analysis.pairs) {
        text += fmt::format("  channel {} to {}\n", pair.from, pair.to);
        for (const Figure& figure : pair.figures) {
            text += figure_line(figure);
        }
    }
    return analysis.watched ? text + events_text(*analysis.watched) : text;
}

tl::expected<CaptureAnalysis, std::string> analysis_of(const std::string& path,
                                                       const CaptureSettings& settings) {
    if (settings.watch) {
        auto reader = instruments::RecordingReader::open(path);
        if (!reader) {
            return tl::unexpected(path + ": " + reader.error().what);
        }
        return watch_capture(path, *reader, settings);
    }
    const auto recording = instruments::read_recording(path);
    if (!recording) {
        return tl::unexpected(path + ": " + recording.error().what);
    }
    return analyze_capture(path, *recording, settings);
}

/// One capture: printed, and its status given back.
int analyze_one(const std::string& path, const CaptureSettings& settings,
                const OutputOptions& output) {
    const auto analysis = analysis_of(path, settings);
    if (!analysis) {
        return refuse(output, analysis.error(), exit_bad_input);
    }
    print(output.json ? json_line(analysis_json(*analysis)) + "\n" : analysis_text(*analysis));
    return analysis->sound() ? exit_pass : exit_inconclusive;
}

}  // namespace

int analyze(const AnalyzeOptions& command, const OutputOptions& output) {
    int worst = exit_pass;
    for (const std::string& path : command.captures) {
        worst = std::max(worst, analyze_one(path, command.settings, output));
    }
    if (!output.json && worst != exit_bad_input) {
        print("U covers the fit alone: no bench stands behind a recording.\n");
    }
    return worst;
}

}  // namespace afterload::runner
