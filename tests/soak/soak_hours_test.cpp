// Hours of soak at the card's own rate, in virtual time: every block computed and watched.

#include "tests/soak/soak_bench.hpp"
#include "tests/support/simulated_run.hpp"

#include <gtest/gtest.h>

namespace afterload::test {
namespace {

TEST(SoakOfHours, AHealthyUnitPassesFourHoursAt48KilohertzWithoutAnEvent) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 240.0;
    wanted.rate = 48000.0;
    wanted.remeasure = true;
    wanted.change = [](sequences::Soak& soak) {
        for (auto& again : soak.remeasure) {
            again.every = Seconds{1800.0};
        }
    };
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.events().empty()) << run.told();
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass);
    EXPECT_GT(run.soak().watched.in<Seconds>(), 4.0 * 3600.0 - 120.0);
    EXPECT_LT(run.strain.worst_range_use, 1.0);
}

}  // namespace
}  // namespace afterload::test
