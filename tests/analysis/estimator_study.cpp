// The tone fit against the Cramér-Rao bound over noise, record length, frequency, clock and hum:
// one row a case, as Markdown. It judges nothing; tone_bound_test.cpp holds the bound.
//
//     estimator_study [DRAWS]      600 unless told otherwise; a tenth of it for ten seconds
#include "analysis/harmonic.hpp"
#include "tests/analysis/tone_bound.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace {

using namespace afterload;
using namespace afterload::analysis;
using test::BoundCase;

void tell(const BoundCase& one) {
    const auto ratio = test::over_bound(one);
    std::printf("| %g | %g | %g | %g | %s | ", one.seconds, one.nominal, one.snr_db, one.off_ppm,
                one.hum ? "yes" : "no");
    if (ratio) {
        std::printf("%.3f | %.3f | %.3f | %.3f |\n", ratio->amplitude, ratio->frequency,
                    ratio->third, 1.0 / std::sqrt(2.0 * one.draws));
    } else {
        std::printf("no fit | | | |\n");
    }
    std::fflush(stdout);
}

/// Worst error of THD, dB, of a second and third harmonic at -120 dBc each in doubles without
/// noise.
double worst_at_minus_120() {
    double worst = 0.0;
    for (const double seconds : {0.1, 0.2, 0.5, 1.0}) {
        for (int i = 0; i < 20; ++i) {
            const double f = (997.0 + 0.05 * i / seconds) * (1.0 + 1e-5 * (i - 10));
            test::Synthesis record{48000.0, seconds};
            record.line(f, 1.0, 0.31 * i).line(2.0 * f, 1e-6, 1.7 * i).line(3.0 * f, 1e-6, 0.9 * i);
            ToneFitSettings settings;
            settings.nominal = Hertz{997.0 + 0.05 * i / seconds};
            const auto fit = fit_tone(record, settings);
            const auto thd =
                fit ? total_harmonic_distortion(*fit, {9, default_upper_edge(SampleRate{48000.0})})
                    : Expected<Distortion>{tl::unexpected(fit.error())};
            worst =
                thd ? std::max(worst,
                               std::abs(test::decibels(thd->ratio.value / (1e-6 * std::sqrt(2.0)))))
                    : HUGE_VAL;
        }
    }
    return worst;
}

}  // namespace

int main(int count, char** words) {
    const int draws = count > 1 ? std::atoi(words[1]) : 600;
    std::printf(
        "Standard deviation over the Cramér-Rao bound; the last column is what the ratio "
        "itself is known to.\n\n"
        "| record, s | tone, Hz | S/N, dB | off by up to, ppm | hum | amplitude | frequency "
        "| H3 | ± |\n|---|---|---|---|---|---|---|---|---|\n");
    for (const double snr : {40.0, 60.0, 80.0, 100.0, 120.0}) {
        for (const double seconds : {0.01, 0.1, 1.0, 10.0}) {
            for (const bool hum : {false, true}) {
                BoundCase one;
                one.seconds = seconds;
                one.nominal = 1997.0;
                one.snr_db = snr;
                one.hum = hum;
                one.draws = seconds > 5.0 ? std::max(10, draws / 10) : draws;
                tell(one);
            }
        }
    }
    for (const double tone : {112.0, 6667.0}) {
        for (const double ppm : {0.0, 50.0, 200.0}) {
            BoundCase one;
            one.nominal = tone;
            one.off_ppm = ppm;
            one.snr_db = 80.0;
            one.hum = true;
            one.draws = draws;
            tell(one);
        }
    }
    std::printf(
        "\nTHD of harmonics at -120 dBc in doubles without noise: off by at most %.3g dB.\n",
        worst_at_minus_120());
    return 0;
}
