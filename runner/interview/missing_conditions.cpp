#include "runner/interview/missing_conditions.hpp"

#include "runner/interview/rating_draft.hpp"
#include "runner/papers/figure_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

namespace afterload::runner {
namespace {

template <class T>
void fill(std::optional<T>& into, const std::optional<T>& from) {
    if (!into) {
        into = from;
    }
}

/// What an answer can state, where nothing is stated yet.
void lay_under(Conditions& into, const Conditions& from) {
    fill(into.load, from.load);
    fill(into.channels_driven, from.channels_driven);
    fill(into.output_level, from.output_level);
    fill(into.frequency, from.frequency);
    fill(into.tone_range, from.tone_range);
    fill(into.bandwidth, from.bandwidth);
    fill(into.weighting, from.weighting);
    fill(into.detector, from.detector);
    fill(into.reference_level, from.reference_level);
    fill(into.thd, from.thd);
    fill(into.fall, from.fall);
    fill(into.input, from.input);
    fill(into.volume, from.volume);
    fill(into.termination, from.termination);
    fill(into.tone_controls, from.tone_controls);
    fill(into.path, from.path);
}

/// What is asked, with the answers that the trade uses.
std::string question_of(std::string_view key) {
    const std::vector<std::pair<std::string_view, std::string_view>> questions{
        {"load", "Into which load, as in 8 ohms"},
        {"channels_driven", "Which channels were driven: both, left or right"},
        {"output_level", "At which output: rated, half power, 1 W"},
        {"frequency", "At which frequency, or over which band: 1 kHz, 20 Hz-20 kHz"},
        {"tone_range", "Over which band, as in 20 Hz-20 kHz"},
        {"bandwidth", "Which bandwidth has the meter, as in 20 Hz-20 kHz"},
        {"weighting", "Which weighting: A, unweighted, ITU-R-468"},
        {"detector", "Which detector: rms or quasi-peak"},
        {"reference_level", "What does it refer to: rated, 1 W, 5 mV in"},
        {"thd", "At which distortion, as in 1 %"},
        {"fall", "At which fall, as in -3 dB"},
        {"volume", "Where was the volume control: maximum or minimum"},
        {"termination", "Was the input shorted, open, or terminated (600 ohm)"}};
    for (const auto& [name, question] : questions) {
        if (name == key) {
            return std::string{question};
        }
    }
    return key_words(key);
}

/// What is asked for: where the usual conditions lie apart. A power is asked for its distortion
/// too, which a step may name as rated.
std::vector<NeededCondition> needed_of(const RatedFigure& rated) {
    std::vector<NeededCondition> missing = missing_conditions(rated);
    missing.erase(std::remove_if(missing.begin(), missing.end(),
                                 [](const NeededCondition& needed) {
                                     return needed.spread_db == 0.0 ||
                                            needed.figure == FigureKind::volume_tracking;
                                 }),
                  missing.end());
    if (rated.figure == FigureKind::output_power && !rated.conditions.thd) {
        missing.push_back(
            {rated.figure, "thd", "", 1.10, "clipping begins 1.1 dB below 10 % distortion"});
    }
    return missing;
}

bool of_one_input(FigureKind kind) {
    return kind == FigureKind::input_sensitivity || kind == FigureKind::overload_level ||
           kind == FigureKind::signal_to_noise || kind == FigureKind::gain;
}

/// How far a nominal value may be off where the sheet prints nothing. Common practice: service
/// sheets hold levels within 1.5 dB, an idle current within 3 of 10 mV, rails within 5 %, the tone
/// controls within 3 dB.
std::string usual_tolerance(FigureKind kind) {
    switch (kind) {
        case FigureKind::input_sensitivity:
        case FigureKind::gain:
            return "±1.5 dB";
        case FigureKind::quiescent_current:
            return "±30 %";
        case FigureKind::supply_rail:
            return "±5 %";
        case FigureKind::tone_range_error:
            return "±3 dB";
        default:
            return "±10 %";
    }
}

}  // namespace

bool MissingConditions::complete(sequences::PrintedFigure& figure,
                                 const std::vector<RatedFigure>& earlier,
                                 std::vector<std::string>& comments) {
    if (of_one_input(figure.rated.figure) && names_.inputs.size() > 1 &&
        !figure.rated.conditions.input && !input(figure.rated, earlier, comments)) {
        return false;
    }
    // A weighting that is answered may leave its detector open, so what is missing is looked at
    // anew.
    std::vector<std::string> asked;
    while (true) {
        const auto missing = needed_of(figure.rated);
        const auto next = std::find_if(missing.begin(), missing.end(), [&](const auto& needed) {
            return std::find(asked.begin(), asked.end(), needed.key) == asked.end();
        });
        if (next == missing.end()) {
            break;
        }
        asked.push_back(next->key);
        if (!condition(figure.rated, next->key, next->why, comments)) {
            return false;
        }
    }
    return !figure.without_tolerance() || tolerance(figure, comments);
}

bool MissingConditions::condition(RatedFigure& rated, std::string_view key, const std::string& why,
                                  std::vector<std::string>& comments) {
    const auto take = [&](const std::string& answer) {
        if (answer.empty()) {
            comments.push_back(fmt::format("{}: not stated", key_words(key)));
            return std::string{};
        }
        const auto read = sequences::read_printed_condition(answer, key, rated.figure, names_);
        if (!read) {
            return words(read.error());
        }
        RatedFigure with = rated;
        lay_under(with.conditions, *read);
        if (std::string refused = why_not(with); !refused.empty()) {
            return refused;
        }
        rated.conditions = with.conditions;
        comments.push_back(
            fmt::format("{}: not printed here; answered: {}", key_words(key), answer));
        return std::string{};
    };
    if (const auto known = answers_.find(key);
        known != answers_.end() && take(known->second).empty()) {
        return true;
    }
    questions_.say(fmt::format("not printed: {} ({})", key_words(key), why), 2);
    const auto answer =
        questions_.ask("  " + question_of(key) + "; Enter: the sheet does not say", "", take);
    if (answer) {
        answers_[std::string{key}] = *answer;
    }
    return answer.has_value();
}

bool MissingConditions::input(RatedFigure& rated, const std::vector<RatedFigure>& earlier,
                              std::vector<std::string>& comments) {
    constexpr std::string_view key = "input";
    if (const auto known = answers_.find(key); known != answers_.end() && !known->second.empty()) {
        const bool twice = std::any_of(earlier.begin(), earlier.end(), [&](const auto& one) {
            return one.figure == rated.figure && one.conditions.input == known->second;
        });
        if (!twice) {
            rated.conditions.input = known->second;
            comments.push_back(fmt::format("input: not printed here; answered: {}", known->second));
            return true;
        }
    }
    const auto answer = questions_.ask(
        fmt::format("  Of which input: {}; Enter: the sheet does not say",
                    fmt::join(names_.inputs, ", ")),
        "", [&](const std::string& typed) {
            if (typed.empty()) {
                return std::string{};
            }
            const auto read = sequences::read_printed_condition(typed, key, rated.figure, names_);
            if (!read) {
                return words(read.error());
            }
            rated.conditions.input = read->input;
            return std::string{};
        });
    if (!answer) {
        return false;
    }
    comments.push_back(rated.conditions.input
                           ? "input: not printed here; answered: " + *rated.conditions.input
                           : "input: not stated");
    answers_[std::string{key}] = rated.conditions.input.value_or("");
    return true;
}

bool MissingConditions::tolerance(sequences::PrintedFigure& figure,
                                  std::vector<std::string>& comments) {
    RatedFigure& rated = figure.rated;
    const std::string key = fmt::format("tolerance of {}", name(rated.figure));
    const Limit nominal = rated.limit;
    const auto take = [&](const std::string& answer) {
        const auto limit = sequences::with_tolerance(nominal, answer, rated.figure);
        if (!limit) {
            return words(limit.error());
        }
        RatedFigure with = rated;
        with.limit = *limit;
        std::string why = why_not(with);
        if (why.empty()) {
            rated.limit = *limit;
        }
        return why;
    };
    auto known = answers_.find(key);
    if (known == answers_.end() || !take(known->second).empty()) {
        questions_.say("not printed: how far a unit may be off this value", 2);
        const auto answer = questions_.ask("  How far may it be off (common practice in brackets)",
                                           usual_tolerance(rated.figure), take);
        if (!answer) {
            return false;
        }
        known = answers_.insert_or_assign(key, *answer).first;
    }
    comments.push_back(fmt::format("tolerance: not printed; answered: {}", known->second));
    return true;
}

}  // namespace afterload::runner
