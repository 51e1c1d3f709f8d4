// A sheet that is written reads back as what it was, whatever stands in its texts.
#include "sequences/rating_text.hpp"

#include "sequences/rating_reader.hpp"
#include "sequences/shipped_sequences.hpp"
#include "sequences/yaml_text.hpp"
#include "tests/sequences/file_text.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <string_view>

namespace afterload::sequences {
namespace {

std::string written(const RatingSheet& sheet) {
    std::string text = fmt::format("afterload: rating/1\ntitle: {}\nunit:\n{}figures:\n",
                                   yaml_value(sheet.title), unit_text(sheet.unit.value()));
    for (const RatedFigure& rated : sheet.figures) {
        text += rating_text({rated, {"printed: any # : text"}});
    }
    return text;
}

RatingSheet read(const std::string& text) {
    const auto sheet = read_rating(text, "written.rating.yaml");
    EXPECT_TRUE(sheet.has_value()) << (sheet ? "" : sequences::text(sheet.error())) << text;
    return sheet.value_or(RatingSheet{});
}

TEST(RatingText, EverySheetOfTheFixturesReadsBackAsItWas) {
    for (const auto& path : files_of("fixtures/units", ".rating.yaml")) {
        RatingSheet before = read(file_text(path));
        before.unit->output_transformer = !before.unit->bridged;
        const RatingSheet after = read(written(before));
        EXPECT_EQ(after.unit->maker, before.unit->maker);
        EXPECT_EQ(after.unit->inputs, before.unit->inputs);
        EXPECT_EQ(after.unit->outputs, before.unit->outputs);
        EXPECT_EQ(after.unit->bridged, before.unit->bridged);
        EXPECT_EQ(after.unit->output_transformer, before.unit->output_transformer);
        EXPECT_EQ(after.unit->mains_voltage, before.unit->mains_voltage);
        ASSERT_EQ(after.figures.size(), before.figures.size());
        for (std::size_t i = 0; i < before.figures.size(); ++i) {
            const RatedFigure& one = before.figures[i];
            const RatedFigure& other = after.figures[i];
            EXPECT_EQ(other.id, one.id);
            EXPECT_EQ(other.figure, one.figure) << one.id;
            EXPECT_EQ(other.source, one.source) << one.id;
            EXPECT_EQ(other.limit.nominal, one.limit.nominal) << one.id;
            for (const auto& [a, b] : {std::pair{other.limit.at_least, one.limit.at_least},
                                       std::pair{other.limit.at_most, one.limit.at_most}}) {
                ASSERT_EQ(a.has_value(), b.has_value()) << one.id;
                EXPECT_NEAR(a.value_or(0), b.value_or(0), 1e-9 * std::abs(b.value_or(0))) << one.id;
            }
            for (const std::string_view key : condition_keys()) {
                EXPECT_EQ(condition_value(other.conditions, key),
                          condition_value(one.conditions, key))
                    << one.id << " " << key;
                EXPECT_EQ(stated(other.conditions, key), stated(one.conditions, key))
                    << one.id << " " << key;
            }
        }
    }
}

TEST(YamlText, AnyTextReadsBackAsItWas) {
    for (const std::string text : {"Hollinfay",
                                   "H40: the \"loud\" one",
                                   "# no comment",
                                   "yes",
                                   "null",
                                   "~",
                                   "- item",
                                   "[a, b]",
                                   "{a: b}",
                                   "12",
                                   "0.5 W",
                                   " blanks ",
                                   "tab\there",
                                   "line\nbreak",
                                   "bell\a and \x1b[2J",
                                   "delete \x7f",
                                   "turned \u202e round",
                                   "\ufeffmark",
                                   "back\\slash",
                                   "it's",
                                   "a: b",
                                   "a #b",
                                   "100 %",
                                   "% first",
                                   "@at",
                                   "`tick`",
                                   "!tag",
                                   "&anchor",
                                   "*alias",
                                   "|",
                                   ">",
                                   "zero\u200bwidth",
                                   "C1 \u0085 control",
                                   "Ω µ – “quoted”"}) {
        RatingSheet sheet;
        sheet.title = text;
        sheet.unit = UnitDescription{text, "H40", 2, {text}, {"speaker_a"}, true, false, {}, {}};
        RatedFigure rated;
        rated.id = "thd";
        rated.figure = FigureKind::thd;
        rated.limit.at_most = 0.001;
        rated.source = text;
        sheet.figures = {rated};
        const RatingSheet after = read(written(sheet));
        EXPECT_EQ(after.title, text);
        ASSERT_TRUE(after.unit.has_value());
        EXPECT_EQ(after.unit->maker, text);
        EXPECT_EQ(after.unit->inputs, std::vector<std::string>{text});
        ASSERT_EQ(after.figures.size(), 1U);
        EXPECT_EQ(after.figures.front().source, text);
    }
}

TEST(YamlText, ABrokenByteBecomesTheCharacterForWhatCannotBeRead) {
    EXPECT_EQ(yaml_quoted("a\xff"), "\"a\\ufffd\"");
}

TEST(YamlText, ACommentStaysOnItsLine) {
    const std::string comment = yaml_comment("one\ntwo \x1b[0m \u202e", 2);
    EXPECT_EQ(comment.find('\n'), comment.size() - 1);
    EXPECT_EQ(comment.find('\x1b'), std::string::npos);
    EXPECT_TRUE(comment.starts_with("  # one"));
}

TEST(ShippedSequences, AreTheFilesThatLieThere) {
    std::vector<std::string> on_disk;
    for (const auto& path : files_of("sequences/shipped", ".sequence.yaml")) {
        on_disk.push_back(file_text(path));
    }
    EXPECT_EQ(shipped_sequences().size(), on_disk.size());
    for (const ShippedSequence& shipped : shipped_sequences()) {
        EXPECT_NE(std::find(on_disk.begin(), on_disk.end(), shipped.text), on_disk.end())
            << shipped.title;
        EXPECT_FALSE(shipped.title.empty());
        EXPECT_GT(shipped.purpose.size(), 20U) << shipped.title;
    }
}

}  // namespace
}  // namespace afterload::sequences
