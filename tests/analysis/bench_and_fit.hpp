/// A bench as a shop has it and fits as a quiet record gives them, for tests of budgets.
#pragma once

#include "analysis/measure.hpp"

#include <cmath>
#include <numbers>
#include <string_view>

namespace afterload::analysis::test {

/// Volts to 0.7 %, channels to 0.1 %, drive to 0.5 %, an 8 ohm load to 1 % and its heat to 1.5 %.
inline BenchShare shop_bench() {
    BenchShare bench;
    bench.present = true;
    bench.level_source = "range high, left, 2026-03-02";
    bench.level_u_k1 = 0.007;
    bench.balance_source = "range high, left against right, 2026-03-02";
    bench.balance_u_k1 = 0.001;
    bench.drive_source = "source level, 2026-03-02";
    bench.drive_u_k1 = 0.005;
    bench.load = Ohms{8.0};
    bench.load_source = "load left, 2026-03-02";
    bench.load_u_k1 = 0.01;
    bench.load_heat_u_k1 = 0.015;
    return bench;
}

/// A tone of `volts` rms at 997 Hz with its relative noise.
inline ToneFit fit_of(double volts, double relative_noise = 1e-6, double hertz = 997.0) {
    ToneFit fit;
    fit.rate = SampleRate{48000.0};
    fit.length = Seconds{1.0};
    fit.fundamental.frequency = Hertz{hertz};
    fit.fundamental.amplitude = volts * std::numbers::sqrt2;
    fit.fundamental.sigma = fit.fundamental.amplitude * relative_noise;
    return fit;
}

inline const BudgetLine* line_of(const Figure& figure, std::string_view source) {
    for (const BudgetLine& line : figure.budget) {
        if (line.source == source) {
            return &line;
        }
    }
    return nullptr;
}

/// NaN where the figure has no such detail.
inline double detail(const Figure& figure, std::string_view name) {
    for (const auto& [key, value] : figure.details) {
        if (key == name) {
            return value;
        }
    }
    return std::nan("");
}

/// Is `truth` within k = 2 of the value, or on the right side of the bound?
inline bool holds(const Figure& figure, double truth) {
    if (figure.value) {
        return std::abs(*figure.value - truth) <= expanded(figure.budget);
    }
    if (!figure.bound) {
        return false;
    }
    return figure.bound->side == Bound::Side::at_most ? truth <= figure.bound->value
                                                      : truth >= figure.bound->value;
}

}  // namespace afterload::analysis::test
