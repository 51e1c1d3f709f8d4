#include "runner/papers/open_metrics.hpp"

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <optional>

namespace afterload::runner {

namespace {

std::string sample_value(double value) {
    if (std::isnan(value)) {
        return "NaN";
    }
    if (std::isinf(value)) {
        return value > 0.0 ? "+Inf" : "-Inf";
    }
    return fmt::format("{}", value);
}

std::string labels(const ScoredFigure& entry) {
    return fmt::format("figure=\"{}\",id=\"{}\",channel=\"{}\",unit=\"{}\"",
                       name(entry.figure.kind), label_escaped(entry.id),
                       label_escaped(channel_words(entry.figure)),
                       symbol(unit_of(entry.figure.kind)));
}

using Sample = std::function<std::optional<std::string>(const ScoredFigure&)>;

/// One family: its head, and a line for each figure that has it.
void put_family(std::string& out, const RunDocument& run, std::string_view family,
                std::string_view help, const Sample& sample) {
    out += fmt::format("# TYPE {0} gauge\n# HELP {0} {1}\n", family, help);
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (const auto line = sample(entry)) {
                out += fmt::format("{}{}\n", family, *line);
            }
        }
    }
}

std::optional<std::string> plain_sample(const ScoredFigure& entry, std::optional<double> value) {
    if (!value) {
        return std::nullopt;
    }
    return fmt::format("{{{}}} {}", labels(entry), sample_value(*value));
}

}  // namespace

std::string label_escaped(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        const std::string_view bytes = text.substr(i, next.bytes);
        i += next.bytes;
        if (next.code == U'\\') {
            out += "\\\\";
        } else if (next.code == U'"') {
            out += "\\\"";
        } else if (next.code == U'\n') {
            out += "\\n";
        } else if (!next.valid || is_control(next.code)) {
            out += "\ufffd";
        } else {
            out += bytes;
        }
    }
    return out;
}

std::string open_metrics(const RunDocument& run) {
    std::string out = "# TYPE afterload_run info\n# HELP afterload_run The run and its unit.\n";
    out += fmt::format(
        "afterload_run_info{{id=\"{}\",maker=\"{}\",model=\"{}\",serial=\"{}\",stage=\"{}\","
        "sequence=\"{}\",bench=\"{}\",state=\"{}\",verdict=\"{}\",started=\"{}\"}} 1\n",
        label_escaped(run.id), label_escaped(run.unit.maker), label_escaped(run.unit.model),
        label_escaped(run.serial), name(run.stage), label_escaped(run.sequence_name),
        label_escaped(run.bench.name), name(run.state), name(run.verdict),
        label_escaped(run.started));
    out +=
        "# TYPE afterload_run_figures gauge\n"
        "# HELP afterload_run_figures Figures of the run by verdict.\n";
    for (const auto& [kind, count] : run.counts) {
        if (kind != "assumed" && kind != "not_tested") {
            out += fmt::format("afterload_run_figures{{verdict=\"{}\"}} {}\n", label_escaped(kind),
                               count);
        }
    }
    put_family(out, run, "afterload_figure_value", "A figure in its SI unit.",
               [](const ScoredFigure& entry) { return plain_sample(entry, entry.figure.value); });
    put_family(out, run, "afterload_figure_expanded_uncertainty",
               "Expanded uncertainty of the value, k = 2.", [](const ScoredFigure& entry) {
                   const bool stated = entry.figure.value && !entry.figure.budget.empty();
                   return plain_sample(
                       entry, stated ? std::optional{expanded(entry.figure.budget)} : std::nullopt);
               });
    put_family(out, run, "afterload_figure_bound",
               "What a figure is at most, or at least, where it has no value.",
               [](const ScoredFigure& entry) -> std::optional<std::string> {
                   if (!entry.figure.bound) {
                       return std::nullopt;
                   }
                   const bool most = entry.figure.bound->side == Bound::Side::at_most;
                   return fmt::format("{{{},bound=\"{}\"}} {}", labels(entry),
                                      most ? "at_most" : "at_least",
                                      sample_value(entry.figure.bound->value));
               });
    put_family(out, run, "afterload_figure_margin",
               "Distance to the nearest limit in the figure's unit, inside positive.",
               [](const ScoredFigure& entry) {
                   const bool judged = entry.verdict && std::isfinite(entry.verdict->margin);
                   return plain_sample(
                       entry, judged ? std::optional{entry.verdict->margin} : std::nullopt);
               });
    put_family(out, run, "afterload_figure_verdict", "1 for the verdict that a figure has.",
               [](const ScoredFigure& entry) -> std::optional<std::string> {
                   if (!entry.verdict) {
                       return std::nullopt;
                   }
                   return fmt::format("{{{},verdict=\"{}\"}} 1", labels(entry),
                                      analysis::name(entry.verdict->kind));
               });
    return out + "# EOF\n";
}

}  // namespace afterload::runner
