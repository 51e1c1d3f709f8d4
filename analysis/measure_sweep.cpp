#include "analysis/measure_sweep.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

// What windows and the card's time scale leave of a response without noise: 0.0014 dB was the worst
// against SciPy's filters, most of it a hundred times less.
constexpr double method_u_k1_db = 0.001;

Figure of_distortion_kind(FigureKind kind, const SweptRecord& swept) {
    Figure figure;
    figure.kind = kind;
    figure.channel = swept.channel;
    figure.conditions = swept.conditions;
    const std::vector<SweptPoint>& linear = swept.response.linear;
    if (!linear.empty()) {
        figure.conditions.bandwidth = Band{linear.front().frequency, linear.back().frequency};
    }
    const RigPart rig = of_distortion(swept.bench);
    figure.rig_added = rig.added;
    figure.rig_cancelled = rig.cancelled;
    return figure;
}

void state_range(Figure& figure) {
    const std::vector<double>& hertz = figure.curve->frequency_hz;
    figure.conditions.tone_range = Band{Hertz{hertz.front()}, Hertz{hertz.back()}};
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "",
             *std::max_element(figure.curve->u_k1.begin(), figure.curve->u_k1.end()));
}

}  // namespace

std::vector<CaptureFault> sweep_faults(const SweptResponse& response, const SweepPlan& plan,
                                       Seconds record) {
    constexpr Seconds allowed{1e-3};
    std::vector<CaptureFault> faults;
    const Seconds begins = response.delay + plan.begin;
    if (begins < -allowed) {
        faults.push_back(
            {CaptureFaultKind::too_short, 0, Seconds{0.0},
             fmt::format("the sweep had begun {:.3g} s before", -begins.in<Seconds>())});
    }
    const Seconds missing = response.sweep_ends - record;
    if (missing > allowed) {
        faults.push_back(
            {CaptureFaultKind::too_short, 0, record,
             fmt::format("it ends {:.3g} s before the sweep does", missing.in<Seconds>())});
    }
    if (response.clock && response.clock->slipped()) {
        const double slip = *response.clock->slip;
        faults.push_back(
            {slip < 0.0 ? CaptureFaultKind::gap : CaptureFaultKind::repeat, 0,
             std::max(Seconds{0.0}, begins),
             fmt::format("the second pilot came {:.1f} samples too {}, or whole periods of it more",
                         std::abs(slip), slip < 0.0 ? "early" : "late")});
    }
    return faults;
}

CaptureFault sweep_fault(const FigureFailure& failure) {
    const bool cut_short = failure.kind == FigureFailure::Kind::record_too_short;
    return {cut_short ? CaptureFaultKind::too_short : CaptureFaultKind::silent, 0, Seconds{0.0},
            failure.what};
}

Figure swept_frequency_response(const SweptRecord& swept, Hertz reference,
                                double flatness_u_k1_db) {
    const SweptResponse& response = swept.response;
    std::vector<ResponsePoint> points;
    for (const SweptPoint& point : response.linear) {
        points.push_back({point.frequency, std::abs(point.response),
                          response.phase_known ? std::arg(point.response) : 0.0, point.u_relative});
    }
    Figure figure =
        frequency_response(points, reference, swept.channel, flatness_u_k1_db, swept.conditions);
    if (figure.curve) {
        for (std::size_t i = 0; i < figure.curve->u_k1.size(); ++i) {
            if (figure.curve->frequency_hz[i] !=
                figure.conditions.reference_frequency->in<Hertz>()) {
                figure.curve->u_k1[i] = std::hypot(figure.curve->u_k1[i], method_u_k1_db);
            }
        }
        add_line(figure.budget, BudgetLine::Kind::systematic, "windows and resampling", "",
                 method_u_k1_db);
    }
    figure.details.emplace_back("delay", response.delay.in<Seconds>());
    if (response.clock) {
        figure.details.emplace_back("clock_offset", response.clock->offset);
    }
    if (response.in_noise > 0) {
        figure.details.emplace_back("points_in_noise", response.in_noise);
    }
    if (swept.bench.present && figure.conditions.reference_frequency) {
        for (const SweptPoint& point : response.linear) {
            if (point.frequency == *figure.conditions.reference_frequency) {
                figure.details.emplace_back(
                    "reference_gain", gain_of(AmplitudeRatio{std::abs(point.response)}).decibels());
            }
        }
    }
    return figure;
}

Figure swept_distortion(const SweptRecord& swept) {
    Figure figure = of_distortion_kind(FigureKind::thd, swept);
    Curve curve;
    int in_noise = 0;
    int highest = 2;
    for (const SweptDistortion& point : swept.response.distortion) {
        if (point.ratio.bound) {
            ++in_noise;
            continue;
        }
        curve.frequency_hz.push_back(point.frequency.in<Hertz>());
        curve.value.push_back(point.ratio.value);
        curve.u_k1.push_back(point.ratio.u_k1);
        highest = std::max(highest, point.highest_order);
    }
    if (in_noise > 0) {
        figure.details.emplace_back("points_in_noise", in_noise);
    }
    if (curve.value.empty()) {
        return without_value(
            std::move(figure),
            in_noise > 0
                ? "the distortion cannot be told from noise at any frequency: sweep longer "
                  "or louder"
                : "no frequency has its second and third harmonic inside the sweep: sweep "
                  "higher, at a higher rate");
    }
    figure.conditions.highest_order = highest;
    figure.curve = std::move(curve);
    state_range(figure);
    return figure;
}

Figure swept_harmonic(const SweptRecord& swept, const SweptOrder& order) {
    Figure figure = of_distortion_kind(FigureKind::harmonic, swept);
    figure.conditions.highest_order = order.order;
    figure.details.emplace_back("order", order.order);
    Curve curve;
    int in_noise = 0;
    for (const SweptHarmonic& point : order.points) {
        if (point.ratio <= 2.0 * point.sigma) {
            ++in_noise;
            continue;
        }
        curve.frequency_hz.push_back(point.fundamental.in<Hertz>());
        curve.value.push_back(point.ratio);
        if (swept.response.phase_known) {
            curve.phase_degrees.push_back(point.phase * 180.0 / std::numbers::pi);
        }
        curve.u_k1.push_back(point.sigma);
    }
    if (in_noise > 0) {
        figure.details.emplace_back("points_in_noise", in_noise);
    }
    if (curve.value.empty()) {
        return without_value(
            std::move(figure),
            in_noise > 0
                ? fmt::format("harmonic {} cannot be told from noise at any frequency", order.order)
                : fmt::format("harmonic {} lies nowhere inside the sweep", order.order));
    }
    figure.curve = std::move(curve);
    state_range(figure);
    return figure;
}

}  // namespace afterload::analysis
