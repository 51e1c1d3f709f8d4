#include "runner/papers/report_plots.hpp"

#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

namespace afterload::runner {

namespace {

constexpr std::size_t longest_title = 120;
constexpr std::size_t longest_caption = 600;

}  // namespace

std::vector<ReportPlot> report_plots(const RunDocument& run, const RunDocument* before) {
    std::vector<ReportPlot> plots;
    add_distortion_plots(run, before, plots);
    add_response_plots(run, before, plots);
    add_spectrum_plots(run, plots);
    add_soak_plots(run, plots);
    add_mains_line_plots(run, plots);
    int number = 0;
    for (ReportPlot& plot : plots) {
        plot.id = fmt::format("plot-{}", ++number);
    }
    return plots;
}

void put_plot(Html& html, ReportPlot& plot) {
    // A name from outside may be of any length.
    plot.title = shortened(plot.title, longest_title);
    plot.caption = shortened(plot.caption, longest_caption);
    plot.extremes = shortened(plot.extremes, longest_caption);
    const bool half = plot.drawings.size() == 1 && plot.drawings.front().first == "half";
    html.open("figure", {{"class", half ? "half" : "full"}});
    html.element("h3", plot.title);
    const std::string description =
        plot.extremes.empty() ? plot.caption : fmt::format("{} {}", plot.caption, plot.extremes);
    html.open("div", {{"class", "plate"}});
    for (auto& [kind, canvas] : plot.drawings) {
        html.add(
            canvas.drawing(fmt::format("{}-{}", plot.id, kind), kind, plot.title, description));
    }
    html.close();
    html.element("figcaption", plot.caption);
    if (!plot.numbers.rows.empty()) {
        html.open("details");
        html.element("summary", "Numbers");
        html.open("table", {{"class", "numbers"}});
        html.element("caption", plot.title);
        html.open("thead").open("tr");
        for (const std::string& head : plot.numbers.heads) {
            html.element("th", {{"scope", "col"}}, head);
        }
        html.close().close().open("tbody");
        for (const auto& row : plot.numbers.rows) {
            html.open("tr");
            for (std::size_t i = 0; i < row.size(); ++i) {
                if (i == 0) {
                    html.element("th", {{"scope", "row"}}, row[i]);
                } else {
                    html.element("td", row[i]);
                }
            }
            html.close();
        }
        html.close().close().close();
    }
    html.close();
}

}  // namespace afterload::runner
