/// The plots of a report: distortion against level and against frequency, response with its mask,
/// spectrum, mains lines. What was not measured has no empty frame. Each has a caption that says
/// what is seen, and its numbers below it.
#pragma once

#include "runner/papers/html_text.hpp"
#include "runner/papers/plot_canvas.hpp"
#include "runner/papers/run_document.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// The numbers of a plot as a table.
struct PlotNumbers {
    std::vector<std::string> heads;
    std::vector<std::vector<std::string>> rows;
};

/// One plot: one drawing for all widths, or a wide and a narrow one.
struct ReportPlot {
    std::string id;  ///< unique in the page
    std::string title;
    std::string caption;
    std::string extremes;  ///< largest, smallest and rated value, for the description
    std::vector<std::pair<std::string, PlotCanvas>> drawings;  ///< "half", or "wide" and "narrow"
    PlotNumbers numbers;
};

/// All plots the run has data for, in the order in which a report shows them.
/// Response and distortion have those of `before`, where there is one, in grey under them.
[[nodiscard]] std::vector<ReportPlot> report_plots(const RunDocument& run,
                                                   const RunDocument* before = nullptr);

void put_plot(Html& html, ReportPlot& plot);

// The single kinds; each gives nothing when there is too little to draw.
void add_distortion_plots(const RunDocument& run, const RunDocument* before,
                          std::vector<ReportPlot>& plots);
void add_response_plots(const RunDocument& run, const RunDocument* before,
                        std::vector<ReportPlot>& plots);
void add_spectrum_plots(const RunDocument& run, std::vector<ReportPlot>& plots);
void add_mains_line_plots(const RunDocument& run, std::vector<ReportPlot>& plots);
void add_soak_plots(const RunDocument& run, std::vector<ReportPlot>& plots);

}  // namespace afterload::runner
