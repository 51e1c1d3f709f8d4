#include "runner/papers/number_text.hpp"
#include "runner/papers/report_plots.hpp"
#include "runner/papers/soak_summary.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

namespace afterload::runner {

namespace {

constexpr std::size_t most_numbered = 30;  // events with a place of their own in the strips
constexpr std::size_t most_rows = 60;      // of a table of numbers

/// A strip of the soak: one quantity, its own unit, drawn with the factor `shown`.
struct Strip {
    std::string_view quantity;
    std::string_view title;
    std::string_view unit;
    double shown = 1.0;
    double least_span = 1.0;  ///< of the axis, in what is shown
};

constexpr std::array strips{
    Strip{"heat_sink", "Heat sink", "°C", 1.0, 10.0},
    Strip{"level_drift", "Level re the start", "dB", 1.0, 0.2},
    Strip{"distortion", "Distortion of the soak’s sine", "%", 100.0, 0.01},
    Strip{"offset", "DC offset", "mV", 1e3, 20.0},
    Strip{"hum", "Mains lines", "mV", 1e3, 0.2},
    Strip{"noise", "Beside tone, harmonics and mains", "mV", 1e3, 0.2},
    Strip{"mains_voltage", "Mains", "V", 1.0, 10.0},
    Strip{"mains_power", "Power from the mains", "W", 1.0, 10.0},
};

double hours(Seconds time) {
    return time.in<Seconds>() / 3600.0;
}

std::vector<double> steps_between(double low, double high, int about) {
    const double rough = (high - low) / about;
    const double decade = std::pow(10.0, std::floor(std::log10(rough)));
    double step = 10.0 * decade;
    for (const double one : {1.0, 2.0, 5.0}) {
        if (one * decade >= rough) {
            step = one * decade;
            break;
        }
    }
    std::vector<double> ticks;
    for (double at = std::ceil(low / step) * step; at <= high + 1e-9 * step; at += step) {
        ticks.push_back(std::abs(at) < 1e-9 * step ? 0.0 : at);
    }
    return ticks;
}

/// Curves of both channels in one strip.
class StripPlot {
public:
    StripPlot(const SoakResult& soak, const StepResult& step, const Strip& strip)
        : soak_{soak}, step_{step}, strip_{strip} {
        for (const SoakTrend& trend : soak.trends) {
            if (trend.quantity == strip.quantity && trend.points.size() > 1) {
                trends_.push_back(&trend);
            }
        }
    }

    [[nodiscard]] bool empty() const { return trends_.empty(); }

    [[nodiscard]] ReportPlot plot(bool with_events) const {
        ReportPlot out;
        out.title = fmt::format("Soak: {}", strip_.title);
        double low = trends_.front()->points.front().low;
        double high = low;
        for (const SoakTrend* trend : trends_) {
            for (const SoakTrendPoint& point : trend->points) {
                low = std::min(low, point.low);
                high = std::max(high, point.high);
            }
        }
        out.caption = caption(low, high);
        for (const bool wide : {true, false}) {
            out.drawings.emplace_back(wide ? "wide" : "narrow", drawing(wide, low, high));
        }
        if (with_events) {
            out.numbers = events();
        } else {
            out.numbers = numbers();
        }
        return out;
    }

private:
    [[nodiscard]] std::string caption(double low, double high) const {
        std::string text =
            fmt::format("{} between {} and {} {}.", strip_.title, plain(strip_.shown * low, 3),
                        plain(strip_.shown * high, 3), strip_.unit);
        for (const SoakTrend* trend : trends_) {
            if (!trend->what.empty()) {
                text += fmt::format(" {}{}.",
                                    trend->channel == 1   ? "Left: "
                                    : trend->channel == 2 ? "Right: "
                                                          : "",
                                    trend->what);
            }
        }
        return text;
    }

    [[nodiscard]] PlotCanvas drawing(bool wide, double low, double high) const {
        const PlotCanvas::Margins margins = wide ? PlotCanvas::Margins{46.0, 30.0, 62.0, 36.0}
                                                 : PlotCanvas::Margins{38.0, 30.0, 34.0, 36.0};
        PlotCanvas canvas{wide ? 960.0 : 328.0, wide ? 160.0 : 150.0, margins};
        const double end = std::max(hours(soak_.planned), hours(soak_.lasted));
        canvas.x_axis(0.0, end, false);
        const double middle = 0.5 * strip_.shown * (low + high);
        const double half = std::max(0.55 * strip_.shown * (high - low), 0.5 * strip_.least_span);
        canvas.y_axis(middle - half, middle + half, false);
        canvas.x_ticks(steps_between(0.0, end, wide ? 8 : 4), {}, "h since the soak began");
        canvas.y_ticks(steps_between(middle - half, middle + half, 3), {}, strip_.unit);
        for (const SoakTrend* trend : trends_) {
            const Trace trace = trend->channel == 2 ? Trace::right : Trace::left;
            // A gap in the record is a gap in the line.
            std::vector<PlotPoint> piece;
            Seconds last{-1.0};
            const auto draw = [&] {
                if (!piece.empty()) {
                    canvas.curve(piece, trace, false);
                }
                piece.clear();
            };
            for (const SoakTrendPoint& point : trend->points) {
                if (!piece.empty() && point.at - last > Seconds{150.0}) {
                    draw();
                }
                piece.push_back({hours(point.at), strip_.shown * point.mean});
                last = point.at;
            }
            const PlotPoint at_end = piece.empty() ? PlotPoint{} : piece.back();
            draw();
            if (trends_.size() > 1) {
                canvas.end_label(at_end, trend->channel == 2 ? "right" : "left", "now");
            }
        }
        std::size_t number = 0;
        for (const RunEvent& event : step_.events) {
            if (++number > most_numbered) {
                break;
            }
            const double at = hours(event.since_start - step_.started);
            canvas.stem(at, canvas.y().high, Trace::left, 0.0);
            canvas.note(at, canvas.y().high, 0.0, 6.0, std::to_string(number), "middle");
        }
        return canvas;
    }

    [[nodiscard]] PlotNumbers events() const {
        PlotNumbers table;
        table.heads = {"number", "time", "whose", "what", "reaction"};
        std::size_t number = 0;
        for (const RunEvent& event : step_.events) {
            if (++number > most_rows) {
                break;
            }
            table.rows.push_back({std::to_string(number),
                                  clock_text(event.since_start - step_.started), whose(event),
                                  event_words(event),
                                  event.reaction.empty() ? "none" : event.reaction});
        }
        return table;
    }

    [[nodiscard]] PlotNumbers numbers() const {
        PlotNumbers table;
        table.heads = {"time"};
        for (const SoakTrend* trend : trends_) {
            table.heads.push_back(fmt::format("{}, {}",
                                              trend->channel == 1   ? "left"
                                              : trend->channel == 2 ? "right"
                                                                    : "mean",
                                              strip_.unit));
        }
        const auto& first = trends_.front()->points;
        const std::size_t every = first.size() / most_rows + 1;
        for (std::size_t i = 0; i < first.size(); i += every) {
            std::vector<std::string> row{clock_text(first[i].at)};
            for (const SoakTrend* trend : trends_) {
                row.push_back(i < trend->points.size()
                                  ? plain(strip_.shown * trend->points[i].mean, 4)
                                  : std::string{});
            }
            table.rows.push_back(std::move(row));
        }
        return table;
    }

    const SoakResult& soak_;
    const StepResult& step_;
    const Strip& strip_;
    std::vector<const SoakTrend*> trends_;
};

}  // namespace

void add_soak_plots(const RunDocument& run, std::vector<ReportPlot>& plots) {
    for (const StepResult& step : run.steps) {
        if (!step.soak) {
            continue;
        }
        bool first = true;
        for (const Strip& strip : strips) {
            const StripPlot strip_plot{*step.soak, step, strip};
            if (!strip_plot.empty()) {
                plots.push_back(strip_plot.plot(first));
                first = false;
            }
        }
    }
}

}  // namespace afterload::runner
