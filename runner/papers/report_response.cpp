#include "runner/papers/number_text.hpp"
#include "runner/papers/report_plots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>
#include <optional>
#include <tuple>

namespace afterload::runner {

namespace {

struct Response {
    const Curve* left = nullptr;
    const Curve* right = nullptr;
    const RatedFigure* rating = nullptr;
    double reference_hz = 0.0;
    std::string group;
};

std::vector<Response> responses_of(const RunDocument& run) {
    std::vector<Response> all;
    for (const StepResult& step : run.steps) {
        Response response;
        for (const ScoredFigure& entry : step.figures) {
            const Figure& figure = entry.figure;
            if (figure.kind != FigureKind::frequency_response || !figure.curve ||
                figure.curve->value.size() < 2) {
                continue;
            }
            (figure.channel == 2 ? response.right : response.left) = &*figure.curve;
            if (entry.rating) {
                response.rating = &*entry.rating;
            }
            if (figure.conditions.reference_frequency) {
                response.reference_hz = figure.conditions.reference_frequency->in<Hertz>();
            }
        }
        if (response.left != nullptr || response.right != nullptr) {
            response.group = step.group;
            all.push_back(std::move(response));
        }
    }
    return all;
}

std::vector<PlotPoint> points_of(const Curve& curve) {
    std::vector<PlotPoint> points;
    for (std::size_t i = 0; i < curve.frequency_hz.size(); ++i) {
        points.push_back({curve.frequency_hz[i], curve.value[i]});
    }
    std::sort(points.begin(), points.end(),
              [](const PlotPoint& a, const PlotPoint& b) { return a.x < b.x; });
    return points;
}

/// The band over which the rating holds; where it states none, all that was measured.
Band rated_band(const Response& response) {
    if (response.rating != nullptr && response.rating->conditions.tone_range) {
        return *response.rating->conditions.tone_range;
    }
    const Curve& curve = response.left != nullptr ? *response.left : *response.right;
    const auto [low, high] =
        std::minmax_element(curve.frequency_hz.begin(), curve.frequency_hz.end());
    return {Hertz{*low}, Hertz{*high}};
}

std::string mask_text(const Response& response) {
    return page(fmt::format("rated {} dB, {} to {}{}{}", limit_text(response.rating->limit),
                            quantity_text(rated_band(response).low.in<Hertz>(), "Hz"),
                            quantity_text(rated_band(response).high.in<Hertz>(), "Hz"),
                            response.rating->source.empty() ? "" : ": ", response.rating->source));
}

void put_mask(PlotCanvas& canvas, const Response& response, bool named) {
    if (response.rating == nullptr) {
        return;
    }
    const Band band = rated_band(response);
    const Limit& limit = response.rating->limit;
    const double from = band.low.in<Hertz>();
    const double to = band.high.in<Hertz>();
    if (limit.at_most) {
        canvas.limit(*limit.at_most, from, to, true, "");
    }
    if (limit.at_least) {
        canvas.limit(*limit.at_least, from, to, false, named ? mask_text(response) : "");
    }
}

PlotCanvas canvas_of(const Response& response, const Response* before, bool wide) {
    const PlotCanvas::Margins margins = wide ? PlotCanvas::Margins{46.0, 24.0, 66.0, 38.0}
                                             : PlotCanvas::Margins{34.0, 24.0, 14.0, 38.0};
    const double low = wide ? 10.0 : 18.0;
    const double high = wide ? 40000.0 : 22000.0;
    const double width = wide ? 960.0 : 328.0;
    // Ten decibels up are as long as one decade across.
    const double decade = (width - margins.left - margins.right) / std::log10(high / low);
    PlotCanvas canvas{width, decade + margins.top + margins.bottom, margins};
    canvas.x_axis(low, high, true);
    canvas.y_axis(-8.0, 2.0, false);
    canvas.y_ticks(
        {-8.0, -6.0, -4.0, -2.0, 0.0, 2.0}, {},
        wide ? page(fmt::format("level, dB re {}", quantity_text(response.reference_hz, "Hz", 3)))
             : "level, dB");
    canvas.x_ticks(wide ? trade_ticks(low, high) : std::vector<double>{20, 100, 1000, 10000, 20000},
                   minor_ticks(low, high), "frequency, Hz");
    put_mask(canvas, response, wide);
    if (before != nullptr) {
        for (const auto& [curve, trace, side] :
             {std::tuple{before->left, Trace::left_before, "left"},
              std::tuple{before->right, Trace::right_before, "right"}}) {
            if (curve == nullptr) {
                continue;
            }
            const std::vector<PlotPoint> points = points_of(*curve);
            canvas.curve(points, trace, wide);
            if (wide) {
                canvas.end_label(points.back(), fmt::format("{} before", side), "before");
            }
        }
    }
    for (const auto& [curve, trace, text] : {std::tuple{response.left, Trace::left, "left"},
                                             std::tuple{response.right, Trace::right, "right"}}) {
        if (curve == nullptr) {
            continue;
        }
        const std::vector<PlotPoint> points = points_of(*curve);
        canvas.curve(points, trace, wide);
        if (wide) {
            canvas.end_label(points.back(), text, text);
        }
    }
    if (response.reference_hz > 0.0) {
        canvas.ring(response.reference_hz, 0.0);
    }
    return canvas;
}

struct Outside {
    double hertz = 0.0;
    double db = 0.0;
    double by = 0.0;
};

/// The point furthest outside the mask, if any.
std::optional<Outside> outside_of(const Curve& curve, const Response& response) {
    std::optional<Outside> worst;
    if (response.rating == nullptr) {
        return worst;
    }
    const Band band = rated_band(response);
    const Limit& limit = response.rating->limit;
    for (const PlotPoint& point : points_of(curve)) {
        // Points at the rated edges are played a little off them.
        if (point.x < 0.98 * band.low.in<Hertz>() || point.x > 1.02 * band.high.in<Hertz>()) {
            continue;
        }
        const double by = std::max(limit.at_least ? *limit.at_least - point.y : -1e9,
                                   limit.at_most ? point.y - *limit.at_most : -1e9);
        if (by > 0.0 && (!worst || by > worst->by)) {
            worst = Outside{point.x, point.y, by};
        }
    }
    return worst;
}

std::string outside_sentences(const Response& response) {
    std::string caption;
    for (const auto& [curve, side] :
         {std::pair{response.left, "left"}, std::pair{response.right, "right"}}) {
        if (curve == nullptr) {
            continue;
        }
        if (const auto worst = outside_of(*curve, response)) {
            caption += fmt::format("The {} channel leaves the rated mask: {} dB at {}. ", side,
                                   fixed(worst->db, 1), quantity_text(worst->hertz, "Hz", 3));
        }
    }
    return caption;
}

std::string caption_of(const Response& response, const Response* before) {
    std::string caption = outside_sentences(response);
    if (caption.empty() && response.rating != nullptr) {
        caption = response.left != nullptr && response.right != nullptr
                      ? "Both channels stay inside the rated mask at every frequency measured. "
                      : "It stays inside the rated mask at every frequency measured. ";
    }
    if (response.left != nullptr && response.right != nullptr) {
        std::optional<PlotPoint> widest;
        const std::vector<PlotPoint> left = points_of(*response.left);
        const std::vector<PlotPoint> right = points_of(*response.right);
        for (std::size_t i = 0; i < std::min(left.size(), right.size()); ++i) {
            const double apart = std::abs(left[i].y - right[i].y);
            if (std::abs(left[i].x / right[i].x - 1.0) < 0.01 && (!widest || apart > widest->y)) {
                widest = PlotPoint{left[i].x, apart};
            }
        }
        if (widest) {
            caption += fmt::format("Left and right lie at most {} dB apart, at {}. ",
                                   fixed(widest->y, 2), quantity_text(widest->x, "Hz", 3));
        }
    }
    if (before != nullptr) {
        Response held = *before;
        held.rating = response.rating;
        const std::string was = outside_sentences(held);
        caption += "Grey: before. ";
        if (!was.empty()) {
            caption += fmt::format(
                "Then: {}{}",
                static_cast<char>(std::tolower(static_cast<unsigned char>(was.front()))),
                was.substr(1));
        }
    }
    if (!caption.empty()) {
        caption.pop_back();
    }
    return page(caption);
}

PlotNumbers numbers_of(const Response& response) {
    PlotNumbers numbers;
    numbers.heads = {"frequency", "left, dB", "right, dB"};
    std::map<double, std::pair<std::string, std::string>> rows;
    if (response.left != nullptr) {
        for (const PlotPoint& point : points_of(*response.left)) {
            rows[point.x].first = page(fixed(point.y, 2));
        }
    }
    if (response.right != nullptr) {
        for (const PlotPoint& point : points_of(*response.right)) {
            // Both channels are played one tone, whose frequency each fits for itself.
            const auto near = std::find_if(rows.begin(), rows.end(), [&](const auto& row) {
                return std::abs(row.first / point.x - 1.0) < 1e-3;
            });
            (near != rows.end() ? near->second : rows[point.x]).second = page(fixed(point.y, 2));
        }
    }
    for (const auto& [hertz, values] : rows) {
        numbers.rows.push_back({page(quantity_text(hertz, "Hz")), values.first, values.second});
    }
    return numbers;
}

}  // namespace

void add_response_plots(const RunDocument& run, const RunDocument* before,
                        std::vector<ReportPlot>& plots) {
    const std::vector<Response> earlier =
        before != nullptr ? responses_of(*before) : std::vector<Response>{};
    for (const Response& response : responses_of(run)) {
        // Only like beside like: the same path, re the same frequency.
        const auto like = std::find_if(earlier.begin(), earlier.end(), [&](const Response& other) {
            return other.group == response.group &&
                   std::abs(other.reference_hz - response.reference_hz) <=
                       0.02 * response.reference_hz;
        });
        const Response* was = like == earlier.end() ? nullptr : &*like;
        ReportPlot plot;
        plot.title = response.group.empty()
                         ? std::string{"Frequency response"}
                         : fmt::format("Frequency response, {}{}",
                                       static_cast<char>(std::tolower(
                                           static_cast<unsigned char>(response.group.front()))),
                                       response.group.substr(1));
        plot.caption = caption_of(response, was);
        if (response.rating != nullptr) {
            plot.extremes = fmt::format("It is {}.", mask_text(response));
        }
        plot.numbers = numbers_of(response);
        plot.drawings.emplace_back("wide", canvas_of(response, was, true));
        plot.drawings.emplace_back("narrow", canvas_of(response, was, false));
        plots.push_back(std::move(plot));
    }
}

}  // namespace afterload::runner
