#include "runner/papers/plot_canvas.hpp"

#include "runner/papers/number_text.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::runner {

namespace {

constexpr double line_height = 13.0;
constexpr double hatch_depth = 7.0;
constexpr std::size_t most_marks = 40;
constexpr std::size_t longest_limit_text = 60;
constexpr double letter_width = 6.6;  // of the plots' text, on the average

const char* name_of(Trace trace) {
    switch (trace) {
        case Trace::left:
            return "left";
        case Trace::right:
            return "right";
        case Trace::left_before:
            return "left before";
        case Trace::right_before:
            return "right before";
    }
    return "";
}

bool is_left(Trace trace) {
    return trace == Trace::left || trace == Trace::left_before;
}

std::vector<double> steps(double low, double high, std::initializer_list<double> mantissas) {
    std::vector<double> ticks;
    if (!(low > 0.0) || !(high > low)) {
        return ticks;
    }
    const auto last = static_cast<int>(std::floor(std::log10(high)));
    for (auto power = static_cast<int>(std::floor(std::log10(low))); power <= last; ++power) {
        for (const double mantissa : mantissas) {
            const double tick = mantissa * std::pow(10.0, power);
            if (tick >= low * (1.0 - 1e-9) && tick <= high * (1.0 + 1e-9)) {
                ticks.push_back(tick);
            }
        }
    }
    return ticks;
}

}  // namespace

double PlotAxis::place(double value) const {
    const double kept = std::clamp(value, low, high);
    const double share =
        logarithmic ? std::log(kept / low) / std::log(high / low) : (kept - low) / (high - low);
    return at_low + share * (at_high - at_low);
}

bool PlotAxis::holds(double value) const {
    return value >= low && value <= high;
}

std::vector<double> trade_ticks(double low, double high) {
    return steps(low, high, {1.0, 2.0, 5.0});
}

std::vector<double> minor_ticks(double low, double high) {
    return steps(low, high, {3.0, 4.0, 6.0, 7.0, 8.0, 9.0});
}

std::string tick_text(double value) {
    return value >= 1000.0 ? plain(value / 1000.0, 4) + "k" : plain(value, 4);
}

PlotCanvas::PlotCanvas(double width, double height, Margins margins)
    : width_{width}, height_{height} {
    x_.at_low = margins.left;
    x_.at_high = width - margins.right;
    y_.at_low = height - margins.bottom;
    y_.at_high = margins.top;
}

void PlotCanvas::x_axis(double low, double high, bool logarithmic) {
    x_.low = low;
    x_.high = high;
    x_.logarithmic = logarithmic;
}

void PlotCanvas::y_axis(double low, double high, bool logarithmic) {
    y_.low = low;
    y_.high = high;
    y_.logarithmic = logarithmic;
}

void PlotCanvas::x_ticks(const std::vector<double>& ticks, const std::vector<double>& minor,
                         std::string_view title, double title_below) {
    const auto line = [&](double at, const char* kind) {
        body_.shape("line", {{"class", kind},
                             {"x1", x_.place(at)},
                             {"x2", x_.place(at)},
                             {"y1", y_.at_low},
                             {"y2", y_.at_high}});
    };
    for (const double at : minor) {
        line(at, "minor");
    }
    for (const double at : ticks) {
        line(at, "grid");
        x_tick(at, tick_text(at));
    }
    body_.shape("line", {{"class", "axis"},
                         {"x1", x_.at_low},
                         {"x2", x_.at_high},
                         {"y1", y_.at_low},
                         {"y2", y_.at_low}});
    body_.element(
        "text", {{"x", x_.at_high}, {"y", y_.at_low + title_below}, {"text-anchor", "end"}}, title);
}

void PlotCanvas::x_tick(double at, std::string_view text) {
    body_.element("text", {{"x", x_.place(at)}, {"y", y_.at_low + 14.0}, {"text-anchor", "middle"}},
                  text);
}

void PlotCanvas::y_ticks(const std::vector<double>& ticks, const std::vector<double>& minor,
                         std::string_view title) {
    const auto line = [&](double at, const char* kind) {
        body_.shape("line", {{"class", kind},
                             {"x1", x_.at_low},
                             {"x2", x_.at_high},
                             {"y1", y_.place(at)},
                             {"y2", y_.place(at)}});
    };
    for (const double at : minor) {
        line(at, "minor");
    }
    for (const double at : ticks) {
        line(at, "grid");
        body_.element("text",
                      {{"x", x_.at_low - 6.0}, {"y", y_.place(at) + 4.0}, {"text-anchor", "end"}},
                      page(plain(at, 4)));
    }
    body_.element("text", {{"x", 0.0}, {"y", y_.at_high - 10.0}}, title);
}

void PlotCanvas::limit(double value, double from, double to, bool forbidden_above,
                       std::string_view label) {
    if (!y_.holds(value)) {
        return;
    }
    const double start = x_.place(from);
    const double end = x_.place(to);
    const double at = y_.place(value);
    body_.shape("rect", {{"class", "forbidden"},
                         {"x", start},
                         {"y", forbidden_above ? at - hatch_depth : at},
                         {"width", std::max(end - start, 1.0)},
                         {"height", hatch_depth}});
    body_.shape("line", {{"class", "limit"}, {"x1", start}, {"x2", end}, {"y1", at}, {"y2", at}});
    if (!label.empty()) {
        const std::string text = shortened(label, longest_limit_text);
        // One that would run over the edge ends where the limit ends.
        const double width = letter_width * static_cast<double>(text.size());
        const bool room = start + 2.0 + width < width_;
        limit_labels_.push_back({room ? start + 2.0 : std::max(end - 2.0, width + 2.0),
                                 forbidden_above ? at - hatch_depth - 4.0 : at + hatch_depth + 12.0,
                                 text, room ? "start" : "end"});
    }
}

void PlotCanvas::floor(const std::vector<PlotPoint>& points, std::string_view label) {
    if (points.size() < 2) {
        return;
    }
    std::string path =
        fmt::format("M{},{}", coordinate(x_.place(points.front().x)), coordinate(y_.at_low));
    bool seen = false;
    for (const PlotPoint& point : points) {
        seen = seen || point.y > y_.low;
        path +=
            fmt::format(" L{},{}", coordinate(x_.place(point.x)), coordinate(y_.place(point.y)));
    }
    if (!seen) {
        return;
    }
    path += fmt::format(" L{},{} Z", coordinate(x_.place(points.back().x)), coordinate(y_.at_low));
    body_.shape("path", {{"class", "floor"}, {"d", path}});
    body_.element("text", {{"x", x_.place(points.front().x) + 4.0}, {"y", y_.at_low - 5.0}}, label);
}

void PlotCanvas::curve(const std::vector<PlotPoint>& points, Trace trace, bool marks) {
    const char* name = name_of(trace);
    std::string path;
    for (const PlotPoint& point : points) {
        path += fmt::format("{}{},{}", path.empty() ? "M" : " L", coordinate(x_.place(point.x)),
                            coordinate(y_.place(point.y)));
    }
    if (points.size() > 1) {
        body_.shape("path", {{"class", fmt::format("curve {}", name)}, {"d", path}});
    }
    for (const PlotPoint& point : points) {
        const double at_x = x_.place(point.x);
        const double at_y = y_.place(point.y);
        if (!y_.holds(point.y)) {
            const bool over = point.y > y_.high;
            body_.shape(
                "path",
                {{"class", fmt::format("filled {}", name)},
                 {"d",
                  over ? fmt::format("M{},{} l4,7 h-8 Z", coordinate(at_x), coordinate(at_y))
                       : fmt::format("M{},{} l4,-7 h-8 Z", coordinate(at_x), coordinate(at_y))}});
        } else if (marks && points.size() <= most_marks) {
            if (is_left(trace)) {
                body_.shape("circle", {{"class", fmt::format("filled {}", name)},
                                       {"cx", at_x},
                                       {"cy", at_y},
                                       {"r", 2.8}});
            } else {
                body_.shape("rect", {{"class", fmt::format("hollow {}", name)},
                                     {"x", at_x - 2.6},
                                     {"y", at_y - 2.6},
                                     {"width", 5.2},
                                     {"height", 5.2}});
            }
        }
    }
}

void PlotCanvas::band(const std::vector<double>& x, const std::vector<double>& low,
                      const std::vector<double>& high) {
    std::string path;
    for (std::size_t i = 0; i < x.size() && i < low.size() && i < high.size(); ++i) {
        if (!x_.holds(x[i]) || high[i] < y_.low) {
            continue;
        }
        path += fmt::format("M{},{}V{}", coordinate(x_.place(x[i])),
                            coordinate(y_.place(std::max(low[i], y_.low))),
                            coordinate(y_.place(high[i]) - 0.5));
    }
    if (!path.empty()) {
        body_.shape("path", {{"class", "noise"}, {"d", path}});
    }
}

void PlotCanvas::stem(double x, double y, Trace trace, double shift) {
    const double at = x_.place(x) + shift;
    const double top = y_.place(y);
    if (y < y_.low) {
        return;
    }
    body_.shape("line", {{"class", fmt::format("stem {}", name_of(trace))},
                         {"x1", at},
                         {"x2", at},
                         {"y1", y_.at_low},
                         {"y2", top}});
    if (is_left(trace)) {
        body_.shape("circle", {{"class", "filled left"}, {"cx", at}, {"cy", top}, {"r", 2.8}});
    } else {
        body_.shape("rect", {{"class", "hollow right"},
                             {"x", at - 2.6},
                             {"y", top - 2.6},
                             {"width", 5.2},
                             {"height", 5.2}});
    }
}

void PlotCanvas::bound(double x, double y, Trace trace, bool below) {
    const double at = x_.place(x);
    const double top = y_.place(y);
    const double way = below ? 1.0 : -1.0;
    body_.shape("path",
                {{"class", fmt::format("curve plain {}", name_of(trace))},
                 {"d", fmt::format("M{},{}h8 m-4,0 v{} m-3,{} l3,{} l3,{}", coordinate(at - 4.0),
                                   coordinate(top), coordinate(12.0 * way), coordinate(-4.0 * way),
                                   coordinate(4.0 * way), coordinate(-4.0 * way))}});
}

void PlotCanvas::ring(double x, double y) {
    body_.shape("circle",
                {{"class", "ring"}, {"cx", x_.place(x)}, {"cy", y_.place(y)}, {"r", 3.6}});
}

void PlotCanvas::label(double x, double y, std::string_view text, const char* kind) {
    labels_.push_back({x_.place(x), y_.place(y) - 8.0, std::string{text}, kind});
}

void PlotCanvas::end_label(const PlotPoint& last, std::string_view text, const char* kind) {
    end_labels_.push_back(
        {x_.place(last.x) + 8.0, y_.place(last.y) + 4.0, std::string{text}, kind});
}

void PlotCanvas::note(double x, double y, double dx, double dy, std::string_view text,
                      const char* anchor) {
    body_.element(
        "text", {{"x", x_.place(x) + dx}, {"y", y_.place(y) - dy}, {"text-anchor", anchor}}, text);
}

void PlotCanvas::place_labels() {
    // Over the curves that pass behind them.
    for (const LimitLabel& label : limit_labels_) {
        body_.element(
            "text",
            {{"class", "ink"}, {"x", label.x}, {"y", label.y}, {"text-anchor", label.anchor}},
            label.text);
    }
    std::sort(end_labels_.begin(), end_labels_.end(),
              [](const Label& a, const Label& b) { return a.y < b.y; });
    for (std::size_t i = 1; i < end_labels_.size(); ++i) {
        end_labels_[i].y = std::max(end_labels_[i].y, end_labels_[i - 1].y + line_height);
    }
    // The last may have been pushed below the axis: then all move up together as far as needed.
    if (!end_labels_.empty() && end_labels_.back().y > y_.at_low + 4.0) {
        double lowest = y_.at_low + 4.0;
        for (auto label = end_labels_.rbegin(); label != end_labels_.rend(); ++label) {
            label->y = std::min(label->y, lowest);
            lowest = label->y - line_height;
        }
    }
    for (const Label& label : end_labels_) {
        body_.element("text", {{"class", label.kind}, {"x", label.x}, {"y", label.y}}, label.text);
    }
    // Labels in the plot step up out of each other's way, or are left out at the top.
    std::vector<Label> placed;
    for (Label label : labels_) {
        const double half = 3.1 * static_cast<double>(label.text.size());
        bool moved = true;
        while (moved) {
            moved = false;
            for (const Label& other : placed) {
                const double other_half = 3.1 * static_cast<double>(other.text.size());
                if (std::abs(label.x - other.x) < half + other_half &&
                    std::abs(label.y - other.y) < line_height) {
                    label.y = other.y - line_height;
                    moved = true;
                }
            }
        }
        if (label.y < y_.at_high - 4.0) {
            continue;
        }
        label.x = std::clamp(label.x, x_.at_low + half, std::max(x_.at_low + half, width_ - half));
        body_.element(
            "text",
            {{"class", label.kind}, {"x", label.x}, {"y", label.y}, {"text-anchor", "middle"}},
            label.text);
        placed.push_back(std::move(label));
    }
}

Html PlotCanvas::drawing(std::string_view id, std::string_view kind, std::string_view title,
                         std::string_view description) {
    place_labels();
    Html html;
    const std::string title_id = fmt::format("{}-title", id);
    const std::string text_id = fmt::format("{}-text", id);
    html.open("svg",
              {{"class", fmt::format("plot {}", kind)},
               {"viewBox", fmt::format("0 0 {} {}", coordinate(width_), coordinate(height_))},
               {"role", "img"},
               {"aria-labelledby", title_id},
               {"aria-describedby", text_id}});
    html.element("title", {{"id", title_id}}, title);
    html.element("desc", {{"id", text_id}}, description);
    html.add(body_);
    html.close();
    return html;
}

}  // namespace afterload::runner
