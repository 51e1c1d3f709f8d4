#include "runner/papers/report.hpp"

#include "runner/hints/report_hints.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/html_text.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/report_before.hpp"
#include "runner/papers/report_plots.hpp"
#include "runner/papers/report_rig.hpp"
#include "runner/papers/report_scale.hpp"
#include "runner/papers/report_statement.hpp"
#include "runner/papers/report_style.hpp"
#include "runner/papers/report_table.hpp"
#include "runner/papers/time_text.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

constexpr std::size_t longest_remark = 4000;
constexpr std::size_t longest_headline = 400;

std::string stage_words(Stage stage) {
    switch (stage) {
        case Stage::as_received:
            return "as received";
        case Stage::repaired:
            return "repaired";
        case Stage::soaked:
            return "after the soak";
        case Stage::cold:
            return "cold";
    }
    return "";
}

std::string unit_name(const RunDocument& run) {
    const std::string name = run.unit.maker.empty()
                                 ? run.unit.model
                                 : fmt::format("{} {}", run.unit.maker, run.unit.model);
    return name.empty() ? std::string{"Unit"} : shortened(name, 80);
}

void put_head(Html& html, const RunDocument& run) {
    html.open("head");
    html.empty("meta", {{"charset", "utf-8"}});
    html.empty(
        "meta",
        {{"http-equiv", "Content-Security-Policy"},
         {"content",
          "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"}});
    html.empty("meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}});
    html.empty("meta", {{"name", "color-scheme"}, {"content", "light dark"}});
    html.element("title",
                 fmt::format("{}, serial {}: {}, {}, {}", unit_name(run), shortened(run.serial, 40),
                             stage_words(run.stage), run.started.substr(0, 10), name(run.verdict)));
    html.style(report_style(fmt::format("{}, serial {}, {}", unit_name(run),
                                        shortened(run.serial, 40), shortened(run.id, 60))));
    html.close();
}

void put_letter(Html& html, const RunDocument& run) {
    html.open("div", {{"class", "letterhead"}});
    html.open("span");
    if (run.job.empty()) {
        html.text("Measurement report");
    } else {
        html.text("Ticket ").outside(run.job, 40);
    }
    html.close();
    html.element("span", date_words(run.started));
    html.close();
    html.open("h1").outside(unit_name(run)).close();
    html.open("p", {{"class", "sub"}});
    if (!run.serial.empty()) {
        html.text("Serial ").outside(run.serial, 40).text(". ");
    }
    html.text(fmt::format("Stage: {}.", stage_words(run.stage)));
    if (!run.sequence_title.empty()) {
        html.text(" ").outside(run.sequence_title).text(".");
    }
    html.close();
    html.element("p", {{"class", "statement"}}, page(statement(run)));
    if (run.retest) {
        html.open("p", {{"class", "sub"}});
        html.text("Retest of run ").outside(run.retest->run, 80);
        html.text(
            fmt::format(" of {}: only what had failed or was left open there was measured "
                        "again.",
                        date_words(run.retest->started)));
        if (!run.retest->stands.empty()) {
            html.text(
                fmt::format(" Figures that were not measured again and stand as they were: "
                            "{}; listed under ",
                            run.retest->stands.size()));
            html.element("a", {{"href", "#not-tested"}}, "Not tested").text(".");
        }
        html.close();
    }
    if (run.bench.simulated) {
        html.element("p", {{"class", "warning"}}, "Simulated bench: no real unit was measured.");
    } else if (run.bench.stand_in) {
        html.element("p", {{"class", "warning"}},
                     "An audio server stood where a sound card is meant: levels are the server’s.");
    }
    if (!run.stop_reason.empty()) {
        html.open("p", {{"class", "warning"}});
        html.text("Stopped: ").outside(page(run.stop_reason), 300).close();
    }
}

void put_links(Html& html, bool hints, bool plots) {
    html.open("nav", {{"aria-label", "Parts of this page"}}).open("ul");
    for (const auto& [target, text] :
         {std::pair{"#figures", "Figures"}, std::pair{"#hints", "Where to look first"},
          std::pair{"#plots", "Plots"}, std::pair{"#rig", "Rig"}, std::pair{"#limits", "Limits"},
          std::pair{"#files", "Files"}}) {
        if ((!plots && std::string_view{target} == "#plots") ||
            (!hints && std::string_view{target} == "#hints")) {
            continue;
        }
        html.open("li").element("a", {{"href", target}}, text).close();
    }
    html.close().close();
}

void put_figures(Html& html, const RunDocument& run, const Beside& beside) {
    const std::vector<RowGroup> groups = figure_rows(run);
    html.open("section", {{"aria-labelledby", "figures"}});
    html.element("h2", {{"id", "figures"}}, page(shortened(headline(run), longest_headline)));
    html.element("p", {{"class", "counts"}}, counts_text(count_rows(groups)));
    html.element(
        "p", {{"class", "key-line"}},
        "The vertical line is the limit: right of it is inside, left of it outside. Bar: "
        "expanded uncertainty. Hatched box: what the rig itself may have added or hidden.");
    if (groups.empty()) {
        html.element("p", "No figure was measured.");
    } else {
        put_sheet_table(html, groups, beside);
    }
    html.close();
}

/// What persons said of the whole run, with name and time.
void put_remarks(Html& html, const Beside& beside) {
    const auto remarks = beside.of_run();
    if (remarks.empty()) {
        return;
    }
    html.open("section", {{"aria-labelledby", "remarks"}});
    html.element("h2", {{"id", "remarks"}}, "Notes");
    for (const Remark* remark : remarks) {
        html.open("p", {{"class", "remark"}}).outside(remark_text(*remark), longest_remark).close();
    }
    html.close();
}

}  // namespace

std::string report_html(const RunDocument& run, const Beside& beside) {
    std::vector<ReportPlot> plots = report_plots(run, beside.before);
    Html html;
    html.open("html", {{"lang", "en"}});
    put_head(html, run);
    html.open("body");
    put_scale_symbols(html);
    html.open("main");
    put_letter(html, run);
    if (beside.before != nullptr) {
        put_before_table(html, compared(*beside.before, run, {beside.before, &run}));
    }
    const Hints hints = beside.hints_of(run);
    put_links(html, !hints.hints.empty(), !plots.empty());
    put_figures(html, run, beside);
    put_hints(html, hints);
    put_remarks(html, beside);
    if (!plots.empty()) {
        html.open("section", {{"aria-labelledby", "plots"}});
        html.element("h2", {{"id", "plots"}}, "What was seen");
        html.element("p", {{"class", "key-line"}},
                     "Left: full line, filled points. Right: broken line, open squares. Hatching: "
                     "outside the rated limit. Dots: below the floor of the rig.");
        html.open("div", {{"class", "plots"}});
        for (ReportPlot& plot : plots) {
            put_plot(html, plot);
        }
        html.close().close();
    }
    using Part = void (*)(Html&, const RunDocument&);
    for (const Part part :
         std::array<Part, 5>{put_not_tested, put_rig, put_conditions, put_limits, put_files}) {
        html.open("section");
        part(html, run);
        html.close();
    }
    html.close().close().close();
    return "<!DOCTYPE html>\n" + html.str() + "\n";
}

}  // namespace afterload::runner
