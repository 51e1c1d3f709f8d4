// One mistake a file, the message beside it. Across files: fixtures/broken/across.

#include "sequences/bench_reader.hpp"
#include "sequences/file_kind.hpp"
#include "sequences/hint_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/review.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string>

namespace afterload::sequences {
namespace {

constexpr std::array<std::string_view, 9> known_faults{
    "starved_bias",    "weak_main_rail",  "sagging_rails",
    "low_tone_supply", "resistive_relay", "dried_coupling_capacitor",
    "raised_hum",      "dead_channel",    "offset"};

template <class T>
Diagnostics mistakes_of(const tl::expected<T, Diagnostics>& read) {
    return read ? Diagnostics{} : read.error();
}

Diagnostics mistakes_in(const std::filesystem::path& path) {
    const std::string text = file_text(path);
    const std::string name = path.filename().string();
    if (name.find(".rating.") != std::string::npos) {
        return mistakes_of(read_rating(text, name));
    }
    if (name.find(".bench.") != std::string::npos) {
        return mistakes_of(read_bench(text, name, known_faults));
    }
    if (name.find(".job.") != std::string::npos) {
        return mistakes_of(read_job(text, name));
    }
    if (name.find(".hints.") != std::string::npos) {
        return mistakes_of(read_hints(text, name));
    }
    return mistakes_of(read_sequence(text, name));
}

std::filesystem::path with_ending(std::filesystem::path path, const std::string& ending) {
    return path.replace_extension(ending);
}

TEST(BrokenInput, EveryFileGetsTheMessageThatStandsBesideIt) {
    const auto files = files_of("fixtures/broken", ".yaml");
    EXPECT_GT(files.size(), 60U);
    for (const auto& path : files) {
        const Diagnostics mistakes = mistakes_in(path);
        EXPECT_FALSE(mistakes.empty()) << path;
        EXPECT_EQ(text(mistakes), file_text(with_ending(path, ".expected"))) << path;
    }
}

// The files of a case across files; what it does not bring is the healthy one.
std::filesystem::path own_or(const std::filesystem::path& stem, const std::string& ending,
                             const std::string& otherwise) {
    const std::filesystem::path own = stem.string() + ending;
    return std::filesystem::exists(own) ? own : source_path(otherwise);
}

TEST(BrokenInput, EveryCaseAcrossFilesGetsTheMessageThatStandsBesideIt) {
    const auto house = read_rating(file_text(source_path("fixtures/house.rating.yaml")), "house");
    ASSERT_TRUE(house.has_value());
    const std::string ending = ".sequence.yaml";
    for (const auto& path : files_of("fixtures/broken/across", ending)) {
        const std::filesystem::path stem =
            path.string().substr(0, path.string().size() - ending.size());
        const auto sheet = read_rating(
            file_text(own_or(stem, ".rating.yaml", "fixtures/units/hollinfay-h40.rating.yaml")),
            "sheet");
        const auto bench = read_bench(
            file_text(own_or(stem, ".bench.yaml", "fixtures/benches/north.bench.yaml")), "bench");
        const auto sequence = read_sequence(file_text(path), path.filename().string());
        ASSERT_TRUE(sheet.has_value()) << text(sheet.error());
        ASSERT_TRUE(bench.has_value()) << text(bench.error());
        ASSERT_TRUE(sequence.has_value()) << text(sequence.error());
        ReviewSettings settings;
        if (stem.filename().string().starts_with("as-received")) {
            settings.stage = "as_received";
        }
        const Diagnostics mistakes =
            review(laid_under(*sheet, *house), *bench, *sequence, settings);
        EXPECT_FALSE(mistakes.empty()) << path;
        EXPECT_EQ(text(mistakes), file_text(stem.string() + ".expected")) << path;
    }
}

TEST(BrokenInput, AHundredMebibytesOfAnythingAreRefusedByEachReader) {
    const std::string huge = "afterload: rating/1\n" + std::string(100UL * 1024UL * 1024UL, '-');
    EXPECT_EQ(mistakes_of(read_rating(huge, "a")).count(), 1U);
    EXPECT_EQ(mistakes_of(read_bench(huge, "a")).count(), 1U);
    EXPECT_EQ(mistakes_of(read_sequence(huge, "a")).count(), 1U);
    EXPECT_EQ(mistakes_of(read_job(huge, "a")).count(), 1U);
}

}  // namespace
}  // namespace afterload::sequences
