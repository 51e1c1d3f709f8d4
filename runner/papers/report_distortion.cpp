#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/report_plots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <map>
#include <optional>
#include <set>

namespace afterload::runner {

namespace {

constexpr double plot_width = 464.0;
constexpr PlotCanvas::Margins plot_margins{46.0, 24.0, 78.0, 38.0};

struct Reading {
    int channel = 1;
    double watts = 0.0;  ///< NaN where the level is not an output power
    std::string level;   ///< as written
    double hertz = 0.0;
    double percent = 0.0;
    bool bound = false;
    double rig_percent = 0.0;
    std::optional<double> limit_percent;
    std::string origin;
    std::string group;  ///< signal path
    std::optional<double> load_ohms;
    bool earlier = false;  ///< of the run before
};

/// Rated power into the load that a figure was measured with, as far as the run's ratings tell.
std::optional<double> rated_power(const RunDocument& run) {
    std::optional<double> power;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (entry.rating && entry.rating->figure == FigureKind::output_power &&
                entry.rating->limit.at_least && !power) {
                power = entry.rating->limit.at_least;
            }
        }
    }
    return power;
}

double watts_of(const LevelTarget& level, const Conditions& conditions,
                const std::optional<double>& rated) {
    switch (level.kind) {
        case LevelTarget::Kind::output_power:
            return level.value;
        case LevelTarget::Kind::rated_fraction:
            if (rated) {
                return level.value * *rated;
            }
            break;
        case LevelTarget::Kind::output_volts:
            if (conditions.load) {
                return dissipated(VoltsRms{level.value}, *conditions.load).in<Watts>();
            }
            break;
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::drive_dbfs:
            break;
    }
    return std::numeric_limits<double>::quiet_NaN();
}

/// Distortions at the speaker terminals of one signal path: that of the first step that has any.
std::vector<Reading> readings_of(const RunDocument& run) {
    std::vector<Reading> readings;
    const std::optional<double> rated = rated_power(run);
    std::optional<std::string> group;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            const Figure& figure = entry.figure;
            if (figure.kind != FigureKind::thd || !figure.conditions.output_level ||
                !figure.conditions.frequency || (!figure.value && !figure.bound) ||
                (figure.channel != 1 && figure.channel != 2)) {
                continue;
            }
            if (!group) {
                group = step.group;
            }
            if (*group != step.group) {
                continue;
            }
            Reading reading;
            reading.channel = figure.channel;
            reading.group = step.group;
            if (figure.conditions.load) {
                reading.load_ohms = figure.conditions.load->in<Ohms>();
            }
            reading.level = text(*figure.conditions.output_level);
            reading.watts = watts_of(*figure.conditions.output_level, figure.conditions, rated);
            reading.hertz = figure.conditions.frequency->in<Hertz>();
            reading.bound = figure.bound.has_value();
            reading.percent = 100.0 * (figure.bound ? figure.bound->value : *figure.value);
            reading.rig_percent = 100.0 * figure.rig_added.value_or(0.0);
            if (entry.rating && entry.rating->limit.at_most) {
                reading.limit_percent = 100.0 * *entry.rating->limit.at_most;
                reading.origin = entry.rating->origin == RatedFigure::Origin::house
                                     ? std::string{"house rule"}
                                     : entry.rating->source;
            }
            readings.push_back(std::move(reading));
        }
    }
    return readings;
}

struct Range {
    double low = std::numeric_limits<double>::infinity();
    double high = 0.0;
    void take(double value) {
        low = std::min(low, value);
        high = std::max(high, value);
    }
};

void percent_axis(PlotCanvas& canvas, const std::vector<Reading>& readings) {
    Range range;
    for (const Reading& reading : readings) {
        range.take(reading.percent);
        if (reading.limit_percent) {
            range.take(*reading.limit_percent);
        }
    }
    double low = 1e-3;
    double high = 1.0;
    while (range.low < low && low > 1e-6) {
        low /= 10.0;
    }
    while (range.high > high && high < 100.0) {
        high *= 10.0;
    }
    canvas.y_axis(low, high, true);
}

std::vector<double> decades(const PlotAxis& axis) {
    std::vector<double> ticks;
    const auto count = static_cast<int>(std::lround(std::log10(axis.high / axis.low))) + 1;
    ticks.reserve(static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i) {
        ticks.push_back(axis.low * std::pow(10.0, i));
    }
    return ticks;
}

std::vector<double> between_decades(const PlotAxis& axis) {
    std::vector<double> ticks;
    for (const double decade : decades(axis)) {
        for (int i = 2; i < 10 && decade < axis.high * 0.999; ++i) {
            ticks.push_back(i * decade);
        }
    }
    return ticks;
}

/// A stretch of neighbouring readings with one limit.
void put_limits(PlotCanvas& canvas, const std::vector<Reading>& readings, double Reading::*along) {
    std::map<double, std::pair<Range, std::string>> limits;
    for (const Reading& reading : readings) {
        if (reading.limit_percent) {
            auto& [range, origin] = limits[*reading.limit_percent];
            range.take(reading.*along);
            origin = reading.origin;
        }
    }
    for (const auto& [limit, where] : limits) {
        const auto& [range, origin] = where;
        // A limit of one point among others says what it is in the numbers below: its label would
        // lie across theirs.
        const bool named = limits.size() == 1 || range.low < range.high;
        canvas.limit(limit, range.low * 0.93, range.high * 1.07, true,
                     named ? page(fmt::format("rated {} %{}{}", plain(limit, 3),
                                              origin.empty() ? "" : ": ", origin))
                           : std::string{});
    }
}

void put_floor(PlotCanvas& canvas, const std::vector<Reading>& readings, double Reading::*along) {
    std::map<double, double> floor;
    for (const Reading& reading : readings) {
        double& here = floor[reading.*along];
        here = std::max(here, reading.rig_percent);
    }
    std::vector<PlotPoint> points;
    points.reserve(floor.size());
    for (const auto& [x, y] : floor) {
        points.push_back({x, y});
    }
    canvas.floor(points, "floor of the rig");
}

void put_curves(PlotCanvas& canvas, const std::vector<Reading>& readings, double Reading::*along,
                bool earlier) {
    const std::string suffix = earlier ? " before" : "";
    for (const int channel : {1, 2}) {
        std::vector<PlotPoint> points;
        for (const Reading& reading : readings) {
            if (reading.channel == channel && reading.earlier == earlier && !reading.bound) {
                points.push_back({reading.*along, reading.percent});
            }
        }
        const Trace trace = earlier ? (channel == 1 ? Trace::left_before : Trace::right_before)
                                    : (channel == 1 ? Trace::left : Trace::right);
        std::sort(points.begin(), points.end(),
                  [](const PlotPoint& a, const PlotPoint& b) { return a.x < b.x; });
        canvas.curve(points, trace, true);
        for (const Reading& reading : readings) {
            if (reading.channel == channel && reading.earlier == earlier && reading.bound) {
                canvas.bound(reading.*along, reading.percent, trace, true);
                points.push_back({reading.*along, reading.percent});
            }
        }
        if (!points.empty()) {
            canvas.end_label(points.back(), std::string{channel == 1 ? "left" : "right"} + suffix,
                             earlier        ? "before"
                             : channel == 1 ? "left"
                                            : "right");
        }
    }
}

PlotNumbers numbers_of(const std::vector<Reading>& readings, double Reading::*along,
                       const std::string& head, std::string_view symbol) {
    PlotNumbers numbers;
    numbers.heads = {head, "left, %", "right, %", "rig at most, %", "rated, %"};
    std::map<double, std::array<std::string, 5>> rows;
    for (const Reading& reading : readings) {
        auto& row = rows[reading.*along];
        row[0] = page(quantity_text(reading.*along, symbol));
        row[static_cast<std::size_t>(reading.channel)] =
            page((reading.bound ? "< " : "") + plain(reading.percent, 3));
        row[3] = reading.rig_percent > 0.0 ? page(plain(reading.rig_percent, 2)) : "unknown";
        if (reading.limit_percent) {
            row[4] = page(plain(*reading.limit_percent, 3));
        }
    }
    for (const auto& [x, row] : rows) {
        numbers.rows.emplace_back(row.begin(), row.end());
    }
    return numbers;
}

std::string side(int channel) {
    return channel == 1 ? "left" : "right";
}

/// What is seen: who lies over the limit, and where it rises.
std::string caption_of(const std::vector<Reading>& readings, double Reading::*along,
                       bool against_level) {
    std::string caption;
    bool any_limit = false;
    std::vector<int> outside;
    for (const int channel : {1, 2}) {
        int over = 0;
        int all = 0;
        for (const Reading& reading : readings) {
            if (reading.channel == channel && reading.limit_percent) {
                any_limit = true;
                ++all;
                over += !reading.bound && reading.percent > *reading.limit_percent ? 1 : 0;
            }
        }
        if (over > 0) {
            outside.push_back(channel);
            caption += fmt::format("The {} channel lies above its limit at {} of {} points. ",
                                   side(channel), over, all);
        }
    }
    if (any_limit && outside.empty()) {
        caption = "Both channels stay inside the rated limit at every point measured. ";
    }
    for (const int channel : {1, 2}) {
        std::map<double, double> by_place;
        for (const Reading& reading : readings) {
            if (reading.channel == channel && !reading.bound) {
                by_place[reading.*along] = reading.percent;
            }
        }
        if (by_place.size() < 2) {
            continue;
        }
        const double first = by_place.begin()->second;
        const double last = by_place.rbegin()->second;
        if (against_level && first > 1.5 * last) {
            caption +=
                fmt::format("The {} channel distorts more the quieter it plays. ", side(channel));
        } else if (!against_level && last > 2.0 * first) {
            caption +=
                fmt::format("In the {} channel it rises towards the treble. ", side(channel));
        }
    }
    if (caption.empty()) {
        return "Points are drawn where something was measured.";
    }
    caption.pop_back();
    return caption;
}

std::string extremes_of(const std::vector<Reading>& readings) {
    Range range;
    std::optional<double> limit;
    for (const Reading& reading : readings) {
        range.take(reading.percent);
        limit = reading.limit_percent ? reading.limit_percent : limit;
    }
    return page(fmt::format("Smallest {} %, largest {} %{}.", plain(range.low, 3),
                            plain(range.high, 3),
                            limit ? fmt::format(", rated {} %", plain(*limit, 3)) : ""));
}

/// One decade up is as long as one decade across, within what a page has room for; both kinds of
/// plot are about three decades wide and so come out alike, side by side.
double height_for(double y_decades) {
    constexpr double decades_across = 3.1;
    const double across = plot_width - plot_margins.left - plot_margins.right;
    return std::clamp(across / decades_across * y_decades, 220.0, 420.0) + plot_margins.top +
           plot_margins.bottom;
}

/// Those of this run.
std::vector<Reading> of_now(const std::vector<Reading>& readings) {
    std::vector<Reading> now;
    std::copy_if(readings.begin(), readings.end(), std::back_inserter(now),
                 [](const Reading& reading) { return !reading.earlier; });
    return now;
}

std::string with_before(const std::vector<Reading>& readings) {
    const bool any = std::any_of(readings.begin(), readings.end(),
                                 [](const Reading& reading) { return reading.earlier; });
    return any ? " Grey: before." : "";
}

void add_against_level(const std::vector<Reading>& all, const std::optional<double>& rated,
                       std::vector<ReportPlot>& plots) {
    std::vector<Reading> readings;
    std::set<double> levels;
    for (const Reading& reading : all) {
        if (reading.hertz > 900.0 && reading.hertz < 1100.0 && std::isfinite(reading.watts) &&
            reading.watts > 0.0) {
            readings.push_back(reading);
            if (!reading.earlier) {
                levels.insert(reading.watts);
            }
        }
    }
    if (levels.size() < 2) {
        return;
    }
    const double high = std::max(1.5 * *levels.rbegin(), rated ? 1.5 * *rated : 0.0);
    const double low = std::min(*levels.begin() / 1.5, rated ? *rated / 800.0 : high / 1000.0);
    PlotCanvas probe{plot_width, 400.0, plot_margins};
    percent_axis(probe, readings);
    PlotCanvas canvas{plot_width, height_for(std::log10(probe.y().high / probe.y().low)),
                      plot_margins};
    canvas.x_axis(low, high, true);
    canvas.y_axis(probe.y().low, probe.y().high, true);
    canvas.y_ticks(decades(canvas.y()), between_decades(canvas.y()), "THD, %");
    canvas.x_ticks(trade_ticks(low, high), minor_ticks(low, high), "output power, W");
    put_floor(canvas, of_now(readings), &Reading::watts);
    put_limits(canvas, of_now(readings), &Reading::watts);
    put_curves(canvas, readings, &Reading::watts, true);
    put_curves(canvas, readings, &Reading::watts, false);
    const std::vector<Reading> now = of_now(readings);
    ReportPlot plot;
    plot.title = "Distortion against level, at 1\u202fkHz";
    plot.caption = caption_of(now, &Reading::watts, true) + with_before(readings);
    plot.extremes = extremes_of(now);
    plot.numbers = numbers_of(now, &Reading::watts, "power", "W");
    plot.drawings.emplace_back("half", std::move(canvas));
    plots.push_back(std::move(plot));
}

void add_against_frequency(const std::vector<Reading>& all, std::vector<ReportPlot>& plots) {
    std::map<std::string, std::set<double>> by_level;
    for (const Reading& reading : all) {
        if (!reading.earlier) {
            by_level[reading.level].insert(reading.hertz);
        }
    }
    // At most two levels, those tried at most frequencies.
    std::vector<std::pair<std::size_t, std::string>> order;
    for (const auto& [level, frequencies] : by_level) {
        if (frequencies.size() >= 2) {
            order.emplace_back(frequencies.size(), level);
        }
    }
    std::sort(order.rbegin(), order.rend());
    order.resize(std::min<std::size_t>(order.size(), 2));
    for (const auto& entry : order) {
        const std::string& level = entry.second;
        std::vector<Reading> readings;
        std::copy_if(all.begin(), all.end(), std::back_inserter(readings),
                     [&](const Reading& reading) { return reading.level == level; });
        PlotCanvas probe{plot_width, 400.0, plot_margins};
        percent_axis(probe, readings);
        PlotCanvas canvas{plot_width, height_for(std::log10(probe.y().high / probe.y().low)),
                          plot_margins};
        canvas.x_axis(18.0, 22000.0, true);
        canvas.y_axis(probe.y().low, probe.y().high, true);
        canvas.y_ticks(decades(canvas.y()), between_decades(canvas.y()), "THD, %");
        canvas.x_ticks(trade_ticks(20.0, 20000.0), minor_ticks(20.0, 20000.0), "frequency, Hz");
        put_floor(canvas, of_now(readings), &Reading::hertz);
        put_limits(canvas, of_now(readings), &Reading::hertz);
        put_curves(canvas, readings, &Reading::hertz, true);
        put_curves(canvas, readings, &Reading::hertz, false);
        const std::vector<Reading> now = of_now(readings);
        ReportPlot plot;
        plot.title = page(fmt::format("Distortion against frequency, at {}", level));
        plot.caption = caption_of(now, &Reading::hertz, false) + with_before(readings);
        plot.extremes = extremes_of(now);
        plot.numbers = numbers_of(now, &Reading::hertz, "frequency", "Hz");
        plot.drawings.emplace_back("half", std::move(canvas));
        plots.push_back(std::move(plot));
    }
}

}  // namespace

void add_distortion_plots(const RunDocument& run, const RunDocument* before,
                          std::vector<ReportPlot>& plots) {
    std::vector<Reading> readings = readings_of(run);
    if (before != nullptr && !readings.empty()) {
        for (Reading& reading : readings_of(*before)) {
            // Only like beside like: into the same load, of the same signal path.
            if (reading.load_ohms && readings.front().load_ohms &&
                std::abs(*reading.load_ohms / *readings.front().load_ohms - 1.0) > 0.05) {
                continue;
            }
            if (reading.group == readings.front().group) {
                reading.earlier = true;
                readings.push_back(std::move(reading));
            }
        }
    }
    add_against_level(readings, rated_power(run), plots);
    add_against_frequency(readings, plots);
}

}  // namespace afterload::runner
