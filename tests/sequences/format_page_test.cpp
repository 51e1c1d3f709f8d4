// FORMAT.md: what it shows as an example is read by the readers.

#include "sequences/bench_reader.hpp"
#include "sequences/daemon_reader.hpp"
#include "sequences/file_kind.hpp"
#include "sequences/hint_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/key_lists.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/rig_file.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace afterload::sequences {
namespace {

std::string page() {
    return file_text(source_path("sequences/FORMAT.md"));
}

// The blocks fenced with ```LANGUAGE.
std::vector<std::string> blocks(const std::string& text, const std::string& language) {
    const std::string open = "```" + language + "\n";
    const std::string close = "```\n";
    std::vector<std::string> found;
    std::size_t at = text.find(open);
    while (at != std::string::npos) {
        const std::size_t begin = at + open.size();
        const std::size_t end = text.find(close, begin);
        found.push_back(text.substr(begin, end - begin));
        at = text.find(open, end);
    }
    return found;
}

template <class T>
std::string mistakes(const tl::expected<T, Diagnostics>& read) {
    return read ? "" : text(read.error());
}

std::string mistakes_in(const std::string& example) {
    switch (kind_of(example, "example.yaml")) {
        case FileKind::rating:
            return mistakes(read_rating(example, "example"));
        case FileKind::bench:
            return mistakes(read_bench(example, "example"));
        case FileKind::sequence:
            return mistakes(read_sequence(example, "example"));
        case FileKind::rig:
            return mistakes(read_rig(example, "example"));
        case FileKind::job:
            return mistakes(read_job(example, "example"));
        case FileKind::hints:
            return mistakes(read_hints(example, "example"));
        case FileKind::daemon:
            return mistakes(read_daemon(example, "example"));
    }
    return "no kind";
}

TEST(FormatPage, EveryExampleIsRead) {
    const std::vector<std::string> examples = blocks(page(), "yaml");
    EXPECT_GE(examples.size(), 5U);
    for (const std::string& example : examples) {
        EXPECT_EQ(mistakes_in(example), "") << example;
    }
}

TEST(FormatPage, ShowsTheMessageThatAMistakeGets) {
    const std::vector<std::string> files = blocks(page(), "yaml broken");
    const std::vector<std::string> messages = blocks(page(), "text");
    ASSERT_EQ(files.size(), 1U);
    ASSERT_EQ(messages.size(), 1U);
    const auto read = read_rating(files[0], "hollinfay-h40.rating.yaml");
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(text(read.error()) + count_line(read.error().count(), 1, 65) + "\n", messages[0]);
}

TEST(FormatPage, NamesEveryKeyEveryUnitAndEveryCaution) {
    const std::string text = page();
    for (const auto& lists :
         {rating_key_lists(), bench_key_lists(), sequence_key_lists(), job_key_lists()}) {
        for (const KeyList& list : lists) {
            for (const std::string_view key : list.keys) {
                EXPECT_NE(text.find("`" + std::string{key} + "`"), std::string::npos)
                    << list.mapping << " " << key;
            }
        }
    }
    for (const Dimension dimension :
         {Dimension::volts, Dimension::volts_peak, Dimension::ohms, Dimension::watts,
          Dimension::amperes, Dimension::hertz, Dimension::seconds, Dimension::celsius,
          Dimension::ratio, Dimension::decibels, Dimension::dbfs, Dimension::per_kelvin,
          Dimension::per_second, Dimension::kelvin_per_minute}) {
        EXPECT_NE(text.find("`" + std::string{units_of(dimension).front()} + "`"),
                  std::string::npos)
            << units_of(dimension).front();
    }
    for (const Caution& caution : shipped_cautions()) {
        EXPECT_NE(text.find("`" + std::string{caution.name} + "`"), std::string::npos)
            << caution.name;
    }
    for (const std::string_view reading : meter_quantities()) {
        EXPECT_NE(text.find("`" + std::string{reading} + "`"), std::string::npos) << reading;
    }
}

}  // namespace
}  // namespace afterload::sequences
