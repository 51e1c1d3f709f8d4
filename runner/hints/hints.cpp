#include "runner/hints/hints.hpp"

#include "runner/hints/hint_facts.hpp"
#include "runner/papers/number_text.hpp"
#include "sequences/sequence_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <set>
#include <tuple>

namespace afterload::runner {

namespace {

using sequences::Dimension;
using sequences::HintAbout;
using sequences::HintChannels;
using sequences::HintCondition;
using sequences::HintConfidence;
using sequences::HintFact;
using sequences::HintRule;
using sequences::HintRules;

enum class Held { no, open, yes };

/// What a hint is tried for: a channel, or both together.
enum class Side { left, right, both };

std::string value_words(Dimension dimension, double value) {
    switch (dimension) {
        case Dimension::ratio:
            return fmt::format("{} %", plain(100.0 * value, 3));
        case Dimension::decibels:
            return fmt::format("{} dB", fixed(value, std::abs(value) < 1.0 ? 2 : 1));
        case Dimension::volts:
        case Dimension::volts_dc:
            return quantity_text(value, "V", 3);
        case Dimension::watts:
            return quantity_text(value, "W", 3);
        case Dimension::hertz:
            return quantity_text(value, "Hz", 3);
        case Dimension::ohms:
            return quantity_text(value, "Ω", 3);
        case Dimension::amperes:
            return quantity_text(value, "A", 3);
        case Dimension::celsius:
            return quantity_text(value, "°C", 3);
        case Dimension::seconds:
            return quantity_text(value, "s", 3);
        case Dimension::per_second:
            return fmt::format("{} 1/s", plain(value, 3));
        default:
            return plain(value, 3);
    }
}

bool counted(const HintFact& fact) {
    if (fact.largest) {
        return false;
    }
    return fact.source == HintFact::Source::events || fact.source == HintFact::Source::retakes ||
           fact.source == HintFact::Source::told;
}

Held within(const FactValue& value, const HintCondition& condition) {
    Held held = Held::yes;
    if (condition.at_least) {
        held = std::min(held, value.low >= *condition.at_least   ? Held::yes
                              : value.high < *condition.at_least ? Held::no
                                                                 : Held::open);
    }
    if (condition.at_most) {
        held = std::min(held, value.high <= *condition.at_most ? Held::yes
                              : value.low > *condition.at_most ? Held::no
                                                               : Held::open);
    }
    return held;
}

const char* channel_name(std::size_t channel) {
    return channel == 0 ? "left" : "right";
}

class Rules {
public:
    Rules(const HintRules& rules, const HintFacts& facts) : rules_{rules}, facts_{facts} {}

    [[nodiscard]] Held held(const HintCondition& condition, Side side) const {
        if (!condition.any.empty()) {
            Held most = Held::no;
            for (const HintCondition& one : condition.any) {
                most = std::max(most, held(one, side));
            }
            return most;
        }
        const HintFact& fact = *rules_.find_fact(condition.fact);
        Held all = Held::yes;
        for (const auto& value : values(condition, side)) {
            if (!value) {
                all = std::min(all, Held::open);
            } else if (counted(fact) && !condition.at_least && !condition.at_most) {
                all = std::min(all, value->value >= 1.0 ? Held::yes : Held::no);
            } else {
                all = std::min(all, within(*value, condition));
            }
        }
        return all;
    }

    [[nodiscard]] Held held(const std::vector<HintCondition>& conditions, Side side) const {
        Held all = Held::yes;
        for (const HintCondition& condition : conditions) {
            all = std::min(all, held(condition, side));
        }
        return all;
    }

    [[nodiscard]] bool any_held(const std::vector<HintCondition>& conditions, Side side) const {
        return std::any_of(conditions.begin(), conditions.end(),
                           [&](const auto& one) { return held(one, side) == Held::yes; });
    }

    /// Nothing of what the condition looks at is known well: the bench does not say what it adds.
    [[nodiscard]] bool rig_unknown(const HintCondition& condition, Side side) const {
        if (!condition.any.empty()) {
            return false;
        }
        const auto all = values(condition, side);
        return std::any_of(all.begin(), all.end(),
                           [](const auto& value) { return value && value->rig_unknown; });
    }

    /// What a condition that holds says.
    [[nodiscard]] std::vector<std::string> words(const HintCondition& condition, Side side) const {
        std::vector<std::string> lines;
        if (!condition.any.empty()) {
            for (const HintCondition& one : condition.any) {
                if (held(one, side) == Held::yes) {
                    for (std::string& line : words(one, side)) {
                        lines.push_back(std::move(line));
                    }
                }
            }
            return lines;
        }
        const HintFact& fact = *rules_.find_fact(condition.fact);
        const FactOfRun& measured = facts_.of(fact.name);
        const bool times = condition.of == HintCondition::Of::times;
        const Dimension shown = times ? Dimension::number : fact.dimension;
        const auto all = values(condition, side);
        std::string text;
        for (std::size_t i = 0; i < all.size(); ++i) {
            if (!all[i] || (measured.shared && i > 0)) {
                continue;
            }
            text += fmt::format(
                "{}{}{}", text.empty() ? "" : ", ",
                measured.shared ? "" : whose(condition.of, side, i),
                counted(fact) ? plain(all[i]->value, 4) : value_words(shown, all[i]->value));
        }
        const auto limit = [&](double value) { return value_words(shown, value); };
        std::string asked;
        if (condition.at_least && condition.at_most) {
            asked =
                fmt::format(" ({} to {})", limit(*condition.at_least), limit(*condition.at_most));
        } else if (condition.at_least) {
            asked = fmt::format(" (at least {})", limit(*condition.at_least));
        } else if (condition.at_most) {
            asked = fmt::format(" (at most {})", limit(*condition.at_most));
        }
        if (counted(fact) && asked.empty()) {
            lines.push_back(fact.words + (measured.shared ? "" : ": " + text));
        } else {
            lines.push_back(fmt::format("{}: {}{}", fact.words, text, asked));
        }
        return lines;
    }

private:
    /// "left ", "right less left ": of the `i`-th value of a condition.
    [[nodiscard]] static std::string whose(HintCondition::Of of, Side side, std::size_t i) {
        const std::size_t own = side == Side::both ? i : side == Side::left ? 0 : 1;
        switch (of) {
            case HintCondition::Of::own:
                return fmt::format("{} ", channel_name(own));
            case HintCondition::Of::other:
                return fmt::format("{} ", channel_name(1 - own));
            case HintCondition::Of::apart:
                return side == Side::both
                           ? std::string{"apart "}
                           : fmt::format("{} less {} ", channel_name(own), channel_name(1 - own));
            case HintCondition::Of::times:
                return side == Side::both
                           ? std::string{"one over the other "}
                           : fmt::format("{} over {} ", channel_name(own), channel_name(1 - own));
        }
        return {};
    }

    /// The values a condition speaks of: one, or of both channels two.
    [[nodiscard]] std::vector<std::optional<FactValue>> values(const HintCondition& condition,
                                                               Side side) const {
        const auto& channels = facts_.of(condition.fact).channels;
        if (condition.of == HintCondition::Of::times) {
            if (!channels[0] || !channels[1]) {
                return {std::nullopt};
            }
            const bool left_over_right =
                side == Side::both ? channels[0]->value >= channels[1]->value : side == Side::left;
            return {left_over_right ? quotient(*channels[0], *channels[1])
                                    : quotient(*channels[1], *channels[0])};
        }
        if (condition.of == HintCondition::Of::apart) {
            if (!channels[0] || !channels[1]) {
                return {std::nullopt};
            }
            return {side == Side::both   ? distance(*channels[0], *channels[1])
                    : side == Side::left ? difference(*channels[0], *channels[1])
                                         : difference(*channels[1], *channels[0])};
        }
        if (side == Side::both) {
            return {channels[0], channels[1]};
        }
        const std::size_t own = side == Side::left ? 0 : 1;
        return {channels[condition.of == HintCondition::Of::other ? 1 - own : own]};
    }

    const HintRules& rules_;
    const HintFacts& facts_;
};

/// A figure that failed, or failed conditionally.
struct FailedFigure {
    std::string id;
    FigureKind kind = FigureKind::thd;
    int channel = 0;  ///< 0: of no single one
};

std::vector<FailedFigure> failed_figures(const RunDocument& run) {
    std::vector<FailedFigure> failed;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& scored : step.figures) {
            if (!scored.verdict ||
                (scored.verdict->kind != analysis::VerdictKind::fail &&
                 scored.verdict->kind != analysis::VerdictKind::conditional_fail)) {
                continue;
            }
            failed.push_back(
                {scored.id, scored.figure.kind, scored.figure.pair ? 0 : scored.figure.channel});
        }
    }
    return failed;
}

bool concerns(const FailedFigure& failed, const HintRule& rule, Side side) {
    const bool kind =
        std::find(rule.explains.begin(), rule.explains.end(), failed.kind) != rule.explains.end();
    const bool channel =
        failed.channel == 0 || side == Side::both || failed.channel == (side == Side::left ? 1 : 2);
    return kind && channel;
}

std::string where_of(Side side, HintAbout about) {
    switch (side) {
        case Side::left:
            return "left";
        case Side::right:
            return "right";
        case Side::both:
            return about == HintAbout::rig ? "" : "both channels";
    }
    return "";
}

HintConfidence lowered(HintConfidence confidence, std::size_t by) {
    const int now = static_cast<int>(confidence) - static_cast<int>(by);
    return static_cast<HintConfidence>(std::max(now, 0));
}

class Search {
public:
    Search(const RunDocument& run, const HintRules& rules)
        : facts_{run, rules}, rules_{rules, facts_}, failed_{failed_figures(run)} {
        for (const HintRule& rule : rules.hints) {
            switch (rule.channels) {
                case HintChannels::both:
                    consider(rule, Side::both);
                    break;
                case HintChannels::one:
                    one_side(rule);
                    break;
                case HintChannels::any:
                    consider(rule, Side::left);
                    consider(rule, Side::right);
                    break;
            }
        }
    }

    Hints found() {
        // The rig, then a knob, then the unit; what is hardly likely comes behind them all.
        const auto place = [](const Found& one) {
            const Hint& hint = one.hint;
            return std::tuple{hint.confidence == HintConfidence::low, hint.about,
                              -static_cast<int>(hint.confidence),
                              -static_cast<int>(hint.evidence.size())};
        };
        std::stable_sort(found_.begin(), found_.end(),
                         [&place](const Found& a, const Found& b) { return place(a) < place(b); });
        Hints out;
        for (const Found& one : found_) {
            (explained_before(one) ? out.set_aside : out.hints).push_back(one.hint);
        }
        return out;
    }

private:
    struct Found {
        Hint hint;
        std::set<FigureKind> kinds;  ///< of the failed figures it may be behind, else of the rule
    };

    void one_side(const HintRule& rule) {
        const bool left = rules_.held(rule.when, Side::left) == Held::yes;
        const bool right = rules_.held(rule.when, Side::right) == Held::yes;
        if (left != right) {
            consider(rule, left ? Side::left : Side::right);
        }
    }

    void consider(const HintRule& rule, Side side) {
        if (rules_.held(rule.when, side) != Held::yes || rules_.any_held(rule.unless, side)) {
            return;
        }
        Found found;
        Hint& hint = found.hint;
        for (const FailedFigure& failed : failed_) {
            if (concerns(failed, rule, side)) {
                hint.figures.push_back(failed.id);
                found.kinds.insert(failed.kind);
            }
        }
        if (hint.figures.empty() && !rule.even_if_passed) {
            return;
        }
        if (found.kinds.empty()) {
            found.kinds.insert(rule.explains.begin(), rule.explains.end());
        }
        hint.name = rule.name;
        hint.about = rule.about;
        hint.family = rule.family;
        hint.where = where_of(side, rule.about);
        hint.usually = rule.usually;
        hint.look = rule.look;
        hint.separates = rule.separates;
        for (const std::string& caution : rule.cautions) {
            hint.cautions.emplace_back(sequences::caution_text(caution));
        }
        bool unknown = false;
        for (const auto* list : {&rule.when, &rule.also}) {
            for (const HintCondition& condition : *list) {
                if (rules_.held(condition, side) == Held::yes) {
                    put(hint.evidence, rules_.words(condition, side));
                    unknown = unknown || rules_.rig_unknown(condition, side);
                }
            }
        }
        for (const HintCondition& condition : rule.against) {
            if (rules_.held(condition, side) == Held::yes) {
                put(hint.counter_evidence, rules_.words(condition, side));
            }
        }
        if (unknown && rule.about == HintAbout::unit) {
            hint.counter_evidence.emplace_back(
                "what the rig itself adds is not known: a rig check comes first");
        }
        hint.confidence = lowered(rule.confidence, hint.counter_evidence.size());
        found_.push_back(std::move(found));
    }

    static void put(std::vector<std::string>& into, std::vector<std::string> lines) {
        for (std::string& line : lines) {
            into.push_back(std::move(line));
        }
    }

    /// What the rig explains is not laid to anything else, and what a control surely explains is
    /// not laid to the unit.
    [[nodiscard]] bool explained_before(const Found& one) const {
        for (const Found& other : found_) {
            const bool before =
                (other.hint.about == HintAbout::rig && one.hint.about != HintAbout::rig) ||
                (other.hint.about == HintAbout::control && one.hint.about == HintAbout::unit &&
                 other.hint.confidence >= HintConfidence::high);
            if (before && std::includes(other.kinds.begin(), other.kinds.end(), one.kinds.begin(),
                                        one.kinds.end())) {
                return true;
            }
        }
        return false;
    }

    HintFacts facts_;
    Rules rules_;
    std::vector<FailedFigure> failed_;
    std::vector<Found> found_;
};

}  // namespace

Hints hints_for(const RunDocument& run, const HintRules& rules) {
    return Search{run, rules}.found();
}

}  // namespace afterload::runner
