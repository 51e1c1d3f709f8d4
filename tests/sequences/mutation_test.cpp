// Whatever is done to a good file: no reader throws, hangs, or says nothing about why it refuses.
// AFTERLOAD_MUTATIONS says how many of each file (500).

#include "sequences/bench_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/review.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <random>
#include <string>
#include <vector>

namespace afterload::sequences {
namespace {

using Random = std::mt19937_64;

int mutations() {
    const char* const wanted = std::getenv("AFTERLOAD_MUTATIONS");  // NOLINT(concurrency-mt-unsafe)
    return wanted == nullptr ? 500 : std::max(1, std::atoi(wanted));  // NOLINT(cert-err34-c)
}

std::size_t up_to(Random& random, std::size_t limit) {
    return std::uniform_int_distribution<std::size_t>{0, limit}(random);
}

// Pieces that have meaning to a parser, a number reader or a terminal.
const std::vector<std::string>& pieces() {
    static const std::vector<std::string> all{"\n",
                                              ": ",
                                              "- ",
                                              "? ",
                                              "{",
                                              "}",
                                              "[",
                                              "]",
                                              "&a ",
                                              "*a",
                                              "!!str ",
                                              "<<: ",
                                              "---\n",
                                              "...\n",
                                              "%YAML 1.1\n",
                                              "${",
                                              "${level}",
                                              "}",
                                              "'",
                                              "\"",
                                              "|\n",
                                              ">\n",
                                              "#",
                                              "\t",
                                              "\r\n",
                                              "1e999",
                                              "nan",
                                              "-",
                                              "..",
                                              "rated",
                                              " dB",
                                              "/",
                                              "\xc2",
                                              "\xff",
                                              "\xe2\x80\xae",
                                              "\xef\xbb\xbf",
                                              std::string{"\0", 1},
                                              "\x1b[2J",
                                              "000",
                                              "99999999999999999999",
                                              ",",
                                              "~",
                                              "yes",
                                              "@",
                                              "`"};
    return all;
}

void mutate(std::string& text, Random& random) {
    if (text.empty()) {
        text = "a";
    }
    const std::size_t at = up_to(random, text.size() - 1);
    switch (up_to(random, 6)) {
        case 0:  // another byte
            text[at] = static_cast<char>(up_to(random, 255));
            break;
        case 1:  // a bit
            text[at] =
                static_cast<char>(static_cast<unsigned char>(text[at]) ^ (1U << up_to(random, 7)));
            break;
        case 2:  // a piece put in
            text.insert(at, pieces()[up_to(random, pieces().size() - 1)]);
            break;
        case 3:  // a stretch taken out
            text.erase(at, 1 + up_to(random, 40));
            break;
        case 4: {  // a stretch doubled elsewhere
            const std::string stretch = text.substr(at, 1 + up_to(random, 60));
            text.insert(up_to(random, text.size() - 1), stretch);
            break;
        }
        case 5: {  // two stretches change places
            const std::size_t other = up_to(random, text.size() - 1);
            std::swap(text[at], text[other]);
            break;
        }
        default:  // the end is missing
            text.resize(at);
            break;
    }
}

template <class T>
void expect_an_answer(const tl::expected<T, Diagnostics>& read, const std::string& text) {
    if (read) {
        return;
    }
    ASSERT_FALSE(read.error().empty()) << text;
    const std::string shown = afterload::sequences::text(read.error());
    ASSERT_FALSE(shown.empty());
    // Nothing of the file reaches a terminal that could steer it.
    for (const char c : shown) {
        ASSERT_TRUE(c == '\n' || static_cast<unsigned char>(c) >= 0x20U) << text;
    }
}

TEST(Mutation, NoReaderThrowsHangsOrStaysSilent) {
    const int rounds = mutations();  // of each file
    std::vector<std::filesystem::path> files = files_of("sequences/shipped", ".yaml");
    for (const char* const folder : {"fixtures/units", "fixtures/benches", "fixtures"}) {
        for (const auto& path : files_of(folder, ".yaml")) {
            files.push_back(path);
        }
    }
    Random random{20260312};
    for (const auto& path : files) {
        const std::string good = file_text(path);
        for (int round = 0; round < rounds; ++round) {
            std::string text = good;
            const std::size_t mutations = 1 + up_to(random, 4);
            for (std::size_t i = 0; i < mutations; ++i) {
                mutate(text, random);
            }
            const std::string name = path.filename().string();
            if (name.find(".rating.") != std::string::npos) {
                const auto read = read_rating(text, name);
                expect_an_answer(read, text);
                if (read) {
                    (void)contradictions(*read);
                }
            } else if (name.find(".bench.") != std::string::npos) {
                expect_an_answer(read_bench(text, name), text);
            } else if (name.find(".job.") != std::string::npos) {
                expect_an_answer(read_job(text, name), text);
            } else {
                expect_an_answer(read_sequence(text, name, {{"quiet_record", "1 s"}}), text);
            }
            ASSERT_FALSE(HasFatalFailure());
        }
    }
}

TEST(Mutation, ReviewAnswersWhateverTheSequenceAsks) {
    const int rounds = mutations();
    const auto house = read_rating(file_text(source_path("fixtures/house.rating.yaml")), "house");
    const std::string sheet_text =
        file_text(source_path("fixtures/units/hollinfay-h40.rating.yaml"));
    const std::string bench_text = file_text(source_path("fixtures/benches/north.bench.yaml"));
    const std::string sequence_text =
        file_text(source_path("sequences/shipped/final-verification.sequence.yaml"));
    ASSERT_TRUE(house.has_value());
    Random random{7};
    int reviewed = 0;
    for (int round = 0; round < rounds; ++round) {
        std::vector<std::string> texts{sheet_text, bench_text, sequence_text};
        mutate(texts[up_to(random, 2)], random);
        if (round % 2 == 0) {
            mutate(texts[2], random);
        }
        const auto sheet = read_rating(texts[0], "sheet");
        const auto bench = read_bench(texts[1], "bench");
        const auto sequence = read_sequence(texts[2], "sequence");
        if (sheet && bench && sequence) {
            (void)text(review(laid_under(*sheet, *house), *bench, *sequence));
            ++reviewed;
        }
    }
    EXPECT_GT(reviewed, rounds / 20);
}

TEST(Mutation, BytesAtRandomAreRefusedInOrder) {
    const int rounds = 2 * mutations();
    Random random{1};
    for (int round = 0; round < rounds; ++round) {
        std::string text = round % 2 == 0 ? "" : "afterload: sequence/1\n";
        const std::size_t length = up_to(random, 200);
        for (std::size_t i = 0; i < length; ++i) {
            text += up_to(random, 1) == 0 ? pieces()[up_to(random, pieces().size() - 1)]
                                          : std::string(1, static_cast<char>(up_to(random, 255)));
        }
        expect_an_answer(read_sequence(text, "a"), text);
        ASSERT_FALSE(HasFatalFailure());
    }
}

}  // namespace
}  // namespace afterload::sequences
