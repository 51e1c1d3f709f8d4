#include "runner/hints/hint_facts.hpp"

#include "analysis/level.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace afterload::runner {

namespace {

using sequences::HintFact;

constexpr double frequency_slack = 0.06;  // 20 Hz is played at 19.7 or 20.5 Hz
constexpr double without_end = std::numeric_limits<double>::infinity();

FactValue exactly(double value) {
    return {value, value, value, false};
}

bool smaller_is_better(FigureKind kind) {
    return better(kind) == Better::smaller;
}

/// What the figure reads, in its own unit.
std::optional<FactValue> reading_of(const Figure& figure) {
    if (figure.bound) {
        const bool most = figure.bound->side == Bound::Side::at_most;
        const double least = unit_of(figure.kind) == Unit::decibel ? -without_end : 0.0;
        return FactValue{figure.bound->value, most ? least : figure.bound->value,
                         most ? figure.bound->value : without_end, false};
    }
    if (!figure.value || !figure.unresolved.empty()) {
        return std::nullopt;
    }
    const double most = expanded(figure.budget);
    const double added = std::abs(figure.rig_added.value_or(0.0));
    const double hidden = std::abs(figure.rig_cancelled.value_or(0.0));
    // What the rig adds makes a distortion larger and a separation smaller.
    const bool up = smaller_is_better(figure.kind);
    return FactValue{*figure.value, *figure.value - most - (up ? added : hidden),
                     *figure.value + most + (up ? hidden : added),
                     up && !figure.rig_added.has_value()};
}

/// A curve at a frequency, straight between its points over log f.
std::optional<FactValue> point_of(const Curve& curve, double hertz) {
    const auto& f = curve.frequency_hz;
    if (f.empty() || curve.value.size() != f.size() ||
        hertz < f.front() * (1.0 - frequency_slack) || hertz > f.back() * (1.0 + frequency_slack)) {
        return std::nullopt;
    }
    const auto above = std::lower_bound(f.begin(), f.end(), hertz);
    const auto right = static_cast<std::size_t>(std::min(above, f.end() - 1) - f.begin());
    const std::size_t left = right == 0 ? 0 : right - 1;
    double share =
        f[right] > f[left] ? std::log(hertz / f[left]) / std::log(f[right] / f[left]) : 1.0;
    share = std::clamp(share, 0.0, 1.0);
    const double value = curve.value[left] + share * (curve.value[right] - curve.value[left]);
    const double u =
        curve.u_k1.size() == f.size() ? std::max(curve.u_k1[left], curve.u_k1[right]) : 0.0;
    return FactValue{value, value - 2.0 * u, value + 2.0 * u, false};
}

bool near(Hertz a, Hertz b) {
    return std::abs(a / b - 1.0) <= frequency_slack;
}

/// Is a frequency of this figure a point of its curve? A separation has both, and its own number
/// knows the rig's part.
bool on_curve(const Figure& figure) {
    return figure.curve.has_value() && !figure.pair;
}

/// The figure under the fact's conditions; a frequency is met by a point of a curve.
bool fits(const HintFact& fact, const Figure& figure) {
    if (figure.kind != fact.figure) {
        return false;
    }
    RatedFigure asked;
    asked.figure = fact.figure;
    asked.conditions = fact.conditions;
    const auto wanted = asked.conditions.frequency;
    asked.conditions.frequency.reset();
    if (wanted && !on_curve(figure) &&
        !(figure.conditions.frequency && near(*figure.conditions.frequency, *wanted))) {
        return false;
    }
    // A response that was scored carries the frequency of its worst point.
    Conditions measured = figure.conditions;
    if (on_curve(figure)) {
        measured.frequency.reset();
        measured.tone_range.reset();
    }
    return applies(asked, figure.kind, measured);
}

std::optional<FactValue> shifted(std::optional<FactValue> value, double by) {
    if (value) {
        value->value -= by;
        value->low -= by;
        value->high -= by;
    }
    return value;
}

double decibels_of(double ratio, Unit unit) {
    if (ratio <= 0.0) {
        return -without_end;
    }
    const Gain gain =
        unit == Unit::watt ? gain_of(PowerRatio{ratio}) : gain_of(AmplitudeRatio{ratio});
    return gain.decibels();
}

/// Against the rating: what is in decibels by its difference, watts as a power, the rest as
/// amplitudes.
std::optional<FactValue> against(const FactValue& value, FigureKind kind, double reference) {
    if (unit_of(kind) == Unit::decibel) {
        return shifted(value, reference);
    }
    if (reference <= 0.0) {
        return std::nullopt;
    }
    const Unit unit = unit_of(kind);
    return FactValue{decibels_of(value.value / reference, unit),
                     decibels_of(value.low / reference, unit),
                     decibels_of(value.high / reference, unit), value.rig_unknown};
}

std::optional<double> reference_of(const HintFact& fact, const RatedFigure& rating) {
    const Limit& limit = rating.limit;
    if (fact.from == HintFact::From::limit) {
        return limit.at_most ? limit.at_most : limit.at_least;
    }
    if (limit.nominal) {
        return limit.nominal;
    }
    if (limit.at_least && limit.at_most) {
        return 0.5 * (*limit.at_least + *limit.at_most);
    }
    return std::nullopt;
}

std::optional<FactValue> value_in(const HintFact& fact, const ScoredFigure& scored) {
    const Figure& figure = scored.figure;
    if (fact.order) {
        for (const HarmonicRow& row : figure.table) {
            if (row.order == *fact.order) {
                const double most = 2.0 * row.u_k1;
                return FactValue{row.ratio, row.ratio - most, row.ratio + most, false};
            }
        }
        return std::nullopt;
    }
    if (!fact.detail.empty()) {
        for (const auto& [name, value] : figure.details) {
            if (name == fact.detail) {
                return exactly(value);
            }
        }
        return std::nullopt;
    }
    std::optional<FactValue> value =
        on_curve(figure) && fact.conditions.frequency
            ? point_of(*figure.curve, fact.conditions.frequency->in<Hertz>())
            : reading_of(figure);
    if (!value || fact.from == HintFact::From::zero) {
        return value;
    }
    if (!scored.rating) {
        return std::nullopt;
    }
    const auto reference = reference_of(fact, *scored.rating);
    return reference ? against(*value, figure.kind, *reference) : std::nullopt;
}

FactValue negative(FactValue value) {
    return {-value.value, -value.high, -value.low, value.rig_unknown};
}

/// Where a channel stands: 2 is right.
std::size_t place_of(int channel) {
    return channel == 2 ? 1U : 0U;
}

void put(FactOfRun& out, std::size_t channel, const FactValue& value, HintFact::Take take) {
    std::optional<FactValue>& at = out.channels[channel];
    if (!at || take == HintFact::Take::last) {
        at = value;
    }
}

FactOfRun figure_fact(const RunDocument& run, const HintFact& fact) {
    FactOfRun out;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& scored : step.figures) {
            if (!fits(fact, scored.figure)) {
                continue;
            }
            const auto value = value_in(fact, scored);
            if (!value) {
                continue;
            }
            const Figure& figure = scored.figure;
            if (figure.kind == FigureKind::channel_balance ||
                figure.kind == FigureKind::volume_tracking) {
                put(out, 0, *value, fact.take);
                put(out, 1, negative(*value), fact.take);
            } else if (figure.pair) {
                // What leaks is seen in the channel it leaks into.
                put(out, place_of(figure.pair->second), *value, fact.take);
            } else if (figure.channel == 0) {
                out.shared = true;
                put(out, 0, *value, fact.take);
                put(out, 1, *value, fact.take);
            } else {
                put(out, place_of(figure.channel), *value, fact.take);
            }
        }
    }
    return out;
}

FactOfRun reading_fact(const RunDocument& run, const HintFact& fact) {
    FactOfRun out;
    const bool share = fact.from == HintFact::From::nominal;
    for (const StepResult& step : run.steps) {
        for (const SlowReading& reading : step.readings) {
            if (reading.quantity != fact.reading || (share && !run.unit.mains_voltage)) {
                continue;
            }
            const double unit = share ? *run.unit.mains_voltage : 1.0;
            const double most = 2.0 * reading.u_k1;
            const FactValue value{reading.value / unit, (reading.value - most) / unit,
                                  (reading.value + most) / unit, false};
            out.shared = out.shared || reading.channel == Channels::both;
            if (reading.channel != Channels::right) {
                put(out, 0, value, fact.take);
            }
            if (reading.channel != Channels::left) {
                put(out, 1, value, fact.take);
            }
        }
    }
    return out;
}

FactOfRun trend_fact(const RunDocument& run, const HintFact& fact) {
    FactOfRun out;
    for (const StepResult& step : run.steps) {
        if (!step.soak) {
            continue;
        }
        for (const SoakTrend& trend : step.soak->trends) {
            if (trend.quantity != fact.reading || trend.points.empty()) {
                continue;
            }
            const FactValue value =
                exactly(fact.take == HintFact::Take::first ? trend.points.front().mean
                                                           : trend.points.back().mean);
            out.shared = out.shared || trend.channel == 0;
            for (std::size_t c = 0; c < 2; ++c) {
                if (trend.channel == 0 || trend.channel == static_cast<int>(c) + 1) {
                    put(out, c, value, fact.take);
                }
            }
        }
    }
    return out;
}

/// `counts` of each channel; what is of none counts for both.
class Count {
public:
    void add(int channel) {
        if (channel == 0) {
            ++of_both_;
        } else {
            ++counts_[place_of(channel)];
        }
    }
    [[nodiscard]] FactOfRun fact() const {
        FactOfRun out;
        for (std::size_t c = 0; c < 2; ++c) {
            out.channels[c] = exactly(counts_[c] + of_both_);
        }
        out.shared = of_both_ > 0 && counts_[0] + counts_[1] == 0;
        return out;
    }

private:
    std::array<int, 2> counts_{};
    int of_both_ = 0;
};

/// How large the largest event of a kind was; nothing where there was none.
FactOfRun largest_event(const RunDocument& run, const HintFact& fact) {
    FactOfRun out;
    out.channels = {exactly(0.0), exactly(0.0)};
    for (const StepResult& step : run.steps) {
        for (const RunEvent& event : step.events) {
            for (std::size_t c = 0; c < 2; ++c) {
                const bool its = event.channel == 0 || place_of(event.channel) == c;
                if (event.kind == fact.event && its &&
                    std::abs(event.size) > out.channels[c]->value) {
                    out.channels[c] = exactly(std::abs(event.size));
                }
            }
        }
    }
    return out;
}

FactOfRun events_fact(const RunDocument& run, const HintFact& fact) {
    if (fact.largest) {
        return largest_event(run, fact);
    }
    Count count;
    for (const StepResult& step : run.steps) {
        for (const RunEvent& event : step.events) {
            if (event.kind == fact.event) {
                count.add(event.channel);
            }
        }
    }
    return count.fact();
}

FactOfRun retakes_fact(const RunDocument& run, const HintFact& fact) {
    Count count;
    for (const StepResult& step : run.steps) {
        for (const Retake& retake : step.retakes) {
            for (const CaptureFault& fault : retake.faults) {
                if (name(fault.kind) == fact.event) {
                    count.add(fault.channel);
                }
            }
        }
    }
    return count.fact();
}

/// Words that name one side speak of it alone.
int side_named(std::string_view text) {
    const bool left = text.find("left") != std::string_view::npos;
    const bool right = text.find("right") != std::string_view::npos;
    return left == right ? 0 : left ? 1 : 2;
}

FactOfRun told_fact(const RunDocument& run, const HintFact& fact) {
    Count count;
    const auto look = [&](std::string_view text, int channel) {
        if (text.find(fact.told) != std::string_view::npos) {
            count.add(channel);
        }
    };
    look(run.stop_reason, side_named(run.stop_reason));
    for (const std::string& note : run.notes) {
        look(note, side_named(note));
    }
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& scored : step.figures) {
            look(scored.figure.unresolved, scored.figure.channel);
            if (scored.verdict) {
                look(scored.verdict->reason, scored.figure.channel);
            }
        }
    }
    return count.fact();
}

}  // namespace

FactValue difference(const FactValue& a, const FactValue& b) {
    return {a.value - b.value, a.low - b.high, a.high - b.low, a.rig_unknown || b.rig_unknown};
}

FactValue sum(const FactValue& a, const FactValue& b) {
    return {a.value + b.value, a.low + b.low, a.high + b.high, a.rig_unknown || b.rig_unknown};
}

std::optional<FactValue> quotient(const FactValue& a, const FactValue& b) {
    if (!(b.value > 0.0)) {
        return std::nullopt;
    }
    FactValue out{a.value / b.value, 0.0, without_end, a.rig_unknown || b.rig_unknown};
    out.low = b.high > 0.0 ? a.low / b.high : -without_end;
    out.high = b.low > 0.0 ? a.high / b.low : without_end;
    return out;
}

FactValue distance(const FactValue& a, const FactValue& b) {
    const FactValue signed_one = difference(a, b);
    FactValue out = signed_one;
    out.value = std::abs(signed_one.value);
    out.high = std::max(std::abs(signed_one.low), std::abs(signed_one.high));
    const bool through_zero = signed_one.low <= 0.0 && signed_one.high >= 0.0;
    out.low = through_zero ? 0.0 : std::min(std::abs(signed_one.low), std::abs(signed_one.high));
    return out;
}

HintFacts::HintFacts(const RunDocument& run, const sequences::HintRules& rules) {
    for (const HintFact& fact : rules.facts) {
        FactOfRun& out = facts_[fact.name];
        switch (fact.source) {
            case HintFact::Source::figure:
                out = figure_fact(run, fact);
                break;
            case HintFact::Source::reading:
                out = reading_fact(run, fact);
                break;
            case HintFact::Source::trend:
                out = trend_fact(run, fact);
                break;
            case HintFact::Source::events:
                out = events_fact(run, fact);
                break;
            case HintFact::Source::retakes:
                out = retakes_fact(run, fact);
                break;
            case HintFact::Source::told:
                out = told_fact(run, fact);
                break;
            case HintFact::Source::ratio:
            case HintFact::Source::difference:
            case HintFact::Source::sum: {
                const FactOfRun& first = of(fact.first);
                const FactOfRun& second = of(fact.second);
                out.shared = first.shared && second.shared;
                for (std::size_t c = 0; c < 2; ++c) {
                    if (!first.channels[c] || !second.channels[c]) {
                        continue;
                    }
                    out.channels[c] = fact.source == HintFact::Source::ratio
                                          ? quotient(*first.channels[c], *second.channels[c])
                                      : fact.source == HintFact::Source::sum
                                          ? sum(*first.channels[c], *second.channels[c])
                                          : difference(*first.channels[c], *second.channels[c]);
                }
                break;
            }
        }
    }
}

const FactOfRun& HintFacts::of(std::string_view name) const {
    const auto found = facts_.find(name);
    if (found == facts_.end()) {
        throw std::logic_error("no such fact: " + std::string{name});
    }
    return found->second;
}

}  // namespace afterload::runner
