// The safe state on every way out: the n-th operation of any instrument fails, for every n, once,
// for good, and with only its answer lost. Whatever fails, the source is silent at the end, the
// load is not let go under drive, nothing is driven again, and what was measured is kept.
#include "runner/safe_state.hpp"

#include "runner/finished_run.hpp"
#include "runner/papers/run_document.hpp"
#include "tests/support/failing_bench.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>

namespace afterload::test {
namespace {

using Kind = instruments::BenchFailure::Kind;
using testing::HasSubstr;

struct Ended {
    runner::RunDocument document;
    std::shared_ptr<const FailingBench::Ledger> ledger;
    std::string folder;
};

/// On a bench with a card alone, or with a generator beside it.
enum class Players { card, generator_too };

Ended run_with(PlannedFailure planned, Players players, const std::string& parent) {
    Ended ended;
    SimulatedRun wanted;
    wanted.sequence = "sequences/short.sequence.yaml";
    wanted.bench = "benches/north-48k.bench.yaml";
    if (players == Players::generator_too) {
        wanted.bench = "benches/north-with-generator.bench.yaml";
        wanted.sequence = "sequences/card-and-generator.sequence.yaml";
        wanted.change = [](runner::RunPlan& plan) { plan.bench.card.rate = SampleRate{48000.0}; };
    }
    wanted.wrap = [&](std::unique_ptr<instruments::Bench> bench) {
        auto failing = std::make_unique<FailingBench>(std::move(bench), planned);
        ended.ledger = failing->ledger();
        return failing;
    };
    auto run = carry_out(wanted, parent, "run-" + std::to_string(planned.operation));
    ended.document = std::move(run.document);
    ended.folder = run.folder;
    return ended;
}

/// Readings that only travel beside the figures may be missing without ending a run, and what
/// failed while a finished run was made safe was tried again and stands in its notes.
bool ends_a_run(const Ended& ended) {
    const bool while_made_safe =
        std::any_of(ended.document.notes.begin(), ended.document.notes.end(),
                    [](const std::string& note) { return note.starts_with("making safe"); });
    const bool was_over = ended.document.stop_reason.empty() && while_made_safe;
    return ended.ledger->failed != "read" && !was_over;
}

void sweep(PlannedFailure planned, Players players = Players::card) {
    const TemporaryFolder folder;
    std::size_t visited = 0;
    for (planned.operation = 1;; ++planned.operation) {
        const Ended ended = run_with(planned, players, folder.path());
        const auto& ledger = *ended.ledger;
        SCOPED_TRACE("operation " + std::to_string(planned.operation) + ": " + ledger.failed);
        if (ledger.failed.empty()) {
            EXPECT_EQ(ended.document.state, runner::RunState::done);
            break;
        }
        ++visited;
        // A source that is gone for good cannot be muted by anybody: the person is told to.
        const bool source_gone =
            planned.stays && (ledger.failed == "play" || ledger.failed == "mute");
        const bool muted = ledger.state.muted && ledger.state.generator_muted;
        if (source_gone && !muted) {
            EXPECT_THAT(ended.document.stop_reason, HasSubstr("mains switch"));
        } else {
            EXPECT_TRUE(muted);
        }
        EXPECT_FALSE(ledger.state.released_under_drive);
        if (ends_a_run(ended)) {
            EXPECT_FALSE(ledger.drove_after_failure);
            EXPECT_EQ(ended.document.state, runner::RunState::stopped);
            EXPECT_EQ(exit_status(ended.document), 3);
            EXPECT_FALSE(ended.document.stop_reason.empty());
        }
        const auto kept = runner::read_finished_run(ended.folder);
        ASSERT_TRUE(kept) << kept.error();
        EXPECT_EQ(kept->document.steps.size(), ended.document.steps.size());
        std::filesystem::remove_all(ended.folder);
    }
    EXPECT_GT(visited, 30U) << "the sweep has not gone through a whole run";
}

TEST(SafeState, IsReachedWhenAnyOperationFailsOnce) {
    sweep({0, Kind::no_reply, false, false});
}

TEST(SafeState, IsReachedWhenAnyInstrumentIsLostForGood) {
    sweep({0, Kind::lost, true, false});
}

TEST(SafeState, IsReachedWhenAnyOperationIsDoneAndItsAnswerLost) {
    sweep({0, Kind::wrong_reply, false, true});
}

TEST(SafeState, IsReachedWhereAGeneratorPlaysBesideTheCard) {
    sweep({0, Kind::no_reply, false, false}, Players::generator_too);
}

}  // namespace
}  // namespace afterload::test
