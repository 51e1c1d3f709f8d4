// A bench file by asking: what each instrument that answers is, and which relay does what.
#include "runner/bench/new_bench.hpp"

#include "sequences/bench_reader.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

namespace afterload::runner {
namespace {

using instruments::CardFound;
using instruments::WireFound;
using testing::HasSubstr;

CardFound a_card() {
    CardFound card;
    card.device = "hw:CARD=Interface,DEV=0";
    card.name = "Interface";
    card.hardware = true;
    for (auto* const direction : {&card.plays, &card.records}) {
        direction->usable = true;
        direction->rates = {48000, 96000};
        direction->bits = {16, 24};
    }
    return card;
}

const std::vector<WireFound>& three_on_wires() {
    static const std::vector<WireFound> wires{{"tcp://192.0.2.7:5025", "Invented,Meter,1,1.0", ""},
                                              {"tcp://192.0.2.8:5025", "", "it does not answer"},
                                              {"tcp://192.0.2.9:5025", "Invented,Sines,2,1.0", ""},
                                              {"usbtmc:/dev/usbtmc0", "Invented,Relays,3,1.0", ""}};
    return wires;
}

struct Asked {
    std::optional<std::string> text;
    std::string said;
};

Asked asked(const std::string& answers, const std::vector<WireFound>& wires) {
    std::istringstream in{answers};
    std::ostringstream out;
    Questions questions{in, out};
    Asked all;
    all.text = bench_asked_for(questions, {a_card()}, wires, "2026-11-30");
    all.said = out.str();
    return all;
}

sequences::BenchFile read(const std::string& text) {
    const auto bench = sequences::read_bench(text, "fresh.bench.yaml", {});
    EXPECT_TRUE(bench) << (bench ? "" : sequences::text(bench.error())) << text;
    return bench.value_or(sequences::BenchFile{});
}

TEST(NewBench, AsksWhatEachInstrumentThatAnswersIsAndWhichRelayDoesWhat) {
    // Name; meter, generator, relays; card's volts and ohms; generator's, its relay; two ranges,
    // two loads; limits, sense, cut-out.
    const Asked made = asked(
        "north\n2\n2\n2\n2 V\n100 ohm\n4 V\n50 ohm\n301\n"
        "high\n50 V peak\n60 V peak\n201\nyes\nlow\n5 V peak\n60 V peak\nthe third\n202\nno\n"
        "8 ohm\n50 W\n101\n8 ohm\n50 W\n101\n2 V\n50 W\nno\nthermal switch\n",
        three_on_wires());
    ASSERT_TRUE(made.text) << made.said;
    EXPECT_THAT(made.said, HasSubstr("What is Invented,Sines,2,1.0, at tcp://192.0.2.9:5025"));
    EXPECT_THAT(made.said, HasSubstr("the number of a relay, 0 to 99999, or none"));
    EXPECT_THAT(made.said, testing::Not(HasSubstr("192.0.2.8")));
    const sequences::BenchFile bench = read(*made.text);
    EXPECT_EQ(bench.instruments.size(), 3U);
    EXPECT_EQ(bench.relays, "relay box");
    ASSERT_TRUE(bench.generator);
    EXPECT_EQ(bench.generator->instrument, "generator");
    EXPECT_EQ(bench.generator->full_scale, VoltsRms{4.0});
    EXPECT_EQ(bench.generator->relay, 301);
    EXPECT_FALSE(bench.generator->distortion);
    ASSERT_EQ(bench.ranges.size(), 2U);
    EXPECT_EQ(bench.ranges[0].relay, 201);
    EXPECT_EQ(bench.ranges[1].relay, 202);
    ASSERT_EQ(bench.loads.size(), 2U);
    EXPECT_EQ(bench.loads[1].relay, 101);
    ASSERT_EQ(bench.meters.size(), 1U);
    EXPECT_EQ(bench.meters[0].instrument, "bench meter");
}

TEST(NewBench, WithoutARelayBoxAsksForNoRelayAndSaysThatResistorsJoinTheGenerator) {
    const std::vector<WireFound> one{three_on_wires()[2]};
    const Asked made = asked("north\n3\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n", one);
    ASSERT_TRUE(made.text) << made.said;
    EXPECT_THAT(made.said, testing::Not(HasSubstr("relay that")));
    EXPECT_THAT(*made.text, HasSubstr("no relay: resistors join it and the card"));
    EXPECT_FALSE(read(*made.text).generator->relay);
}

TEST(NewBench, AProgrammableLoadIsSetAndAsksForNoRelay) {
    const std::vector<WireFound> one{{"tcp://192.0.2.5:5025", "Invented,Load,4,1.0", ""}};
    const Asked made = asked("north\n5\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n", one);
    ASSERT_TRUE(made.text) << made.said;
    EXPECT_THAT(made.said, testing::Not(HasSubstr("relay that")));
    const sequences::BenchFile bench = read(*made.text);
    ASSERT_EQ(bench.loads.size(), 2U);
    EXPECT_EQ(bench.loads[0].instrument, "load");
    EXPECT_EQ(bench.loads[1].instrument, "load");
    ASSERT_EQ(bench.instruments.size(), 1U);
    EXPECT_EQ(bench.instruments[0].identity, "Invented,Load,4,1.0");
}

TEST(NewBench, AnInstrumentOfAnotherBenchIsLeftOut) {
    const Asked made = asked("north\n1\n1\n1\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n", three_on_wires());
    ASSERT_TRUE(made.text) << made.said;
    EXPECT_TRUE(read(*made.text).instruments.empty());
    EXPECT_THAT(*made.text, HasSubstr("Meter readings are typed in"));
}

TEST(NewBench, WhereverTheAnswersEndNothingIsMade) {
    const std::string whole =
        "north\n2\n2\n2\n2 V\n100 ohm\n4 V\n50 ohm\n301\nhigh\n50 V peak\n60 V peak\n201\nno\n"
        "8 ohm\n50 W\n101\n8 ohm\n50 W\n101\n2 V\n50 W\nno\nthermal switch\n";
    ASSERT_TRUE(asked(whole, three_on_wires()).text);
    for (std::size_t end = whole.find('\n'); end + 1 < whole.size();
         end = whole.find('\n', end + 1)) {
        EXPECT_FALSE(asked(whole.substr(0, end + 1), three_on_wires()).text) << end;
    }
}

}  // namespace
}  // namespace afterload::runner
