#!/usr/bin/env python3
"""Writes trend_fixtures.hpp: courses of readings, and what SciPy makes of them.

    python3 tests/analysis/soak/trend_fixtures.py > tests/analysis/soak/trend_fixtures.hpp
"""

import numpy as np
from scipy.optimize import curve_fit
from scipy.stats import linregress


def listed(values):
    return ", ".join(f"{v:.17g}" for v in values)


def main():
    random = np.random.default_rng(5)
    minutes = np.arange(0.0, 121.0, 10.0)
    seconds = 60.0 * minutes
    line = 26.02 + 0.004 * minutes + random.normal(0.0, 0.02, minutes.size)
    fitted = linregress(seconds / 3600.0, line)
    # A bias that warms up, read with an uncertainty that grows.
    times = 60.0 * np.array([0.0, 1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0])
    u = 0.03 + 0.002 * np.arange(times.size)
    warm = 12.0 - 3.6 * np.exp(-times / 540.0) + u * random.normal(0.0, 1.0, times.size)

    def curve(t, c, d, tau):
        return c + d * np.exp(-t / tau)

    known, known_covariance = curve_fit(curve, times, warm, [12.0, -3.0, 600.0], sigma=u,
                                        absolute_sigma=True, ftol=1e-14, xtol=1e-14)
    chi = float(np.sum(((warm - curve(times, *known)) / u) ** 2))
    widened = max(1.0, chi / (times.size - 3))
    even, even_covariance = curve_fit(curve, times, warm, [12.0, -3.0, 600.0],
                                      ftol=1e-14, xtol=1e-14)
    print("// Made by trend_fixtures.py with SciPy: do not edit.")
    print("#pragma once\n\n#include <array>\n")
    print("namespace afterload::analysis::fixtures {\n")
    for name, values in (("line_s", seconds), ("line_values", line), ("warm_s", times),
                         ("warm_values", warm), ("warm_u", u)):
        print(f"inline constexpr std::array<double, {len(values)}> {name}{{{listed(values)}}};")
    for name, value in (
        ("line_slope_an_hour", fitted.slope), ("line_slope_u", fitted.stderr),
        ("warm_c", known[0]), ("warm_d", known[1]), ("warm_tau", known[2]),
        ("warm_c_u", np.sqrt(widened * known_covariance[0, 0])),
        ("warm_d_u", np.sqrt(widened * known_covariance[1, 1])),
        ("warm_tau_u", np.sqrt(widened * known_covariance[2, 2])),
        ("even_c", even[0]), ("even_d", even[1]), ("even_tau", even[2]),
        ("even_c_u", np.sqrt(even_covariance[0, 0])),
        ("even_tau_u", np.sqrt(even_covariance[2, 2])),
    ):
        print(f"inline constexpr double {name} = {value:.17g};")
    print("\n}  // namespace afterload::analysis::fixtures")


if __name__ == "__main__":
    main()
