#include "sequences/yaml.hpp"

#include <gtest/gtest.h>

#include <string>

namespace afterload::sequences {
namespace {

struct Outcome {
    YamlDocument document;
    Diagnostics diagnostics;

    [[nodiscard]] std::string first() const {
        return diagnostics.mistakes.empty() ? "" : diagnostics.mistakes.front().what;
    }
};

Outcome read(const std::string& text) {
    Outcome outcome;
    const SourceText source{text};
    outcome.document = read_yaml(text, source, outcome.diagnostics);
    return outcome;
}

TEST(Yaml, BuildsATreeWithPlaces) {
    const Outcome outcome =
        read("load: 8 ohm\nranges:\n  - {name: high, safe: 60 V}\n  - 'Ω low'\n");
    ASSERT_TRUE(outcome.document.readable);
    EXPECT_TRUE(outcome.diagnostics.empty()) << text(outcome.diagnostics);
    const Node& root = outcome.document.root;
    ASSERT_EQ(root.kind, Node::Kind::mapping);
    const Node* const load = root.find("load");
    ASSERT_NE(load, nullptr);
    EXPECT_EQ(load->text, "8 ohm");
    EXPECT_EQ(load->place, (Place{1, 7}));
    EXPECT_FALSE(load->quoted);
    const Node* const ranges = root.find("ranges");
    ASSERT_NE(ranges, nullptr);
    ASSERT_EQ(ranges->items.size(), 2U);
    EXPECT_EQ(ranges->items[0].find("safe")->place, (Place{3, 24}));
    EXPECT_EQ(ranges->items[0].entries[1].place, (Place{3, 18}));
    EXPECT_TRUE(ranges->items[1].quoted);
    EXPECT_EQ(ranges->items[1].text, "Ω low");
    EXPECT_EQ(root.find("missing"), nullptr);
}

TEST(Yaml, LeavesTheMeaningOfScalarsToTheReader) {
    const Outcome outcome = read("a: 010\nb: yes\nc: 1_000\nd: 2026-03-02\ne: ~\nf:\n");
    EXPECT_EQ(outcome.document.root.find("a")->text, "010");
    EXPECT_EQ(outcome.document.root.find("b")->text, "yes");
    EXPECT_EQ(outcome.document.root.find("c")->text, "1_000");
    EXPECT_EQ(outcome.document.root.find("d")->text, "2026-03-02");
    EXPECT_EQ(outcome.document.root.find("f")->kind, Node::Kind::empty);
}

TEST(Yaml, ReadsAByteOrderMarkAtTheStartAndWindowsLineEnds) {
    const Outcome outcome = read("\xef\xbb\xbfload: 8 ohm\r\nrange: high\r\n");
    ASSERT_TRUE(outcome.diagnostics.empty()) << text(outcome.diagnostics);
    EXPECT_EQ(outcome.document.root.find("load")->text, "8 ohm");
    EXPECT_EQ(outcome.document.root.find("range")->text, "high");
}

TEST(Yaml, NamesADuplicateKeyAtItsSecondPlace) {
    const Outcome outcome = read("load: 8 ohm\nload: 4 ohm\n");
    ASSERT_EQ(outcome.diagnostics.count(), 1U);
    EXPECT_EQ(outcome.diagnostics.mistakes[0].place, (Place{2, 1}));
    EXPECT_EQ(outcome.document.root.entries.size(), 1U);
}

TEST(Yaml, RefusesWhatCouldHurtEachWithItsOwnWords) {
    EXPECT_NE(read("a: &x 1\n").first().find("anchors"), std::string::npos);
    EXPECT_NE(read("a: &x [1]\nb: *x\n").first().find("anchors"), std::string::npos);
    EXPECT_NE(read("a: !!str 1\n").first().find("tag"), std::string::npos);
    EXPECT_NE(read("a: !thing {b: 1}\n").first().find("tag"), std::string::npos);
    EXPECT_NE(read("<<: {a: 1}\n").first().find("merge key"), std::string::npos);
    EXPECT_NE(read("a: 1\n---\nb: 2\n").first().find("second document"), std::string::npos);
    EXPECT_NE(read("? [a, b]\n: 1\n").first().find("key must be a word"), std::string::npos);
    EXPECT_NE(read("'': 1\n").first().find("key must be a word"), std::string::npos);
    EXPECT_NE(read("a: [1, 2\n").first().find("cannot be read as YAML"), std::string::npos);
    EXPECT_NE(read(std::string{"a: \0b", 5}).first().find("0x00"), std::string::npos);
    EXPECT_NE(read("a: \x1b[2J\n").first().find("0x1b"), std::string::npos);
    EXPECT_NE(read("a: \xc2\x85\n").first().find("0x85"), std::string::npos);
    EXPECT_NE(read("a: \xff\n").first().find("UTF-8"), std::string::npos);
}

TEST(Yaml, DepthThirtyTwoIsReadAndThirtyThreeIsNot) {
    const auto nested = [](int depth) {
        return std::string(static_cast<std::size_t>(depth), '[') + "1" +
               std::string(static_cast<std::size_t>(depth), ']');
    };
    EXPECT_TRUE(read(nested(32)).diagnostics.empty());
    EXPECT_NE(read(nested(33)).first().find("32 levels"), std::string::npos);
    EXPECT_FALSE(read(nested(100000)).diagnostics.empty());
    EXPECT_FALSE(read(std::string(100000, '[')).diagnostics.empty());
    EXPECT_FALSE(read(std::string(100000, '{')).diagnostics.empty());
    std::string blocks;
    for (int i = 0; i < 300; ++i) {
        blocks += std::string(static_cast<std::size_t>(i), ' ') + "a:\n";
    }
    EXPECT_NE(read(blocks).first().find("32 levels"), std::string::npos);
    std::string questions;
    for (int i = 0; i < 20000; ++i) {
        questions += "? ";
    }
    EXPECT_FALSE(read(questions).diagnostics.empty());
    std::string dashes;
    for (int i = 0; i < 20000; ++i) {
        dashes += "- ";
    }
    EXPECT_FALSE(read(dashes).diagnostics.empty());
}

TEST(Yaml, TwentyThousandValuesAreReadAndOneMoreIsNot) {
    const auto list = [](int items) {
        std::string text = "[1";
        for (int i = 1; i < items; ++i) {
            text += ",1";
        }
        return text + "]";
    };
    EXPECT_TRUE(read(list(19999)).diagnostics.empty());  // the list itself counts
    EXPECT_NE(read(list(20000)).first().find("more than 20000 values"), std::string::npos);
}

TEST(Yaml, AliasBombsAreNamedAndNeverWalked) {
    std::string bomb = "a: &a [x,x,x,x,x,x,x,x,x]\n";
    for (char name = 'b'; name < 'k'; ++name) {
        const auto before = static_cast<char>(name - 1);
        bomb += std::string{name} + ": &" + name + " [";
        for (int i = 0; i < 9; ++i) {
            bomb += std::string{i == 0 ? "*" : ",*"} + before;
        }
        bomb += "]\n";
    }
    const Outcome outcome = read(bomb);
    EXPECT_EQ(outcome.diagnostics.count(), 2U) << text(outcome.diagnostics);
    EXPECT_EQ(read("a: &x\n  - *x\n").diagnostics.count(), 2U);
}

TEST(Yaml, AHundredMebibytesAreRefusedBySize) {
    const std::string huge(100UL * 1024UL * 1024UL, 'a');
    Diagnostics diagnostics;
    const SourceText source{std::string_view{huge}.substr(0, YamlLimits{}.bytes)};
    const YamlDocument document = read_yaml(huge, source, diagnostics);
    EXPECT_FALSE(document.readable);
    ASSERT_EQ(diagnostics.count(), 1U);
    EXPECT_NE(diagnostics.mistakes[0].what.find("104857600 bytes"), std::string::npos);
}

TEST(Yaml, ManyKeysInOneMappingStayLinear) {
    std::string keys;
    for (int i = 0; i < 9000; ++i) {
        keys += "k" + std::to_string(i) + ": 1\n";
    }
    const Outcome outcome = read(keys);
    EXPECT_TRUE(outcome.diagnostics.empty());
    EXPECT_EQ(outcome.document.root.entries.size(), 9000U);
}

TEST(Yaml, PlacesOnOneEndlessLineCostLittle) {
    std::string text = "[";
    for (int i = 0; i < 15000; ++i) {
        text += "\"µµµµµ\",";
    }
    text += "1]";
    const Outcome outcome = read(text);
    ASSERT_TRUE(outcome.diagnostics.empty());
    EXPECT_EQ(outcome.document.root.items.back().place.column, 15000 * 8 + 2);
}

}  // namespace
}  // namespace afterload::sequences
