#include "runner/papers/report_scale.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

constexpr double lowest_db = -10.0;
constexpr double highest_db = 30.0;
constexpr std::array<double, 5> guides_db{-3.0, -1.0, 1.0, 3.0, 10.0};

double stretched(double margin) {
    return std::copysign(std::log10(1.0 + std::abs(margin) / 0.5), margin);
}

std::string percent(double place) {
    return coordinate(100.0 * place) + "%";
}

/// One channel on the axis, in dB of margin.
struct Point {
    double value = 0.0;
    double low = 0.0;  ///< ends of the uncertainty bar
    double high = 0.0;
    double rig_low = 0.0;  ///< ends with the rig's part
    double rig_high = 0.0;
    bool rig_larger = false;  ///< the rig's part is larger than the uncertainty
    bool bound = false;
};

std::optional<Point> point_of(const FigureRow& row, const ScoredFigure& entry) {
    const Figure& figure = entry.figure;
    const RatedFigure* rating = row.rating();
    if (rating == nullptr || (!figure.value && !figure.bound)) {
        return std::nullopt;
    }
    const double value = figure.bound ? figure.bound->value : *figure.value;
    const auto margin = margin_db(row.kind, value, rating->limit);
    if (!margin) {
        return std::nullopt;
    }
    Point point;
    point.value = *margin;
    point.bound = figure.bound.has_value();
    const double u = expanded(figure.budget);
    const double rig = entry.verdict ? entry.verdict->rig : 0.0;
    const auto ends = [&](double spread) -> std::pair<double, double> {
        const double a = margin_db(row.kind, value - spread, rating->limit).value_or(*margin);
        const double b = margin_db(row.kind, value + spread, rating->limit).value_or(*margin);
        return {std::min({a, b, *margin}), std::max({a, b, *margin})};
    };
    std::tie(point.low, point.high) = ends(std::isfinite(u) ? u : 0.0);
    std::tie(point.rig_low, point.rig_high) = ends((std::isfinite(u) ? u : 0.0) + rig);
    point.rig_larger = rig > u;
    return point;
}

void put_bar(Html& html, const Point& point, const char* channel, double y) {
    const double from = margin_place(point.low);
    const double to = margin_place(point.high);
    const double rig_from = margin_place(point.rig_low);
    const double rig_to = margin_place(point.rig_high);
    if (point.rig_larger) {
        html.shape("rect", {{"class", "hatched"},
                            {"x", percent(rig_from)},
                            {"y", y - 4.0},
                            {"width", percent(std::max(rig_to - rig_from, 0.02))},
                            {"height", 8.0}});
        return;
    }
    if (rig_to - rig_from > to - from + 0.005) {
        html.shape("line", {{"class", channel},
                            {"x1", percent(rig_from)},
                            {"x2", percent(rig_to)},
                            {"y1", y},
                            {"y2", y}});
    }
    if (to - from > 0.004) {
        html.shape("rect", {{"class", std::string{"bar "} + channel},
                            {"x", percent(from)},
                            {"y", y - 1.6},
                            {"width", percent(to - from)},
                            {"height", 3.2}});
    }
}

void put_point(Html& html, const Point& point, bool left, double y) {
    const char* channel = left ? "left" : "right";
    const double place = margin_place(point.value);
    const auto use = [&](const char* symbol) {
        html.shape("use", {{"href", symbol}, {"class", channel}, {"x", percent(place)}, {"y", y}});
    };
    if (point.bound) {
        use("#at-least");
    } else if (place <= 0.0) {
        use("#beyond-left");
    } else if (place >= 1.0) {
        use("#beyond-right");
    } else {
        use(left ? "#disc" : "#square");
    }
}

std::string margin_number(double margin) {
    if (!std::isfinite(margin)) {
        return margin > 0 ? "far" : "minus far";
    }
    return fixed(margin, std::abs(margin) < 1.0 ? 2 : 1);
}

}  // namespace

double margin_place(double margin) {
    if (std::isnan(margin)) {
        return 0.0;
    }
    const double kept = std::clamp(margin, lowest_db, highest_db);
    const double low = stretched(lowest_db);
    return (stretched(kept) - low) / (stretched(highest_db) - low);
}

void put_scale_symbols(Html& html) {
    const double limit = margin_place(0.0);
    html.open("svg", {{"class", "symbols"},
                      {"width", "0"},
                      {"height", "0"},
                      {"aria-hidden", "true"},
                      {"focusable", "false"}});
    html.open("defs");
    html.open("pattern", {{"id", "hatch"},
                          {"width", "4"},
                          {"height", "4"},
                          {"patternUnits", "userSpaceOnUse"},
                          {"patternTransform", "rotate(45)"}});
    html.shape("line",
               {{"class", "hatch-line"}, {"x1", "0"}, {"x2", "0"}, {"y1", "0"}, {"y2", "4"}});
    html.close();
    html.open("pattern", {{"id", "forbidden"},
                          {"width", "5"},
                          {"height", "5"},
                          {"patternUnits", "userSpaceOnUse"},
                          {"patternTransform", "rotate(45)"}});
    html.shape("line",
               {{"class", "forbidden-line"}, {"x1", "0"}, {"x2", "0"}, {"y1", "0"}, {"y2", "5"}});
    html.close();
    html.open(
        "pattern",
        {{"id", "dots"}, {"width", "4"}, {"height", "4"}, {"patternUnits", "userSpaceOnUse"}});
    html.shape("circle", {{"class", "dot"}, {"cx", "1"}, {"cy", "1"}, {"r", "0.6"}});
    html.close();
    html.close();
    html.open("symbol", {{"id", "guides"}, {"overflow", "visible"}});
    html.shape(
        "rect",
        {{"class", "tint"}, {"x", "0"}, {"y", "0"}, {"width", percent(limit)}, {"height", "100%"}});
    for (const double guide : guides_db) {
        const std::string x = percent(margin_place(guide));
        html.shape("line", {{"class", "hair"}, {"x1", x}, {"x2", x}, {"y1", "0"}, {"y2", "100%"}});
    }
    html.close();
    html.open("symbol", {{"id", "disc"}, {"overflow", "visible"}});
    html.shape("circle", {{"class", "filled"}, {"cx", "0"}, {"cy", "0"}, {"r", "3.6"}});
    html.close();
    html.open("symbol", {{"id", "square"}, {"overflow", "visible"}});
    html.shape(
        "rect",
        {{"class", "hollow"}, {"x", "-3.2"}, {"y", "-3.2"}, {"width", "6.4"}, {"height", "6.4"}});
    html.close();
    html.open("symbol", {{"id", "ring"}, {"overflow", "visible"}});
    html.shape("circle", {{"class", "hollow"}, {"cx", "0"}, {"cy", "0"}, {"r", "3.4"}});
    html.close();
    html.open("symbol", {{"id", "beyond-right"}, {"overflow", "visible"}});
    html.shape("path", {{"class", "filled"}, {"d", "M-8,-4 L-1,0 L-8,4 Z"}});
    html.close();
    html.open("symbol", {{"id", "beyond-left"}, {"overflow", "visible"}});
    html.shape("path", {{"class", "filled"}, {"d", "M8,-4 L1,0 L8,4 Z"}});
    html.close();
    html.open("symbol", {{"id", "at-least"}, {"overflow", "visible"}});
    html.shape("path", {{"class", "stroke"}, {"d", "M0,-4 V4 M0,0 H9 M6,-3 L9,0 L6,3"}});
    html.close();
    html.close();
}

void put_scale_head(Html& html) {
    const double limit = margin_place(0.0);
    html.open("svg", {{"class", "scale-head"}, {"aria-hidden", "true"}, {"height", "26"}});
    const auto label = [&](double place, const char* anchor, double y, std::string_view text,
                           double shift, const char* kind = "head") {
        html.element("text",
                     {{"class", kind},
                      {"x", percent(place)},
                      {"dx", shift},
                      {"y", y},
                      {"text-anchor", anchor}},
                     text);
    };
    label(limit, "end", 10.0, "outside", -4.0);
    label(limit, "start", 10.0, "inside", 4.0);
    for (const auto& [db, text] : {std::pair{-3.0, "\u22123"}, std::pair{-1.0, "\u22121"},
                                   std::pair{1.0, "+1"}, std::pair{3.0, "+3"}}) {
        label(margin_place(db), "middle", 24.0, text, 0.0, db > -2.0 ? "near" : "head");
    }
    // The unit would run into its neighbour if the last were centred.
    label(margin_place(guides_db.back()), "start", 24.0, "+10\u202fdB", -8.0);
    html.shape("line", {{"class", "limit"},
                        {"x1", percent(limit)},
                        {"x2", percent(limit)},
                        {"y1", "0"},
                        {"y2", "100%"}});
    html.close();
}

void put_margin_scale(Html& html, const FigureRow& row) {
    const std::string limit = percent(margin_place(0.0));
    const bool comparable = row.verdict && *row.verdict != VerdictKind::not_comparable;
    html.open("svg", {{"class", "scale"}, {"role", "img"}, {"aria-label", scale_words(row)}});
    if (!row.verdict || row.rating() == nullptr) {
        html.shape("line",
                   {{"class", "hair"}, {"x1", limit}, {"x2", limit}, {"y1", "0"}, {"y2", "100%"}});
        html.close();
        return;
    }
    if (!comparable) {
        html.shape(
            "line",
            {{"class", "limit dotted"}, {"x1", limit}, {"x2", limit}, {"y1", "0"}, {"y2", "100%"}});
        html.close();
        return;
    }
    html.shape("use", {{"href", "#guides"}, {"width", "100%"}, {"height", "100%"}});
    const bool two = row.left != nullptr && row.right != nullptr;
    std::optional<Point> left = row.left != nullptr ? point_of(row, *row.left) : std::nullopt;
    std::optional<Point> right = row.right != nullptr ? point_of(row, *row.right) : std::nullopt;
    const double left_y = two ? 10.0 : 16.0;
    const double right_y = two ? 22.0 : 16.0;
    if (left) {
        put_bar(html, *left, "left", left_y);
    }
    if (right) {
        put_bar(html, *right, "right", right_y);
    }
    html.shape("line",
               {{"class", "limit"}, {"x1", limit}, {"x2", limit}, {"y1", "0"}, {"y2", "100%"}});
    if (left) {
        put_point(html, *left, true, left_y);
    }
    if (right) {
        put_point(html, *right, false, right_y);
    }
    html.close();
}

void put_before_scale(Html& html, const std::optional<double>& before,
                      const std::optional<double>& after) {
    const std::string limit = percent(margin_place(0.0));
    const auto words = [](const char* when, const std::optional<double>& margin) {
        return margin ? fmt::format("{} {} dB {} the limit", when, margin_number(std::abs(*margin)),
                                    *margin >= 0.0 ? "inside" : "outside")
                      : fmt::format("{} no number", when);
    };
    html.open("svg", {{"class", "scale"},
                      {"role", "img"},
                      {"aria-label",
                       fmt::format("{}; {}", words("before", before), words("now", after))}});
    html.shape("use", {{"href", "#guides"}, {"width", "100%"}, {"height", "100%"}});
    if (before && after) {
        html.shape("line", {{"class", "joined"},
                            {"x1", percent(margin_place(*before))},
                            {"x2", percent(margin_place(*after))},
                            {"y1", "50%"},
                            {"y2", "50%"}});
    }
    html.shape("line",
               {{"class", "limit"}, {"x1", limit}, {"x2", limit}, {"y1", "0"}, {"y2", "100%"}});
    const auto put = [&](const std::optional<double>& margin, const char* symbol,
                         const char* kind) {
        if (!margin) {
            return;
        }
        const double place = margin_place(*margin);
        html.shape("use", {{"href", place <= 0.0   ? "#beyond-left"
                                    : place >= 1.0 ? "#beyond-right"
                                                   : symbol},
                           {"class", kind},
                           {"x", percent(place)},
                           {"y", "50%"}});
    };
    put(before, "#ring", "before");
    put(after, "#disc", "left");
    html.close();
}

void put_mark(Html& html, VerdictKind kind) {
    html.open("svg",
              {{"class", "mark"}, {"width", "26"}, {"height", "11"}, {"aria-hidden", "true"}});
    const auto limit_line = [&] {
        html.shape("line",
                   {{"class", "limit"}, {"x1", "13"}, {"x2", "13"}, {"y1", "0"}, {"y2", "11"}});
    };
    const auto bar = [&](double x) {
        html.shape(
            "rect",
            {{"class", "mark-bar"}, {"x", x - 5.0}, {"y", 4.0}, {"width", 10.0}, {"height", 3.0}});
    };
    const auto dot = [&](double x) {
        html.shape("circle", {{"class", "ink"}, {"cx", x}, {"cy", 5.5}, {"r", 2.5}});
    };
    switch (kind) {
        case VerdictKind::pass:
            limit_line();
            bar(20.0);
            dot(20.0);
            break;
        case VerdictKind::conditional_pass:
            bar(15.5);
            limit_line();
            dot(16.0);
            break;
        case VerdictKind::conditional_fail:
            bar(10.5);
            limit_line();
            dot(10.0);
            break;
        case VerdictKind::fail:
            limit_line();
            bar(6.0);
            dot(6.0);
            break;
        case VerdictKind::not_resolvable:
            html.shape(
                "rect",
                {{"class", "mark-box"}, {"x", 4.0}, {"y", 2.5}, {"width", 18.0}, {"height", 6.0}});
            limit_line();
            break;
        case VerdictKind::not_comparable:
            html.shape(
                "line",
                {{"class", "limit dotted"}, {"x1", "13"}, {"x2", "13"}, {"y1", "0"}, {"y2", "11"}});
            dot(20.0);
            break;
    }
    html.close();
}

std::string scale_words(const FigureRow& row) {
    if (!row.verdict || row.rating() == nullptr) {
        return "no limit";
    }
    if (*row.verdict == VerdictKind::not_comparable) {
        return "nothing to compare with";
    }
    std::vector<std::string> parts;
    for (const ScoredFigure* entry : row.figures()) {
        const auto point = point_of(row, *entry);
        if (!point) {
            continue;
        }
        const std::string who = row.single ? std::string{} : entry == row.left ? "left " : "right ";
        const std::string side = point->value >= 0.0 ? "inside" : "outside";
        if (point->bound) {
            parts.push_back(fmt::format("{}at least {} dB {} the limit", who,
                                        margin_number(std::abs(point->value)), side));
        } else {
            parts.push_back(fmt::format("{}{} dB {} the limit, {} to {}", who,
                                        margin_number(std::abs(point->value)), side,
                                        margin_number(point->low), margin_number(point->high)));
        }
    }
    return parts.empty() ? std::string{"no number"} : fmt::format("{}", fmt::join(parts, "; "));
}

}  // namespace afterload::runner
