// How often the stated uncertainties hold: 2000 draws know a coverage of 95 % to 0.5 %; the band is
// the one a k = 2 statement is held to, 93 to 97 %.
#include "tests/analysis/multitone_coverage.hpp"

#include <gtest/gtest.h>

namespace afterload::analysis {
namespace {

TEST(MultitoneCoverage, TwoThousandDrawsHoldTheirUncertainty) {
    const test::MultitoneCoverage coverage = test::multitone_coverage(2000, 7);
    for (const auto& [name, share] : coverage.shares()) {
        EXPECT_GE(share, 0.93) << name;
        EXPECT_LE(share, 0.97) << name;
        RecordProperty(name, std::to_string(share));
    }
}

}  // namespace
}  // namespace afterload::analysis
