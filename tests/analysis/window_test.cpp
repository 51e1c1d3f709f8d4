#include "analysis/window.hpp"

#include "tests/analysis/check_values.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <map>
#include <numbers>
#include <string>

namespace afterload::analysis {
namespace {

using test::check_values;
using test::CheckRow;
using test::expect_published;

constexpr const char* windows_source =
    "Harris, Proc. IEEE 66(1), 1978; Nuttall, IEEE Trans. ASSP-29(1), 1981; Heinzel et al. 2002";

// windows.csv names a few windows by their coefficients; the rest by the name used here.
const CheckRow& row_of(WindowKind kind) {
    static const std::map<std::string, CheckRow> rows = [] {
        std::map<std::string, CheckRow> by_name;
        for (const CheckRow& row : check_values("windows.csv")) {
            by_name.emplace(row.text("window"), row);
        }
        return by_name;
    }();
    static const std::map<WindowKind, std::string> named{
        {WindowKind::hamming, "Hamming (0.54/0.46)"},
        {WindowKind::blackman, "Blackman (0.42/0.50/0.08)"},
        {WindowKind::blackman_harris_4, "Blackman-Harris 4-term min (-92)"}};
    const auto alias = named.find(kind);
    return rows.at(alias == named.end() ? std::string{name(kind)} : alias->second);
}

// Level of a line `bins` beside the window's middle, re its sum. In long double: side lobes reach
// -248 dB, where the rounding of a sum of thousands in double shows.
double response(const std::vector<double>& w, double bins) {
    std::complex<long double> sum{0.0L, 0.0L};
    long double whole = 0.0L;
    const long double step =
        2.0L * std::numbers::pi_v<long double> * bins / static_cast<long double>(w.size());
    for (std::size_t n = 0; n < w.size(); ++n) {
        const long double angle = step * static_cast<long double>(n);
        sum += static_cast<long double>(w[n]) *
               std::complex<long double>{std::cos(angle), std::sin(angle)};
        whole += w[n];
    }
    return static_cast<double>(std::abs(sum) / whole);
}

class EachWindow : public testing::TestWithParam<WindowKind> {};

INSTANTIATE_TEST_SUITE_P(Window, EachWindow, testing::ValuesIn(all_window_kinds()),
                         [](const auto& param) {
                             std::string text{name(param.param)};
                             std::erase_if(text, [](char c) {
                                 return std::isalnum(static_cast<unsigned char>(c)) == 0;
                             });
                             return text;
                         });

TEST_P(EachWindow, HasTheTabledGainAndNoiseBandwidth) {
    const CheckRow& row = row_of(GetParam());
    // The table prints eight decimals.
    const std::string window{name(GetParam())};
    expect_published(windows_source, window + " window, coherent gain", coherent_gain(GetParam()),
                     row.number("coherent_gain_re_peak"), 1e-8);
    expect_published(windows_source, window + " window, noise bandwidth, bins",
                     noise_bandwidth_bins(GetParam()), row.number("nenbw_bins"), 1e-8);
}

TEST_P(EachWindow, SumsOfItsSamplesGiveTheSameFigures) {
    const std::vector<double> w = window(GetParam(), 1024);
    double sum = 0.0;
    double squares = 0.0;
    for (const double x : w) {
        sum += x;
        squares += x * x;
    }
    EXPECT_NEAR(sum / 1024.0, coherent_gain(GetParam()), 1e-13);
    EXPECT_NEAR(1024.0 * squares / (sum * sum), noise_bandwidth_bins(GetParam()), 1e-12);
    EXPECT_NEAR(*std::max_element(w.begin(), w.end()), 1.0, 1e-12);
}

TEST_P(EachWindow, LosesAtHalfABinWhatTheTableSays) {
    const std::vector<double> w = window(GetParam(), 1024);
    // The table holds for N → ∞; at 1024 points the difference is below 1e-5 dB.
    expect_published(windows_source,
                     std::string{name(GetParam())} + " window, loss at half a bin, dB",
                     test::decibels(response(w, 0.5)),
                     row_of(GetParam()).number("scalloping_at_half_bin_dB"), 2e-5);
}

TEST_P(EachWindow, HasTheTabledHighestSideLobe) {
    const std::vector<double> w = window(GetParam(), 8192);
    const double at = row_of(GetParam()).number("psll_at_bin");
    double highest = 0.0;
    for (double bins = at - 0.5; bins <= at + 0.5; bins += 0.02) {
        if (bins > main_lobe_bins(GetParam())) {
            highest = std::max(highest, response(w, bins));
        }
    }
    // 0.005 dB: the step of the search and three decimals of the table, which holds for N → ∞.
    expect_published(windows_source,
                     std::string{name(GetParam())} + " window, highest side lobe, dB",
                     test::decibels(highest), row_of(GetParam()).number("psll_dB"), 0.005);
}

TEST_P(EachWindow, IsPeriodicAndSymmetric) {
    for (const std::size_t length : {64U, 65U}) {
        const std::vector<double> w = window(GetParam(), length);
        ASSERT_EQ(w.size(), length);
        for (std::size_t j = 1; j < length; ++j) {
            EXPECT_DOUBLE_EQ(w[j], w[length - j]);
        }
    }
}

// A symmetric Hann of 1024 points has 1.501466 bins; the periodic one has 1.5 exactly.
TEST(Window, HannIsTheDftEvenOne) {
    EXPECT_NEAR(noise_bandwidth_bins(WindowKind::hann), 1.5, 1e-15);
    EXPECT_EQ(window(WindowKind::hann, 8)[0], 0.0);
    EXPECT_NEAR(window(WindowKind::hann, 8)[4], 1.0, 1e-15);
}

}  // namespace
}  // namespace afterload::analysis
