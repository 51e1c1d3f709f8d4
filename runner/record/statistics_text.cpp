#include "runner/record/statistics_text.hpp"

#include "analysis/wording.hpp"
#include "runner/papers/figure_json.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace afterload::runner {
namespace {

constexpr std::size_t label_start = 2;
constexpr std::size_t channel_start = 23;
constexpr std::size_t units_end = 34;
constexpr std::size_t median_end = 43;
constexpr std::size_t half_end = 62;
constexpr std::size_t unit_start = 63;
constexpr std::size_t own_end = 73;
constexpr std::size_t below_end = 80;
constexpr std::size_t narrowest_full = 80;
constexpr std::size_t longest_outside_text = 40;
/// Drift of the rig that is told beside a row: from this part of the spread on.
constexpr double drift_worth_telling = 0.25;

std::string number(double value, const std::optional<Bound::Side>& bound, const ShownUnit& unit,
                   int decimals) {
    const char* sign = !bound ? "" : *bound == Bound::Side::at_most ? "<" : ">";
    return sign + fixed(value * unit.factor, decimals);
}

std::string number(const analysis::Quantile& quantile, const ShownUnit& unit, int decimals) {
    return number(quantile.value, quantile.bound, unit, decimals);
}

std::string count_text(double count) {
    return count == std::floor(count) ? fmt::format("{:.0f}", count) : fmt::format("{:.1f}", count);
}

/// "8 %" of ten units and more, else "2 of 7".
std::string below_text(const StatisticRow& row) {
    const std::size_t others = row.among.units;
    if (others == 0) {
        return {};
    }
    return others >= analysis::fewest_for_a_share
               ? fmt::format("{:.0f} %", 100.0 * row.unit->below / static_cast<double>(others))
               : fmt::format("{} of {}", count_text(row.unit->below), others);
}

/// Which channel: of a separation the one that is read.
std::string side_text(const FigurePoint& point) {
    if (point.pair && point.kind == FigureKind::channel_separation) {
        return point.pair->second == 1 ? "left" : "right";
    }
    return point.pair ? std::string{} : channel_words(point.figure());
}

/// The label as a narrow column has room for it.
std::string short_label(const FigurePoint& point) {
    constexpr std::string_view noise = "THD + noise";
    std::string label = point.label;
    if (const std::size_t at = label.find(noise); at != std::string::npos) {
        label.replace(at, noise.size(), "THD+N");
    }
    return label;
}

/// What the rig drifted, in the words of the kind.
std::string drift_text(const StatisticRow& row) {
    return unit_of(row.point.kind) == Unit::decibel
               ? fmt::format("{} dB", plain(*row.drift, 2))
               : fmt::format("{} %", plain(100.0 * *row.drift, 2));
}

class StatisticsSheet {
public:
    StatisticsSheet(const ModelStatistics& statistics, const Terminal& terminal)
        : statistics_{statistics}, terminal_{terminal} {}

    std::string text() {
        head();
        const std::string* path = nullptr;
        for (const StatisticRow& row : statistics_.rows) {
            if (path == nullptr || *path != row.point.path) {
                path = &row.point.path;
                TextLine line{terminal_};
                line.put(cut(path->empty() ? "Figures" : *path, longest_outside_text, terminal_),
                         Emphasis::bold);
                out_ += line.text();
            }
            narrow() ? narrow_row(row) : full_row(row);
        }
        foot();
        return std::move(out_);
    }

private:
    [[nodiscard]] bool narrow() const { return terminal_.width < narrowest_full; }
    void say(const std::string& words, Emphasis emphasis = Emphasis::plain) {
        out_ += wrapped(words, 0, 2, terminal_, emphasis);
    }

    void head() {
        const std::string model = cut(fmt::format("{} {}", statistics_.maker, statistics_.model),
                                      longest_outside_text, terminal_);
        const std::string stage = analysis::spoken(statistics_.stage);
        say(fmt::format("{}: {}, {}, each unit by its last reading {}", model,
                        how_many(statistics_.units, "unit"), how_many(statistics_.runs, "run"),
                        stage.empty() ? std::string{"as repaired, soaked or cold"} : "as " + stage),
            Emphasis::bold);
        if (statistics_.without_serial > 0) {
            say(fmt::format("{} without a serial left out.",
                            how_many(statistics_.without_serial, "run")));
        }
        if (statistics_.rows.empty()) {
            say(statistics_.serial.empty()
                    ? "No figure was measured on two units."
                    : fmt::format("No reading of {} at that stage.",
                                  cut(statistics_.serial, longest_outside_text, terminal_)));
            return;
        }
        if (narrow()) {
            return;
        }
        const bool placed = !statistics_.serial.empty();
        TextLine line{terminal_};
        line.ending_at(units_end, placed ? "others" : "units", Emphasis::faint)
            .ending_at(median_end, "median", Emphasis::faint)
            .ending_at(half_end, "middle half", Emphasis::faint);
        if (placed) {
            line.ending_at(own_end, cut(statistics_.serial, 9, terminal_), Emphasis::faint)
                .ending_at(below_end, "lower", Emphasis::faint);
        }
        out_ += line.text();
    }

    struct Written {
        ShownUnit unit;
        int decimals = 3;
    };
    static Written written(const StatisticRow& row) {
        const bool any = row.among.units > 0;
        const double guide = any ? row.among.median.value : row.unit ? row.unit->value : 0.0;
        Written made{shown_unit(row.point.kind, guide), 3};
        const auto by_uncertainty = decimals_for(2.0 * row.u_k1 * made.unit.factor);
        // No more digits than the column holds: units of a model differ by far more than those.
        const int most =
            unit_of(row.point.kind) == Unit::decibel ? 2 : decimals_of(guide * made.unit.factor, 3);
        made.decimals = std::clamp(by_uncertainty.value_or(most), 0, std::clamp(most, 0, 6));
        return made;
    }

    void full_row(const StatisticRow& row) {
        const auto [unit, decimals] = written(row);
        TextLine line{terminal_};
        line.to(label_start)
            .put(cut(short_label(row.point), channel_start - label_start - 1, terminal_))
            .to(channel_start)
            .put(side_text(row.point))
            .ending_at(units_end, fmt::format("{}", row.among.units));
        if (row.among.units > 0) {
            line.ending_at(median_end, number(row.among.median, unit, decimals));
        }
        if (row.among.units > 1) {
            line.ending_at(half_end,
                           fmt::format("{} to {}", number(row.among.lower, unit, decimals),
                                       number(row.among.upper, unit, decimals)));
        }
        line.to(unit_start).put(unit.symbol);
        if (row.unit) {
            const Emphasis emphasis = row.unit->stands_out ? Emphasis::inverse : Emphasis::plain;
            line.ending_at(own_end, number(row.unit->value, row.unit->bound, unit, decimals),
                           emphasis)
                .ending_at(below_end, below_text(row));
        }
        out_ += line.text();
        drifted(row);
    }

    void narrow_row(const StatisticRow& row) {
        const auto [unit, decimals] = written(row);
        const std::string side = side_text(row.point);
        std::string words_of =
            fmt::format("{}{}{}: ", short_label(row.point), side.empty() ? "" : ", ", side);
        words_of +=
            row.among.units == 0
                ? std::string{"no other unit"}
                : fmt::format("{} {}, {} to {}, of {}", number(row.among.median, unit, decimals),
                              unit.symbol, number(row.among.lower, unit, decimals),
                              number(row.among.upper, unit, decimals), row.among.units);
        if (row.unit) {
            words_of +=
                fmt::format("; this unit {} {}",
                            number(row.unit->value, row.unit->bound, unit, decimals), unit.symbol);
            words_of += row.among.units == 0 ? "" : ", lower: " + below_text(row);
        }
        out_ += wrapped(words_of, 2, 4, terminal_,
                        row.unit && row.unit->stands_out ? Emphasis::bold : Emphasis::plain);
        drifted(row);
    }

    /// Where the rig's own drift is no small part of the spread, it is said.
    void drifted(const StatisticRow& row) {
        if (!row.taken_off || !row.drift || !row.spread) {
            return;
        }
        const double size = unit_of(row.point.kind) == Unit::decibel
                                ? *row.drift
                                : *row.drift * std::abs(row.among.median.value);
        if (size > drift_worth_telling * *row.spread) {
            const auto [unit, decimals] = written(row);
            out_ += wrapped(fmt::format("the rig drifted {} meanwhile, which is taken off; with it "
                                        "the middle half was {} {} wide",
                                        drift_text(row), fixed(*row.spread * unit.factor, decimals),
                                        unit.symbol),
                            4, 4, terminal_, Emphasis::faint);
        }
    }

    void foot() {
        if (statistics_.rows.empty()) {
            return;
        }
        std::vector<std::string> unlike;
        std::size_t taken_off = 0;
        for (const StatisticRow& row : statistics_.rows) {
            taken_off += row.taken_off ? 1 : 0;
            if (row.unit && row.unit->stands_out) {
                const std::string side = side_text(row.point);
                unlike.push_back(row.point.label + (side.empty() ? "" : ", " + side));
            }
        }
        out_ += "\n";
        if (!statistics_.serial.empty()) {
            const std::string who = cut(statistics_.serial, longest_outside_text, terminal_);
            const bool enough = std::any_of(
                statistics_.rows.begin(), statistics_.rows.end(), [](const StatisticRow& row) {
                    return row.among.units >= analysis::fewest_for_a_share;
                });
            if (!enough) {
                say(fmt::format("Fewer than {} other units: too few to say what is usual.",
                                analysis::fewest_for_a_share));
            } else if (unlike.empty()) {
                say(fmt::format("{} is as the others are.", who));
            } else {
                say(fmt::format("{} is not as the others are: {}.", who, fmt::join(unlike, "; ")),
                    Emphasis::bold);
            }
        }
        if (statistics_.golden.empty()) {
            say("What the rig itself drifted is in the spread: no golden box was named (--golden).",
                Emphasis::faint);
        } else {
            say(fmt::format(
                    "Golden box {}: {} runs. Its drift is taken off {} of {} rows; the others do "
                    "not scale with the rig, or the box was measured there fewer than three times.",
                    cut(statistics_.golden, longest_outside_text, terminal_),
                    statistics_.golden_runs, taken_off, statistics_.rows.size()),
                Emphasis::faint);
        }
    }

    const ModelStatistics& statistics_;
    const Terminal& terminal_;
    std::string out_;
};

Json quantile_json(const analysis::Quantile& quantile) {
    Json out{{"value", quantile.value}};
    if (quantile.bound) {
        out["bound_is"] = name(*quantile.bound);
    }
    return out;
}

}  // namespace

std::string statistics_text(const ModelStatistics& statistics, const Terminal& terminal) {
    return StatisticsSheet{statistics, terminal}.text();
}

Json statistics_json(const ModelStatistics& statistics) {
    Json out;
    out["schema"] = "afterload/statistics/1";
    out["maker"] = statistics.maker;
    out["model"] = statistics.model;
    out["stage"] = statistics.stage.empty() ? Json{} : Json(statistics.stage);
    out["serial"] = statistics.serial.empty() ? Json{} : Json(statistics.serial);
    out["golden"] = statistics.golden.empty() ? Json{} : Json(statistics.golden);
    out["units"] = statistics.units;
    out["runs"] = statistics.runs;
    out["runs_without_serial"] = statistics.without_serial;
    out["golden_runs"] = statistics.golden_runs;
    out["figures"] = Json::array();
    for (const StatisticRow& row : statistics.rows) {
        Json one;
        one["label"] = row.point.label;
        one["path"] = row.point.path;
        one["figure"] = name(row.point.kind);
        one["channel"] = row.point.channel;
        if (row.point.pair) {
            one["pair"] = Json::array({row.point.pair->first, row.point.pair->second});
        }
        one["unit"] = symbol(unit_of(row.point.kind));
        one["conditions"] = conditions_json(row.point.conditions);
        one["others"] = row.among.units;
        one["bounds"] = row.among.bounds;
        if (row.among.units > 0) {
            one["median"] = quantile_json(row.among.median);
            one["lower_quartile"] = quantile_json(row.among.lower);
            one["upper_quartile"] = quantile_json(row.among.upper);
            one["least"] = row.among.least;
            one["greatest"] = row.among.greatest;
        }
        one["u_k1"] = row.u_k1;
        one["rig"] = {{"golden_readings", row.golden},
                      {"drift", row.drift ? Json(*row.drift) : Json{}},
                      {"taken_off", row.taken_off},
                      {"quartile_distance_as_read", row.spread ? Json(*row.spread) : Json{}}};
        if (row.unit) {
            Json unit{{"value", row.unit->value}, {"run", row.unit->run}};
            if (row.unit->bound) {
                unit["bound_is"] = name(*row.unit->bound);
            }
            unit["below"] = row.unit->below;
            unit["percentile"] =
                row.among.units >= analysis::fewest_for_a_share
                    ? Json(100.0 * row.unit->below / static_cast<double>(row.among.units))
                    : Json{};
            unit["stands_out"] = row.unit->stands_out;
            one["this_unit"] = std::move(unit);
        }
        out["figures"].push_back(std::move(one));
    }
    return out;
}

}  // namespace afterload::runner
