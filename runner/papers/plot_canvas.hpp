/// A plot drawn by hand as SVG: axes, curves, points, limits with hatching on the forbidden side,
/// direct labels that make room for each other.
///
/// The paper is the ground: no frame, an axis line only below. Left is a full line with filled
/// discs, right a broken one with open squares, so that nothing rests on colour.
#pragma once

#include "runner/papers/html_text.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// One axis of a plot, in pixels of the drawing.
struct PlotAxis {
    double low = 0.0;
    double high = 1.0;
    bool logarithmic = false;
    double at_low = 0.0;   ///< pixel of `low`
    double at_high = 1.0;  ///< pixel of `high`

    [[nodiscard]] double place(double value) const;  ///< clamped to the axis
    [[nodiscard]] bool holds(double value) const;
};

/// 20 50 100 200 500 1k ... between `low` and `high`: the trade's row.
[[nodiscard]] std::vector<double> trade_ticks(double low, double high);
/// 3 4 6 7 8 9 and their decades: the lines between.
[[nodiscard]] std::vector<double> minor_ticks(double low, double high);
/// "20", "1k", "0.05".
[[nodiscard]] std::string tick_text(double value);

/// The grey ones are those of an earlier run; they are drawn under the others.
enum class Trace { left, right, left_before, right_before };

struct PlotPoint {
    double x = 0.0;
    double y = 0.0;
};

class PlotCanvas {
public:
    /// Room around the plot area for labels, in pixels.
    struct Margins {
        double left = 46.0;
        double top = 22.0;
        double right = 62.0;
        double bottom = 36.0;
    };
    PlotCanvas(double width, double height, Margins margins);

    /// Axes must be set before anything is drawn.
    void x_axis(double low, double high, bool logarithmic);
    void y_axis(double low, double high, bool logarithmic);
    [[nodiscard]] const PlotAxis& x() const { return x_; }
    [[nodiscard]] const PlotAxis& y() const { return y_; }

    /// `title_below` is where the title stands, in pixels below the axis.
    void x_ticks(const std::vector<double>& ticks, const std::vector<double>& minor,
                 std::string_view title, double title_below = 29.0);
    void y_ticks(const std::vector<double>& ticks, const std::vector<double>& minor,
                 std::string_view title);
    /// A tick at `at` with a text of its own.
    void x_tick(double at, std::string_view text);

    /// A limit at `value` between two places; hatched above or below.
    void limit(double value, double from, double to, bool forbidden_above, std::string_view label);
    /// The rig's floor: dotted from the axis up to the points.
    void floor(const std::vector<PlotPoint>& points, std::string_view label);
    /// A curve; points as marks when there are at most 40. What leaves the axis is clipped, with a
    /// small triangle at the edge.
    void curve(const std::vector<PlotPoint>& points, Trace trace, bool marks);
    /// A thin band from low to high, column by column.
    void band(const std::vector<double>& x, const std::vector<double>& low,
              const std::vector<double>& high);
    /// A stem from the axis with a head; `shift` moves it aside by pixels.
    void stem(double x, double y, Trace trace, double shift);
    /// A bound at (x, y): the value is below (or above) it.
    void bound(double x, double y, Trace trace, bool below);
    void ring(double x, double y);

    /// A label that ends up beside its place; labels nearer than a line are moved apart.
    void label(double x, double y, std::string_view text, const char* kind);
    /// A label right of a curve's last point.
    void end_label(const PlotPoint& last, std::string_view text, const char* kind);
    /// A label where it is told to be, in pixels right of and above the value.
    void note(double x, double y, double dx, double dy, std::string_view text,
              const char* anchor = "start");

    /// The drawing, with a title and a description for those who do not see it. `id` is unique in
    /// the page; `kind` is the class of the drawing: "half", "wide", "narrow".
    [[nodiscard]] Html drawing(std::string_view id, std::string_view kind, std::string_view title,
                               std::string_view description);

private:
    struct Label {
        double x = 0.0;
        double y = 0.0;
        std::string text;
        std::string kind;
    };
    struct LimitLabel {
        double x = 0.0;
        double y = 0.0;
        std::string text;
        const char* anchor = "start";
    };
    void place_labels();

    double width_;
    double height_;
    PlotAxis x_;
    PlotAxis y_;
    Html body_;
    std::vector<Label> labels_;
    std::vector<Label> end_labels_;
    std::vector<LimitLabel> limit_labels_;
};

}  // namespace afterload::runner
