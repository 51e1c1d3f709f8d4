#include "runner/papers/number_text.hpp"
#include "runner/papers/report_plots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <optional>

namespace afterload::runner {

namespace {

struct MainsLines {
    double mains_hz = 50.0;
    std::map<int, double> left;  ///< order, V rms
    std::map<int, double> right;
    std::optional<double> limit;  ///< of all together, V
    std::string step;
};

void take_lines(const Figure& figure, MainsLines& lines) {
    std::map<int, double>& side = figure.channel == 2 ? lines.right : lines.left;
    for (const auto& [key, value] : figure.details) {
        constexpr std::string_view prefix = "line_";
        if (key == "mains_frequency" && value > 0.0) {
            lines.mains_hz = value;
        } else if (key.starts_with(prefix) && value > 0.0) {
            int order = 0;
            const char* end = key.data() + key.size();
            const auto parsed = std::from_chars(key.data() + prefix.size(), end, order);
            if (parsed.ptr == end && order > 0) {
                side[order] = value;
            }
        }
    }
}

/// Of the last quiet record: the unit as it is handed over.
MainsLines lines_of(const RunDocument& run) {
    MainsLines lines;
    for (const StepResult& step : run.steps) {
        MainsLines here;
        for (const ScoredFigure& entry : step.figures) {
            if (entry.figure.kind != FigureKind::hum_voltage) {
                continue;
            }
            take_lines(entry.figure, here);
            if (entry.rating && entry.rating->limit.at_most) {
                here.limit = entry.rating->limit.at_most;
            }
        }
        if (!here.left.empty() || !here.right.empty()) {
            here.step = step.group;
            lines = std::move(here);
        }
    }
    return lines;
}

}  // namespace

void add_mains_line_plots(const RunDocument& run, std::vector<ReportPlot>& plots) {
    const MainsLines lines = lines_of(run);
    if (lines.left.empty() && lines.right.empty()) {
        return;
    }
    double largest = 0.0;
    double smallest = 1e9;
    int highest = 2;
    for (const auto* side : {&lines.left, &lines.right}) {
        for (const auto& [order, volts] : *side) {
            largest = std::max(largest, volts);
            smallest = std::min(smallest, volts);
            highest = std::max(highest, order);
        }
    }
    // Lines four decades under the largest are noise.
    smallest = std::max(smallest, 1e-4 * largest);
    const double low = std::pow(10.0, std::floor(std::log10(smallest * 1e6)));
    const double high = std::pow(10.0, std::floor(std::log10(largest * 1e6)) + 1.0);

    PlotCanvas canvas{464.0, 260.0, {46.0, 24.0, 78.0, 38.0}};
    canvas.x_axis(0.0, (highest + 0.7) * lines.mains_hz, false);
    canvas.y_axis(low, high, true);
    canvas.y_ticks(trade_ticks(low, high), {}, "V rms at the output, µV");
    canvas.x_ticks({}, {}, "frequency, Hz");
    for (int order = 1; order <= highest; ++order) {
        if (highest <= 6 || order % 2 == 0 || order == 1) {
            canvas.x_tick(order * lines.mains_hz, tick_text(std::round(order * lines.mains_hz)));
        }
    }
    std::vector<std::pair<double, std::pair<int, bool>>> order_of_size;
    for (const auto& [side, trace, shift] : {std::tuple{&lines.left, Trace::left, -2.5},
                                             std::tuple{&lines.right, Trace::right, 2.5}}) {
        for (const auto& [order, volts] : *side) {
            canvas.stem(order * lines.mains_hz, volts * 1e6, trace, shift);
            order_of_size.emplace_back(volts, std::pair{order, trace == Trace::left});
        }
    }
    std::sort(order_of_size.rbegin(), order_of_size.rend());
    std::vector<int> named;
    for (const auto& [volts, place] : order_of_size) {
        if (named.size() == 2 ||
            std::find(named.begin(), named.end(), place.first) != named.end()) {
            continue;
        }
        named.push_back(place.first);
        canvas.label(place.first * lines.mains_hz, volts * 1e6,
                     fmt::format("{}: {}", tick_text(std::round(place.first * lines.mains_hz)),
                                 plain(volts * 1e6, 3)),
                     place.second ? "left" : "right");
    }

    ReportPlot plot;
    plot.title = "Mains lines in the quiet output";
    const auto& [top, where] = order_of_size.front();
    plot.caption = page(fmt::format("The largest is {}, {}, {}.",
                                    quantity_text(std::round(where.first * lines.mains_hz), "Hz"),
                                    quantity_text(top, "V", 3), where.second ? "left" : "right"));
    plot.caption += where.first == 1 ? " The mains frequency itself: stray field or a ground path."
                    : where.first == 2 ? " Twice the mains frequency comes from the supply."
                                       : "";
    if (lines.limit) {
        plot.extremes =
            page(fmt::format("All together may be {}.", quantity_text(*lines.limit, "V", 3)));
    }
    plot.numbers.heads = {"frequency", "left", "right"};
    for (int order = 1; order <= highest; ++order) {
        const auto cell = [order](const std::map<int, double>& side) {
            const auto found = side.find(order);
            return found == side.end() ? std::string{} : page(quantity_text(found->second, "V", 3));
        };
        plot.numbers.rows.push_back({page(quantity_text(std::round(order * lines.mains_hz), "Hz")),
                                     cell(lines.left), cell(lines.right)});
    }
    plot.drawings.emplace_back("half", std::move(canvas));
    plots.push_back(std::move(plot));
}

}  // namespace afterload::runner
