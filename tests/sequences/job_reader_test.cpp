#include "sequences/job_reader.hpp"

#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

namespace afterload::sequences {
namespace {

TEST(JobReader, ReadsARepair) {
    const auto job = read_job(file_text(source_path("fixtures/2417.job.yaml")), "2417.job.yaml");
    ASSERT_TRUE(job.has_value()) << text(job.error());
    EXPECT_EQ(job->ticket, "2417");
    EXPECT_EQ(job->complaint, "Harsh when played quietly, and no bass on the right");
    EXPECT_EQ(job->work.size(), 2U);
    ASSERT_EQ(job->parts.size(), 4U);
    EXPECT_EQ(job->parts[2].position, "C712");
    EXPECT_EQ(job->parts[2].part, "22 uF 50 V");
    ASSERT_EQ(job->adjustments.size(), 2U);
    EXPECT_EQ(job->adjustments[0].found, "0.3 mV");
    EXPECT_EQ(job->adjustments[0].left, "12.1 mV");
    EXPECT_EQ(job->safety.size(), 1U);
    EXPECT_EQ(job->notes.size(), 1U);
}

TEST(JobReader, NeedsTheComplaintAlone) {
    EXPECT_TRUE(read_job("afterload: job/1\ncomplaint: it hums\n", "a").has_value());
    EXPECT_FALSE(read_job("afterload: job/1\ncause: a relay\n", "a").has_value());
}

}  // namespace
}  // namespace afterload::sequences
