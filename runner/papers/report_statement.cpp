#include "runner/papers/report_statement.hpp"

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

struct Tally {
    int scored = 0;
    int meets = 0;
    int fails = 0;
    std::vector<const FigureRow*> open;        ///< too close to call
    std::vector<const FigureRow*> borderline;  ///< outside by less than the uncertainty
};

Tally tally_of(const std::vector<RowGroup>& groups) {
    Tally tally;
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            if (!row.verdict || *row.verdict == VerdictKind::not_comparable) {
                continue;
            }
            ++tally.scored;
            switch (*row.verdict) {
                case VerdictKind::pass:
                case VerdictKind::conditional_pass:
                    ++tally.meets;
                    break;
                case VerdictKind::fail:
                    ++tally.fails;
                    break;
                case VerdictKind::conditional_fail:
                    tally.borderline.push_back(&row);
                    break;
                case VerdictKind::not_resolvable:
                    tally.open.push_back(&row);
                    break;
                case VerdictKind::not_comparable:
                    break;
            }
        }
    }
    return tally;
}

std::string plural(int count, std::string_view noun) {
    return fmt::format("{} {}{}", number_word(count), noun, count == 1 ? "" : "s");
}

/// "One, the background noise, is ...", "Two, the hum and the distortion, are ...", "Five are ...".
std::string exceptions(const std::vector<const FigureRow*>& rows, std::string_view what) {
    if (rows.empty()) {
        return {};
    }
    if (rows.size() == 1) {
        return fmt::format(" One, the {}, is {}.", plain_words(rows.front()->kind), what);
    }
    if (rows.size() == 2 && rows[0]->kind != rows[1]->kind) {
        return fmt::format(" Two, the {} and the {}, are {}.", plain_words(rows[0]->kind),
                           plain_words(rows[1]->kind), what);
    }
    return fmt::format(" {} are {}.", capitalised(number_word(static_cast<int>(rows.size()))),
                       what);
}

std::string open_sentences(const Tally& tally) {
    return exceptions(tally.open, "too close to call with our equipment") +
           exceptions(tally.borderline, "just outside, by less than we can measure for certain");
}

}  // namespace

std::string_view plain_words(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
            return "distortion";
        case FigureKind::output_power:
        case FigureKind::output_voltage:
        case FigureKind::distortion_limited_power:
            return "power";
        case FigureKind::frequency_response:
            return "evenness over bass and treble";
        case FigureKind::signal_to_noise:
        case FigureKind::noise_voltage:
            return "background noise";
        case FigureKind::hum_voltage:
            return "hum";
        case FigureKind::channel_balance:
            return "balance of left and right";
        case FigureKind::channel_separation:
            return "separation of left and right";
        case FigureKind::dc_offset:
            return "steady voltage on the speakers";
        case FigureKind::tone_range_error:
            return "accuracy of the tone stage";
        case FigureKind::equalisation_error:
            return "tone of the record-player input";
        default:
            return words(kind);
    }
}

std::string number_word(int number) {
    static constexpr std::array<std::string_view, 13> names{
        "no",    "one",   "two",  "three", "four",   "five",  "six",
        "seven", "eight", "nine", "ten",   "eleven", "twelve"};
    return number >= 0 && number < static_cast<int>(names.size())
               ? std::string{names[static_cast<std::size_t>(number)]}
               : std::to_string(number);
}

std::string statement(const RunDocument& run) {
    const std::vector<RowGroup> groups = figure_rows(run);
    const Tally tally = tally_of(groups);
    if (run.state == RunState::running) {
        return "Still being measured.";
    }
    if (run.verdict == RunVerdict::stopped) {
        return tally.scored == 0
                   ? fmt::format("Stopped after {}; nothing was measured against a rating.",
                                 duration_words(run.lasted))
                   : fmt::format(
                         "Stopped after {}; measured until then: {} of {} meet their "
                         "ratings.",
                         duration_words(run.lasted), number_word(tally.meets),
                         plural(tally.scored, "figure"));
    }
    if (tally.scored == 0) {
        return "No figure could be held against a rating.";
    }
    const int outside = tally.fails;
    if (run.stage == Stage::as_received) {
        const std::string first =
            outside > 0
                ? fmt::format("As it came in: {} of {} outside.", number_word(outside),
                              plural(tally.scored, "figure"))
                : fmt::format("As it came in: {} of {} meet their ratings.",
                              tally.meets == tally.scored ? "all" : number_word(tally.meets),
                              plural(tally.scored, "figure"));
        return first + open_sentences(tally);
    }
    if (outside > 0) {
        return fmt::format("Not finished: {} of the {} below {} not meet {} rating.",
                           number_word(outside), plural(tally.scored, "figure"),
                           outside == 1 ? "does" : "do", outside == 1 ? "its" : "their") +
               open_sentences(tally);
    }
    if (tally.meets == tally.scored) {
        return tally.scored == 1 ? std::string{"Repaired. The one figure below meets its rating."}
                                 : fmt::format("Repaired. All {} below meet their ratings.",
                                               plural(tally.scored, "figure"));
    }
    return fmt::format("Repaired. {} of the {} below meet{} {}.",
                       capitalised(number_word(tally.meets)), plural(tally.scored, "figure"),
                       tally.meets == 1 ? "s" : "",
                       tally.meets == 1 ? "its rating" : "their ratings") +
           open_sentences(tally);
}

std::string headline(const RunDocument& run) {
    const Tally tally = tally_of(figure_rows(run));
    std::string cause = result_cause(run);
    switch (run.verdict) {
        case RunVerdict::fail:
            return fmt::format("Fails on {}: {}", plural(tally.fails, "figure"), cause);
        case RunVerdict::pass:
            return fmt::format("Passes: {} of {}{}", number_word(tally.meets),
                               plural(tally.scored, "figure"),
                               cause.empty() ? std::string{} : fmt::format(" ({})", cause));
        case RunVerdict::stopped:
            return fmt::format("Stopped: {}", cause);
        case RunVerdict::inconclusive:
            return fmt::format("Inconclusive: {}", cause);
    }
    return cause;
}

}  // namespace afterload::runner
