#include "runner/papers/number_text.hpp"
#include "runner/papers/report_plots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace afterload::runner {

namespace {

struct Harmonic {
    int order = 2;
    double db = 0.0;
};

std::string ordinal(int order) {
    switch (order) {
        case 2:
            return "2nd";
        case 3:
            return "3rd";
        default:
            return fmt::format("{}th", order);
    }
}

double percent_of(double db) {
    return 100.0 * std::pow(10.0, db / 20.0);
}

/// To two digits, as a frequency is called.
double rounded(double hertz) {
    const double place = std::pow(10.0, std::floor(std::log10(hertz)) - 1.0);
    return std::round(hertz / place) * place;
}

/// Half of what stands between two harmonics is noise: its median is the ground.
double ground_of(const SpectrumPlot& plot) {
    std::vector<double> levels = plot.high_db;
    if (levels.empty()) {
        return -200.0;
    }
    const auto middle = levels.begin() + static_cast<std::ptrdiff_t>(levels.size() / 2);
    std::nth_element(levels.begin(), middle, levels.end());
    return *middle;
}

/// Harmonics that stand out of the ground: the largest column near each multiple.
std::vector<Harmonic> harmonics_of(const SpectrumPlot& plot, int highest) {
    std::vector<Harmonic> harmonics;
    if (plot.frequency_hz.size() < 2 || !(plot.fundamental_hz > 0.0)) {
        return harmonics;
    }
    const double column = plot.frequency_hz[1] - plot.frequency_hz[0];
    const double ground = ground_of(plot);
    for (int order = 2; order <= highest; ++order) {
        const double wanted = order * plot.fundamental_hz;
        std::optional<double> level;
        for (std::size_t i = 0; i < plot.frequency_hz.size(); ++i) {
            if (std::abs(plot.frequency_hz[i] - wanted) <= 1.5 * column) {
                level = std::max(level.value_or(-300.0), plot.high_db[i]);
            }
        }
        if (level && *level > ground + 6.0) {
            harmonics.push_back({order, *level});
        }
    }
    return harmonics;
}

PlotCanvas canvas_of(const SpectrumPlot& plot, const std::vector<Harmonic>& harmonics, bool wide) {
    const PlotCanvas::Margins margins = wide ? PlotCanvas::Margins{46.0, 24.0, 24.0, 50.0}
                                             : PlotCanvas::Margins{38.0, 24.0, 8.0, 50.0};
    const int highest = wide ? 16 : 9;
    PlotCanvas canvas{wide ? 960.0 : 328.0, wide ? 310.0 : 210.0, margins};
    const double lowest = ground_of(plot) < -116.0 ? -140.0 : -120.0;
    canvas.x_axis(0.0, (highest + 0.3) * plot.fundamental_hz, false);
    canvas.y_axis(lowest, 0.0, false);
    std::vector<double> levels;
    const int steps = static_cast<int>(std::lround(-lowest / 20.0));
    levels.reserve(static_cast<std::size_t>(steps) + 1);
    for (int i = 0; i <= steps; ++i) {
        levels.push_back(-20.0 * i);
    }
    canvas.y_ticks(levels, {}, "level, dB re the fundamental");
    canvas.x_ticks({}, {}, "order; frequency, Hz", 43.0);
    for (int order = 1; order <= highest; ++order) {
        const double at = order * plot.fundamental_hz;
        if (plot.frequency_hz.empty() || at > plot.frequency_hz.back()) {
            break;
        }
        canvas.x_tick(at, std::to_string(order));
        if (order % 2 == 1 && (wide || order % 4 == 1)) {
            canvas.note(at, canvas.y().low, 0.0, -27.0, tick_text(rounded(at)), "middle");
        }
    }
    canvas.band(plot.frequency_hz, plot.low_db, plot.high_db);
    const Trace trace = plot.channel == 2 ? Trace::right : Trace::left;
    const char* kind = plot.channel == 2 ? "right" : "left";
    canvas.stem(plot.fundamental_hz, 0.0, trace, 0.0);
    canvas.note(plot.fundamental_hz, 0.0, 7.0, -12.0,
                page(fmt::format("fundamental, {}, {}", quantity_text(plot.fundamental_hz, "Hz", 3),
                                 quantity_text(plot.fundamental_volts, "V", 3))));
    std::vector<Harmonic> largest = harmonics;
    std::sort(largest.begin(), largest.end(),
              [](const Harmonic& a, const Harmonic& b) { return a.db > b.db; });
    largest.resize(std::min<std::size_t>(largest.size(), wide ? 4 : 2));
    for (const Harmonic& harmonic : harmonics) {
        if (harmonic.order <= highest) {
            canvas.stem(harmonic.order * plot.fundamental_hz, harmonic.db, trace, 0.0);
        }
    }
    for (const Harmonic& harmonic : largest) {
        if (harmonic.order <= highest) {
            canvas.label(harmonic.order * plot.fundamental_hz, harmonic.db,
                         page(fmt::format("{} {} %", ordinal(harmonic.order),
                                          plain(percent_of(harmonic.db), 2))),
                         kind);
        }
    }
    return canvas;
}

std::string caption_of(const std::vector<Harmonic>& harmonics) {
    if (harmonics.empty()) {
        return "No harmonic stands out of the noise.";
    }
    const auto largest =
        std::max_element(harmonics.begin(), harmonics.end(),
                         [](const Harmonic& a, const Harmonic& b) { return a.db < b.db; });
    double odd = 0.0;
    double even = 0.0;
    for (const Harmonic& harmonic : harmonics) {
        (harmonic.order % 2 == 1 ? odd : even) += std::pow(10.0, harmonic.db / 10.0);
    }
    std::string caption =
        fmt::format("The largest harmonic is the {}, {} % ({} dB).", ordinal(largest->order),
                    plain(percent_of(largest->db), 2), fixed(largest->db, 1));
    if (odd > 10.0 * even) {
        caption += " The odd ones carry nearly all of it: the curve bends alike on both halves.";
    } else if (even > 10.0 * odd) {
        caption += " The even ones carry nearly all of it: the two halves bend differently.";
    }
    return page(caption);
}

}  // namespace

void add_spectrum_plots(const RunDocument& run, std::vector<ReportPlot>& plots) {
    for (const SpectrumPlot& spectrum : run.spectra) {
        if (spectrum.frequency_hz.size() < 2 || !(spectrum.fundamental_hz > 0.0)) {
            continue;
        }
        const std::vector<Harmonic> harmonics = harmonics_of(spectrum, 16);
        ReportPlot plot;
        plot.title = page(fmt::format("Spectrum {}, {}", spectrum.title,
                                      spectrum.channel == 2 ? "right" : "left"));
        plot.caption = caption_of(harmonics);
        plot.extremes = page(fmt::format("The noise between the lines lies at {} dB.",
                                         fixed(ground_of(spectrum), 0)));
        plot.numbers.heads = {"harmonic", "frequency", "dB re the fundamental", "%"};
        for (const Harmonic& harmonic : harmonics) {
            plot.numbers.rows.push_back(
                {ordinal(harmonic.order),
                 page(quantity_text(harmonic.order * spectrum.fundamental_hz, "Hz")),
                 page(fixed(harmonic.db, 1)), page(plain(percent_of(harmonic.db), 3))});
        }
        plot.drawings.emplace_back("wide", canvas_of(spectrum, harmonics, true));
        plot.drawings.emplace_back("narrow", canvas_of(spectrum, harmonics, false));
        plots.push_back(std::move(plot));
    }
}

}  // namespace afterload::runner
