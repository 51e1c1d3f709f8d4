// What a bench without relays asks a person for.
#include "instruments/manual_instruments.hpp"

#include "tests/instruments/finish.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <vector>

namespace afterload::instruments {
namespace {

using probe::finish;
using testing::ElementsAre;
using testing::HasSubstr;

TEST(HandLoads, AreAskedForOnceEachTimeThatTheyChange) {
    std::vector<Ohms> asked;
    HandLoads loads{[&](Ohms load) {
        asked.push_back(load);
        return true;
    }};
    EXPECT_FALSE(loads.connected());
    for (const Ohms load : {Ohms{8.0}, Ohms{8.02}, Ohms{4.0}, Ohms{8.0}}) {
        EXPECT_TRUE(finish(loads.connect(load)));
        EXPECT_TRUE(finish(loads.release()));  // they stay where the person put them
    }
    EXPECT_THAT(asked, ElementsAre(Ohms{8.0}, Ohms{4.0}, Ohms{8.0}));
    EXPECT_FALSE(loads.switched());
}

TEST(HandLoads, ThatNobodyConnectsAreNotThere) {
    HandLoads loads{[](Ohms) { return false; }};
    const auto refused = finish(loads.connect(Ohms{4.0}));
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, BenchFailure::Kind::refused);
    EXPECT_THAT(text(refused.error()), HasSubstr("connect 4 ohm"));
    EXPECT_FALSE(loads.connected());
}

}  // namespace
}  // namespace afterload::instruments
