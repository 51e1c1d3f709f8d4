// How often the uncertainties of a swept response hold, over many draws of noise: 93 to 97 % at
// k = 2 in every octave. They are those of noise: the truth is what the same capture gives without
// it, and how near that is to the unit's own response is in swept_response_test. 80 draws of 24
// points an octave know a coverage to about 1 %, for neighbouring points share some of their noise.
#include "analysis/swept_response.hpp"
#include "tests/analysis/swept_capture.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>

namespace afterload::analysis {
namespace {

using test::SweptCapture;

constexpr int draws = 80;

struct Held {
    int count = 0;
    int within = 0;
    void add(bool held) {
        ++count;
        within += held ? 1 : 0;
    }
    [[nodiscard]] double share() const { return static_cast<double>(within) / count; }
};

int octave_of(Hertz frequency) {
    return static_cast<int>(std::floor(std::log2(frequency / Hertz{10.0})));
}

TEST(SweptResponse, UncertaintyHoldsNineteenTimesInTwenty) {
    for (const double noise : {1e-3, 1e-5}) {
        SweptCapture capture;
        capture.ppm = 20.0;
        const Waveform played = capture.played();
        const std::vector<double> clean = capture.recorded();
        const auto truth = swept_response({clean, capture.rate}, played, capture.plan);
        ASSERT_TRUE(truth.has_value()) << truth.error().what;
        std::map<int, Held> response_held;
        std::map<int, Held> harmonics_held;
        for (int draw = 0; draw < draws; ++draw) {
            std::vector<double> record = clean;
            SweptCapture::add_noise(record, noise, static_cast<std::uint64_t>(1000 + draw));
            const auto response = swept_response({record, capture.rate}, played, capture.plan);
            ASSERT_TRUE(response.has_value()) << response.error().what;
            ASSERT_EQ(response->linear.size(), truth->linear.size());
            for (std::size_t i = 0; i < truth->linear.size(); ++i) {
                const SweptPoint& point = response->linear[i];
                const double error =
                    std::abs(point.response) / std::abs(truth->linear[i].response) - 1.0;
                response_held[octave_of(point.frequency)].add(std::abs(error) <
                                                              2.0 * point.u_relative);
            }
            for (const SweptOrder& order : response->harmonics) {
                for (const SweptHarmonic& point : order.points) {
                    // There are none: one quadrature is noise of the stated deviation.
                    harmonics_held[octave_of(point.fundamental)].add(
                        std::abs(point.ratio * std::cos(point.phase)) < 2.0 * point.sigma);
                }
            }
        }
        for (const auto& [octave, held] : response_held) {
            if (held.count < 20 * draws) {
                continue;  // a part of an octave says too little
            }
            EXPECT_GT(held.share(), 0.93) << "octave " << octave << ", noise " << noise;
            EXPECT_LT(held.share(), 0.97) << "octave " << octave << ", noise " << noise;
        }
        for (const auto& [octave, held] : harmonics_held) {
            if (held.count < 20 * draws) {
                continue;
            }
            EXPECT_GT(held.share(), 0.93) << "octave " << octave << ", noise " << noise;
            EXPECT_LT(held.share(), 0.97) << "octave " << octave << ", noise " << noise;
        }
    }
}

}  // namespace
}  // namespace afterload::analysis
