#include "analysis/control_range.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double one_tone = 0.005;

double gain_db(const DrivenTone& driven) {
    const VoltsRms volts = rms_of_sine(VoltsPeak{driven.tone.fit.fundamental.amplitude});
    return gain_of(AmplitudeRatio{volts / driven.drive}).decibels();
}

}  // namespace

Figure tone_range_error(const DrivenTone& at_end, const DrivenTone& flat, Gain rated) {
    Figure figure = begin(FigureKind::tone_range_error, at_end.tone);
    if (!(at_end.drive > VoltsRms{0.0} && flat.drive > VoltsRms{0.0})) {
        return without_value(std::move(figure), "the channel was not driven");
    }
    if (buried(at_end.tone.fit) || buried(flat.tone.fit)) {
        return without_value(std::move(figure),
                             "no tone stands out of the noise in one of the two records: drive "
                             "more");
    }
    const Hertz frequency = at_end.tone.fit.fundamental.frequency;
    const Hertz flat_frequency = flat.tone.fit.fundamental.frequency;
    if (!(std::abs(flat_frequency / frequency - 1.0) <= one_tone)) {
        return without_value(std::move(figure),
                             fmt::format("the two records hold different tones, {:.5g} and {:.5g} "
                                         "Hz: play the same one twice",
                                         frequency.in<Hertz>(), flat_frequency.in<Hertz>()));
    }
    const double range = gain_db(at_end) - gain_db(flat);
    figure.value = range - rated.decibels();
    figure.details.emplace_back("range_db", range);
    const BenchShare& here = at_end.tone.bench;
    const BenchShare& there = flat.tone.bench;
    add_line(figure.budget, Kind::noise, record_noise, "",
             decibels_a_neper *
                 std::hypot(relative_noise(at_end.tone.fit), relative_noise(flat.tone.fit)));
    if (here.level_source != there.level_source) {
        add_line(figure.budget, Kind::systematic, here.level_source, "level",
                 decibels_a_neper * here.level_u_k1);
        add_line(figure.budget, Kind::systematic, there.level_source, "level when flat",
                 decibels_a_neper * there.level_u_k1);
    }
    const RigPart part = calibrated_away(here);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    return figure;
}

namespace {

// Of a difference of two figures: noise adds, a systematic line that both name cancels as far as
// they agree.
Budget budget_of_difference(const Budget& a, const Budget& b) {
    Budget both;
    for (const BudgetLine& line : a) {
        const auto same = std::ranges::find_if(b, [&line](const BudgetLine& other) {
            return other.kind == Kind::systematic && other.source == line.source;
        });
        BudgetLine left = line;
        if (line.kind == Kind::systematic && same != b.end()) {
            left.u_k1 = std::abs(line.u_k1 - same->u_k1);
        }
        if (left.u_k1 > 0.0) {
            both.push_back(std::move(left));
        }
    }
    for (const BudgetLine& line : b) {
        const auto same = std::ranges::find_if(
            a, [&line](const BudgetLine& other) { return other.source == line.source; });
        if (line.kind != Kind::systematic || same == a.end()) {
            BudgetLine left = line;
            left.source += " at maximum";
            both.push_back(std::move(left));
        }
    }
    return both;
}

std::string no_balance(const Figure& balance) {
    if (!balance.unresolved.empty()) {
        return balance.unresolved;
    }
    return "one channel is in the noise: drive more";
}

}  // namespace

Figure volume_tracking(const Figure& at_maximum, const std::vector<VolumeMark>& marks) {
    Figure figure;
    figure.kind = FigureKind::volume_tracking;
    figure.conditions = at_maximum.conditions;
    figure.pair = at_maximum.pair;
    if (!at_maximum.value) {
        return without_value(std::move(figure),
                             fmt::format("at maximum: {}", no_balance(at_maximum)));
    }
    if (marks.empty()) {
        return without_value(std::move(figure), "no mark of the volume control was measured");
    }
    const VolumeMark* worst = nullptr;
    for (const VolumeMark& mark : marks) {
        if (!mark.balance.value) {
            return without_value(std::move(figure),
                                 fmt::format("at {}: {}", mark.mark, no_balance(mark.balance)));
        }
        const double change = *mark.balance.value - *at_maximum.value;
        Budget budget = budget_of_difference(mark.balance.budget, at_maximum.budget);
        figure.details.emplace_back("balance_change_at_" + mark.mark, change);
        figure.details.emplace_back("u_at_" + mark.mark, combined(budget));
        if (worst == nullptr || std::abs(change) > std::abs(*figure.value)) {
            worst = &mark;
            figure.value = change;
            figure.budget = std::move(budget);
        }
    }
    figure.conditions.volume = worst->mark;
    figure.rig_added = worst->balance.rig_added;
    figure.rig_cancelled = worst->balance.rig_cancelled;
    return figure;
}

}  // namespace afterload::analysis
