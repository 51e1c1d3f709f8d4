// What `afterload run` is given, before anything is planned.
#include "runner/run_inputs.hpp"

#include "sequences/shipped_sequences.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <string>
#include <variant>

namespace afterload::test {
namespace {

using runner::MissingInput;
using runner::RunRequest;
using sequences::file_text;
using sequences::source_path;

std::variant<RunRequest, MissingInput> request_for(const std::string& sequence) {
    runner::RunOptions options;
    options.sequence = sequence;
    options.unit = source_path("fixtures/units/hollinfay-h40.rating.yaml");
    return runner::read_run_request(options);
}

TEST(RunInputs, AShippedSequenceIsRunByItsName) {
    for (const auto& shipped : sequences::shipped_sequences()) {
        SCOPED_TRACE(shipped.name);
        const auto request = request_for(std::string{shipped.name});
        ASSERT_TRUE(std::holds_alternative<RunRequest>(request));
        const auto* sequence = std::get<RunRequest>(request).file("sequence");
        ASSERT_NE(sequence, nullptr);
        const std::string file = std::string{shipped.name} + ".sequence.yaml";
        EXPECT_EQ(sequence->path, file);
        EXPECT_EQ(sequence->text, file_text(source_path("sequences/shipped/" + file)));
    }
}

TEST(RunInputs, AWordThatNamesNoSequenceIsAnsweredWithThoseThatShip) {
    const auto request = request_for("final-verificaton");
    ASSERT_TRUE(std::holds_alternative<MissingInput>(request));
    EXPECT_EQ(std::get<MissingInput>(request).what,
              "final-verificaton: is neither a file nor the name of a sequence that ships: "
              "quick-check, final-verification, phono, outputs, controls, soak");
}

TEST(RunInputs, APathThatIsNotThereIsNotTakenForAName) {
    const auto request = request_for("./quick-check");
    ASSERT_TRUE(std::holds_alternative<MissingInput>(request));
    EXPECT_EQ(std::get<MissingInput>(request).what,
              "./quick-check: is not there, or may not be read");
}

}  // namespace
}  // namespace afterload::test
