// Hint rules from their text.
#include "sequences/hint_reader.hpp"

#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace afterload::sequences {
namespace {

using testing::HasSubstr;
using testing::Not;

const std::string own_text = R"(afterload: hints/1
title: Ours
facts:
  - {fact: bass, words: response at 30 Hz, figure: frequency_response, frequency: 30 Hz}
hints:
  - hint: mono
    about: control
    family: crosstalk
    channels: both
    explains: [channel_separation]
    when:
      - {fact: separation, at_most: 3 dB}
    usually: mono
    look: the mode switch of ours
    separates: set it to stereo
  - hint: ours
    about: unit
    family: coupling
    channels: one
    explains: [frequency_response]
    when:
      - {fact: bass, of: apart, at_most: -0.5 dB}
      - any:
          - {fact: separation, at_least: 40 dB}
          - {fact: silent}
    usually: a thing of ours
    look: C711
    separates: bridge it
)";

const HintRule& hint(const HintRules& rules, const std::string& name) {
    const auto found = std::find_if(rules.hints.begin(), rules.hints.end(),
                                    [&name](const HintRule& rule) { return rule.name == name; });
    EXPECT_NE(found, rules.hints.end()) << name;
    return found == rules.hints.end() ? rules.hints.front() : *found;
}

TEST(HintReader, TheRulesInTheProgramAreTheFileThatShips) {
    EXPECT_EQ(shipped_hints_text(), file_text(source_path("sequences/shipped/first.hints.yaml")));
    EXPECT_GT(shipped_hints().hints.size(), 35U);
}

TEST(HintReader, EveryFactThatShipsIsUsed) {
    const std::string text{shipped_hints_text()};
    for (const HintFact& fact : shipped_hints().facts) {
        const bool named = text.find("fact: " + fact.name + ",") != std::string::npos ||
                           text.find("fact: " + fact.name + "}") != std::string::npos;
        EXPECT_TRUE(named) << fact.name;
        std::size_t times = 0;
        for (std::size_t at = text.find(fact.name); at != std::string::npos;
             at = text.find(fact.name, at + 1)) {
            ++times;
        }
        EXPECT_GE(times, 2U) << fact.name;
    }
}

TEST(HintReader, NoRuleThatShipsSaysWhatToReplace) {
    for (const HintRule& rule : shipped_hints().hints) {
        for (const std::string& words : {rule.usually, rule.look, rule.separates}) {
            EXPECT_THAT(words, Not(HasSubstr("replace "))) << rule.name;
            EXPECT_FALSE(words.empty()) << rule.name;
        }
    }
}

TEST(HintReader, WhoLooksInsideAUnitIsCautioned) {
    for (const HintRule& rule : shipped_hints().hints) {
        if (rule.about == HintAbout::unit) {
            EXPECT_FALSE(rule.cautions.empty()) << rule.name;
        }
    }
}

TEST(HintReader, NothingInsideAUnitIsCertain) {
    for (const HintRule& rule : shipped_hints().hints) {
        if (rule.about == HintAbout::unit) {
            EXPECT_NE(rule.confidence, HintConfidence::certain) << rule.name;
        }
    }
}

TEST(HintReader, RulesOfOnesOwnLieOverThoseThatShip) {
    const auto read = read_hints(own_text, "ours.hints.yaml", &shipped_hints());
    ASSERT_TRUE(read.has_value()) << text(read.error());
    EXPECT_EQ(read->hints.size(), shipped_hints().hints.size() + 1);
    EXPECT_EQ(read->facts.size(), shipped_hints().facts.size());
    EXPECT_EQ(hint(*read, "mono").look, "the mode switch of ours");
    EXPECT_EQ(read->find_fact("bass")->conditions.frequency, Hertz{30.0});
    const HintRule& ours = hint(*read, "ours");
    ASSERT_EQ(ours.when.size(), 2U);
    EXPECT_EQ(ours.when[0].of, HintCondition::Of::apart);
    EXPECT_EQ(ours.when[0].at_most, -0.5);
    EXPECT_EQ(ours.when[1].any.size(), 2U);
}

TEST(HintReader, AFileThatStandsAloneKnowsNoFactsButItsOwn) {
    const auto read = read_hints(own_text, "ours.hints.yaml");
    ASSERT_FALSE(read.has_value());
    EXPECT_THAT(text(read.error()), HasSubstr("ours.hints.yaml:12:16: “separation”"));
}

TEST(HintReader, ALimitHasTheUnitOfItsFact) {
    std::string text = own_text;
    const auto at = text.find("3 dB");
    text.replace(at, 4, "3 mV");
    const auto read = read_hints(text, "ours.hints.yaml", &shipped_hints());
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(read.error().count(), 1U);
    EXPECT_THAT(sequences::text(read.error()), HasSubstr(":12:"));
}

}  // namespace
}  // namespace afterload::sequences
