#include "sequences/diagnostic.hpp"

#include "sequences/rating_reader.hpp"

#include <gtest/gtest.h>

#include <string>

namespace afterload::sequences {
namespace {

// The file of the layout that rules, with the two mistakes on its lines 14 and 21.
constexpr std::string_view sheet = R"(afterload: rating/1
title: Hollinfay H40
unit:
  maker: Hollinfay
  model: H40
  inputs: [line]
  outputs: [speaker_a]
  output_terminals: common

figures:
  - figure: output_power
    source: page 3

    at_least: 40 W
    load:     8

  - id: thd_rated
    figure: thd
    at_most: 0.1 %
    source: page 3
    output_level: rated
    channels_drivn: both
)";

TEST(Diagnostics, AreLaidOutAsTheTerminalShowsThem) {
    const auto read = read_rating(sheet, "hollinfay-h40.rating.yaml");
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(text(read.error()),
              "hollinfay-h40.rating.yaml:15:15: 8 has no unit: is it a load in ohm?\n"
              "   14 |     at_least: 40 W\n"
              "   15 |     load:     8\n"
              "      |               ^ write 8 ohm\n"
              "hollinfay-h40.rating.yaml:22:5: “channels_drivn” is not known here\n"
              "   22 |     channels_drivn: both\n"
              "      |     ^~~~~~~~~~~~~~ nearest: channels_driven\n");
    EXPECT_EQ(count_line(2, 1, 65),
              "2 mistakes in 1 file; nothing was driven.                         exit status 65");
    EXPECT_EQ(characters(count_line(2, 1, 65)), 80);
    EXPECT_EQ(count_line(1, 2, 65).substr(0, 40), "1 mistake in 2 files; nothing was driven");
}

TEST(Diagnostics, ColourMarksPlaceAndCaretAndLeavesTheTextAlone) {
    const auto read = read_rating(sheet, "a.rating.yaml");
    ASSERT_FALSE(read.has_value());
    std::string coloured = text(read.error(), {true, true});
    EXPECT_NE(coloured.find("\x1b[35ma.rating.yaml:15:15\x1b[0m:"), std::string::npos) << coloured;
    for (const std::string_view code : {"\x1b[35m", "\x1b[0m"}) {
        for (std::size_t at = coloured.find(code); at != std::string::npos;
             at = coloured.find(code)) {
            coloured.erase(at, code.size());
        }
    }
    EXPECT_EQ(coloured, text(read.error()));
}

TEST(Diagnostics, WithoutUtf8HoldOnlyAscii) {
    const auto read = read_rating(sheet, "a.rating.yaml");
    ASSERT_FALSE(read.has_value());
    for (const char c : text(read.error(), {false, false})) {
        EXPECT_LT(static_cast<unsigned char>(c), 0x80);
    }
}

TEST(Diagnostics, ColumnsCountCharactersAndNotBytes) {
    const auto read = read_rating(
        "afterload: rating/1\nhouse: true\nfigures: [{source: “ΩµΩ”, figur: thd}]\n", "a");
    ASSERT_FALSE(read.has_value());
    ASSERT_EQ(read.error().mistakes.size(), 2U);
    EXPECT_EQ(read.error().mistakes[1].place, (Place{3, 27}));
    const std::string shown = text(read.error());
    EXPECT_NE(shown.find("      |                           ^~~~~ nearest: figure\n"),
              std::string::npos)
        << shown;
}

TEST(Diagnostics, TextOfAFileCannotForgeLinesOrMoveTheCursor) {
    EXPECT_EQ(escaped("a\x1b[2Jb"), "a\\x1b[2Jb");
    EXPECT_EQ(escaped("a\nb\r"), "a\\x0ab\\x0d");
    EXPECT_EQ(escaped("\u202egnp\u2028"), "\\u202egnp\\u2028");
    EXPECT_EQ(escaped("\xc2\x9b"), "\\u009b");
    EXPECT_EQ(escaped("\xff"), "\\xff");
    EXPECT_EQ(escaped("8 Ω\t."), "8 Ω .");
    EXPECT_EQ(escaped("\x7f"), "\\x7f");
}

TEST(Diagnostics, LongLineIsCutAroundTheMistakeAndFitsTheWidth) {
    std::string line = "afterload: rating/1\nhouse: true\nfigures: [";
    for (int i = 0; i < 500; ++i) {
        line += "{figure: thd, at_most: 1 %}, ";
    }
    line += "{figure: thd, at_most: 1}]\n";
    const auto read = read_rating(line, "a");
    ASSERT_FALSE(read.has_value());
    const std::string shown = text(read.error());
    std::size_t begin = 0;
    while (begin < shown.size()) {
        const std::size_t end = shown.find('\n', begin);
        EXPECT_LE(characters(std::string_view{shown}.substr(begin, end - begin)), 80) << shown;
        begin = end + 1;
    }
    // The caret stands below the value.
    const std::size_t value = shown.find("at_most: 1}]");
    ASSERT_NE(value, std::string::npos) << shown;
    const std::size_t value_line = shown.rfind('\n', value) + 1;
    const std::size_t caret = shown.find('^');
    const std::size_t caret_line = shown.rfind('\n', caret) + 1;
    EXPECT_EQ(characters(std::string_view{shown}.substr(value_line, value + 9 - value_line)),
              characters(std::string_view{shown}.substr(caret_line, caret - caret_line)))
        << shown;
}

TEST(Diagnostics, KeepAHundredAndCountTheRest) {
    std::string many = "afterload: rating/1\nhouse: true\nfigures:\n";
    for (int i = 0; i < 300; ++i) {
        many += "  - {figure: thd, at_most: 1}\n";
    }
    const auto read = read_rating(many, "a");
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(read.error().mistakes.size(), Diagnostics::most);
    EXPECT_EQ(read.error().count(), 300U);
    EXPECT_NE(text(read.error()).find("a: and 200 more\n"), std::string::npos);
}

TEST(NearestWord, AllowsAThirdOfTheLettersToDiffer) {
    const std::vector<std::string_view> known{"channels_driven", "load", "frequency", "tone_range"};
    EXPECT_EQ(nearest("channels_drivn", known), "channels_driven");
    EXPECT_EQ(nearest("laod", known), "load");
    EXPECT_EQ(nearest("Load", known), "load");
    EXPECT_EQ(nearest("freqency", known), "frequency");
    EXPECT_EQ(nearest("toner_ange", known), "tone_range");
    EXPECT_EQ(nearest("bandwidth", known), "");
    EXPECT_EQ(nearest("", known), "");
    EXPECT_EQ(nearest(std::string(100000, 'x'), known), "");
}

}  // namespace
}  // namespace afterload::sequences
