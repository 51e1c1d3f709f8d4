#include "instruments/recording.hpp"
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

std::string analysis_text(const CaptureAnalysis& analysis) {
    std::string text = fmt::format("{}: {:g} Hz, {} frames, {}\n", analysis.file,
                                   analysis.rate.frequency().in<Hertz>(), analysis.frames.count(),
                                   analysis.sound() ? "sound" : "NOT SOUND");
    for (const CaptureFault& fault : analysis.faults) {
        text +=
            fmt::format("  {} at {:.4g} s, {}: {}\n", name(fault.kind), fault.start.in<Seconds>(),
                        fault.channel == 0 ? std::string{"all channels"}
                                           : fmt::format("channel {}", fault.channel),
                        fault.note);
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
    return text;
}

/// One capture: printed, and its status given back.
int analyze_one(const std::string& path, const CaptureSettings& settings,
                const OutputOptions& output) {
    const auto recording = instruments::read_recording(path);
    if (!recording) {
        return refuse(output, path + ": " + recording.error().what, exit_bad_input);
    }
    const auto analysis = analyze_capture(path, *recording, settings);
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
