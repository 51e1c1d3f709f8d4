// What `afterload instruments` says of cards, on the test card: its rates and formats are known.
#include "instruments/card/card_list.hpp"

#include "tests/instruments/test_card.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload::instruments {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

TEST(CardList, SaysWhatACardCanDo) {
    const test::TestCard wires;
    const auto cards = cards_found({"testcard"});
    ASSERT_FALSE(cards.empty());
    const CardFound& card = cards.back();
    EXPECT_EQ(card.device, "testcard");
    EXPECT_FALSE(card.hardware);
    for (const CardAbility& can : {card.plays, card.records}) {
        EXPECT_TRUE(can.usable) << can.why_not;
        EXPECT_THAT(can.rates, ElementsAre(44100, 48000, 96000));
        EXPECT_THAT(can.bits, ElementsAre(32));
        EXPECT_EQ(can.channels, 2);
    }
}

TEST(CardList, SaysWhyADeviceCannotBeUsed) {
    const test::TestCard wires;
    const auto cards = cards_found({"no_such_card"});
    ASSERT_FALSE(cards.empty());
    EXPECT_FALSE(cards.back().plays.usable);
    EXPECT_THAT(cards.back().plays.why_not, HasSubstr("it does not play"));
}

}  // namespace
}  // namespace afterload::instruments
