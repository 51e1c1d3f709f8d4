#include "analysis/clipping.hpp"

#include "analysis/normal_equations.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double crest_cosine = 0.99619469809;  // cos 5°
constexpr double middle_cosine = 0.5;
constexpr double least_samples_a_cycle = 36.0;
constexpr double least_cycles = 24.0;
constexpr double cycles_a_group = 6.0;
constexpr double most_groups = 16.0;
constexpr double least_shortfall = 0.005;

// One crest: mean of the samples, and where on the sine they stood.
struct Crest {
    double volts = 0.0;
    double cosine = 0.0;
    double sine = 0.0;
    double count = 0.0;

    void add(double x, double c, double s) {
        volts += x;
        cosine += c;
        sine += s;
        count += 1.0;
    }
};

// A group of whole cycles, laid over each other.
class Group {
public:
    void add(double volts, double cosine, double sine) {
        if (std::abs(cosine) < middle_cosine) {
            const std::array<double, 3> row{cosine, sine, 1.0};
            for (std::size_t i = 0; i < row.size(); ++i) {
                for (std::size_t k = 0; k <= i; ++k) {
                    middle_.at(i, k) += row[i] * row[k];
                }
                middle_.right(i) += row[i] * volts;
            }
        } else if (cosine > crest_cosine) {
            top_.add(volts, cosine, sine);
        } else if (cosine < -crest_cosine) {
            bottom_.add(volts, cosine, sine);
        }
    }

    struct Halves {
        double positive = 0.0;  ///< V, re the middle of the swing
        double negative = 0.0;
        double positive_short = 0.0;  ///< by how much less than the sine, relative
        double negative_short = 0.0;
        double swing = 0.0;  ///< peak of the sine fitted to the middle
    };
    /// Nothing where the group holds too few samples.
    [[nodiscard]] std::optional<Halves> halves() const {
        const auto fit = middle_.solve();
        if (!fit || top_.count < 4.0 || bottom_.count < 4.0) {
            return std::nullopt;
        }
        const std::vector<double>& line = fit->values;
        const auto expected = [&line](const Crest& crest) {
            return (line[0] * crest.cosine + line[1] * crest.sine) / crest.count;
        };
        const double up = expected(top_);
        const double down = -expected(bottom_);
        if (!(up > 0.0) || !(down > 0.0)) {
            return std::nullopt;
        }
        Halves halves;
        halves.positive = top_.volts / top_.count - line[2];
        halves.negative = line[2] - bottom_.volts / bottom_.count;
        halves.positive_short = 1.0 - halves.positive / up;
        halves.negative_short = 1.0 - halves.negative / down;
        halves.swing = std::hypot(line[0], line[1]);
        return halves;
    }

private:
    NormalEquations middle_{3};
    Crest top_;
    Crest bottom_;
};

struct Mean {
    double value = 0.0;
    double u = 0.0;
};

template <class Of>
Mean mean_of(const std::vector<Group::Halves>& groups, const Of& of) {
    const auto count = static_cast<double>(groups.size());
    Mean mean;
    for (const Group::Halves& group : groups) {
        mean.value += of(group) / count;
    }
    double squares = 0.0;
    for (const Group::Halves& group : groups) {
        squares += (of(group) - mean.value) * (of(group) - mean.value);
    }
    mean.u = std::sqrt(squares / (count * (count - 1.0)));
    return mean;
}

std::vector<Group::Halves> groups_of(const ToneRecord& tone) {
    const std::size_t samples = tone.record.volts.size();
    const double turn = tone.fit.fundamental.frequency / tone.record.rate.frequency();
    const double cycles = std::floor(static_cast<double>(samples) * turn);
    const auto count =
        static_cast<std::size_t>(std::clamp(std::floor(cycles / cycles_a_group), 1.0, most_groups));
    const double middle = (static_cast<double>(samples) - 1.0) / 2.0;
    std::vector<Group> groups(count);
    for (std::size_t n = 0; n < samples; ++n) {
        const double cycle = std::floor(static_cast<double>(n) * turn);
        if (cycle >= cycles) {
            break;
        }
        const auto group = static_cast<std::size_t>(cycle * static_cast<double>(count) / cycles);
        const double phase = 2.0 * std::numbers::pi * turn * (static_cast<double>(n) - middle) +
                             tone.fit.fundamental.phase;
        groups[std::min(group, count - 1)].add(tone.record.volts[n], std::cos(phase),
                                               std::sin(phase));
    }
    std::vector<Group::Halves> halves;
    for (const Group& group : groups) {
        if (const auto found = group.halves()) {
            halves.push_back(*found);
        }
    }
    return halves;
}

std::string why_not(const ToneRecord& tone) {
    const double turn = tone.fit.fundamental.frequency / tone.record.rate.frequency();
    if (buried(tone.fit)) {
        return "no tone stands out of the noise: drive more";
    }
    if (!(turn > 0.0 && turn * least_samples_a_cycle <= 1.0)) {
        return fmt::format(
            "a crest at {:.5g} Hz has too few samples: record at {:.6g} samples a "
            "second or more, or use a lower tone",
            tone.fit.fundamental.frequency.in<Hertz>(),
            least_samples_a_cycle * tone.fit.fundamental.frequency.in<Hertz>());
    }
    if (!(static_cast<double>(tone.record.volts.size()) * turn >= least_cycles)) {
        return fmt::format("the record is too short: {:.3g} s would do",
                           least_cycles / tone.fit.fundamental.frequency.in<Hertz>());
    }
    return "";
}

bool clips(const Mean& shortfall) {
    return shortfall.value > least_shortfall && shortfall.value > 3.0 * shortfall.u;
}

double first_half(bool positive, bool negative, const Mean& ratio) {
    if (positive != negative) {
        return positive ? 1.0 : -1.0;
    }
    if (std::abs(ratio.value - 1.0) <= 2.0 * ratio.u) {
        return 0.0;
    }
    return ratio.value < 1.0 ? 1.0 : -1.0;
}

}  // namespace

Figure clipping_symmetry(const ToneRecord& tone) {
    Figure figure = begin(FigureKind::clipping_symmetry, tone);
    if (std::string why = why_not(tone); !why.empty()) {
        return without_value(std::move(figure), std::move(why));
    }
    const std::vector<Group::Halves> groups = groups_of(tone);
    if (groups.size() < 2) {
        return without_value(std::move(figure),
                             "the crests hold too few samples, or clip below half of the swing: "
                             "record longer, or drive less");
    }
    const Mean up_short = mean_of(groups, [](const auto& g) { return g.positive_short; });
    const Mean down_short = mean_of(groups, [](const auto& g) { return g.negative_short; });
    const bool positive_clips = clips(up_short);
    const bool negative_clips = clips(down_short);
    if (!positive_clips && !negative_clips) {
        return without_value(std::move(figure),
                             "neither half clips: raise the drive until the distortion is 1 %");
    }
    if (!(up_short.value < 1.0 - middle_cosine && down_short.value < 1.0 - middle_cosine)) {
        return without_value(std::move(figure), "it clips below half of its swing: drive less");
    }
    // Of a half that does not clip the crest of the sine, of one that does its plateau.
    const auto positive = [positive_clips](const Group::Halves& group) {
        return positive_clips ? group.positive : group.swing * (1.0 - group.positive_short);
    };
    const auto negative = [negative_clips](const Group::Halves& group) {
        return negative_clips ? group.negative : group.swing * (1.0 - group.negative_short);
    };
    const Mean ratio =
        mean_of(groups, [&](const auto& group) { return positive(group) / negative(group); });
    const double up = mean_of(groups, positive).value;
    const double down = mean_of(groups, negative).value;

    figure.value = ratio.value;
    figure.budget.push_back(
        {"scatter over cycles", Kind::noise, ratio.u, static_cast<double>(groups.size() - 1)});
    const RigPart part = calibrated_away(tone.bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    figure.details = {{"positive_peak_v", up},
                      {"negative_peak_v", down},
                      {"rail_difference_v", up - down},
                      {"first_half", first_half(positive_clips, negative_clips, ratio)},
                      {"positive_clips", positive_clips ? 1.0 : 0.0},
                      {"negative_clips", negative_clips ? 1.0 : 0.0}};
    if (positive_clips != negative_clips) {
        const double reach = expanded(figure.budget);
        figure.bound = positive_clips ? Bound{ratio.value + reach, Bound::Side::at_most}
                                      : Bound{ratio.value - reach, Bound::Side::at_least};
        figure.details.emplace_back("reading", ratio.value);
        figure.value.reset();
    }
    return figure;
}

}  // namespace afterload::analysis
