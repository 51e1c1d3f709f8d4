#include "analysis/measure_multitone.hpp"

#include "analysis/band_power.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <complex>
#include <limits>
#include <map>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
using Phasor = std::complex<double>;

std::size_t index_of(int channel) {
    return static_cast<std::size_t>(channel) - 1;
}

std::size_t nearest(const std::vector<Hertz>& frequencies, Hertz wanted) {
    std::size_t best = 0;
    for (std::size_t i = 1; i < frequencies.size(); ++i) {
        if (std::abs(std::log(frequencies[i] / wanted)) <
            std::abs(std::log(frequencies[best] / wanted))) {
            best = i;
        }
    }
    return best;
}

// The line of the fit on which a tone of the source stands.
std::size_t line_of(const MultitoneFit& fit, Hertz frequency) {
    const auto above = std::lower_bound(fit.frequencies.begin(), fit.frequencies.end(), frequency);
    auto best = above == fit.frequencies.end() ? above - 1 : above;
    if (above != fit.frequencies.begin() &&
        frequency - *(above - 1) < (*best < frequency ? frequency - *best : *best - frequency)) {
        best = above - 1;
    }
    return static_cast<std::size_t>(best - fit.frequencies.begin());
}

// A source tone that only its channel plays, with its line in the fit.
struct Played {
    SourceTone tone;
    std::size_t line = 0;
    bool alone = true;
};

std::vector<Played> played(const MultitoneRecord& m, std::size_t source) {
    std::vector<Played> all;
    for (const SourceTone& tone : m.source.channels.at(source)) {
        Played one{tone, line_of(m.fit, tone.frequency), true};
        for (std::size_t other = 0; other < m.source.channels.size(); ++other) {
            for (const SourceTone& theirs : m.source.channels[other]) {
                one.alone =
                    one.alone && (other == source || line_of(m.fit, theirs.frequency) != one.line);
            }
        }
        all.push_back(one);
    }
    return all;
}

// One tone through one output, over what was played, at the middle of the record.
struct Transfer {
    Hertz frequency;
    Phasor ratio;
    double u_relative = 0.0;
    std::size_t line = 0;
    bool alone = true;
};

std::vector<Transfer> transfers(const MultitoneRecord& m, int channel, std::size_t source) {
    std::vector<Transfer> all;
    for (const Played& one : played(m, source)) {
        const LinePhasor& found = m.fit.channels.at(index_of(channel)).at(one.line);
        const double size = std::abs(found.amplitude);
        const double u = size > 0.0
                             ? std::hypot(found.sigma / size, one.tone.sigma / one.tone.amplitude)
                             : std::numeric_limits<double>::infinity();
        all.push_back({one.tone.frequency,
                       found.amplitude / std::polar(one.tone.amplitude, one.tone.phase), u,
                       one.line, one.alone});
    }
    return all;
}

std::vector<Hertz> frequencies(const std::vector<Transfer>& all) {
    std::vector<Hertz> found;
    found.reserve(all.size());
    for (const Transfer& one : all) {
        found.push_back(one.frequency);
    }
    return found;
}

Figure begin(FigureKind kind, const MultitoneRecord& m, int channel) {
    Figure figure;
    figure.kind = kind;
    figure.channel = channel;
    figure.conditions = m.conditions;
    figure.conditions.signal = "multitone";
    if (!figure.conditions.load) {
        figure.conditions.load = m.bench.at(index_of(channel)).load;
    }
    return figure;
}

// Source channel whose tones an output carries; nothing where it carries none.
std::optional<std::size_t> source_in(const Alignment& alignment, int channel) {
    const int input = alignment.outputs.at(index_of(channel)).input;
    return input > 0 ? std::optional{index_of(input)} : std::nullopt;
}

const char* const carries_nothing = "the channel carries none of the tones that were played";

double start_of_middle(const MultitoneRecord& m, double start) {
    const double samples = m.fit.length.in<Seconds>() * m.fit.rate.frequency().in<Hertz>();
    return start + 0.5 * (samples - 1.0) / m.fit.rate.frequency().in<Hertz>() *
                       (1.0 + 1e-6 * m.fit.clock_ppm);
}

}  // namespace

std::vector<Hertz> frequencies_of(const MultitoneSource& source, Seconds record) {
    std::vector<Hertz> all;
    for (const auto& channel : source.channels) {
        for (const SourceTone& tone : channel) {
            all.push_back(tone.frequency);
        }
    }
    std::sort(all.begin(), all.end());
    std::vector<Hertz> once;
    for (const Hertz f : all) {
        if (once.empty() || (f - once.back()).in<Hertz>() * record.in<Seconds>() > 0.1) {
            once.push_back(f);
        }
    }
    return once;
}

namespace {

// Which source channel stands in an output: mean power over what was played, by each channel's own
// tones.
Alignment::Output identified(const MultitoneRecord& m, int channel) {
    double best = 0.0;
    double next = 0.0;
    Alignment::Output output;
    const auto own = static_cast<int>(
        m.source.channels.size() == 1
            ? 1
            : std::min<std::size_t>(index_of(channel) + 1, m.source.channels.size()));
    for (std::size_t s = 0; s < m.source.channels.size(); ++s) {
        double power = 0.0;
        double count = 0.0;
        bool stands_out = false;
        const std::vector<Transfer> all = transfers(m, channel, s);
        const bool shares_all =
            std::none_of(all.begin(), all.end(), [](const Transfer& one) { return one.alone; });
        for (const Transfer& one : all) {
            const LinePhasor& found = m.fit.channels[index_of(channel)][one.line];
            stands_out = stands_out || std::abs(found.amplitude) > 10.0 * found.sigma;
            if (one.alone || shares_all) {
                power += std::norm(one.ratio);
                count += 1.0;
            }
        }
        power = count > 0.0 && stands_out ? power / count : 0.0;
        const auto number = static_cast<int>(s) + 1;
        // Between equals the channel's own wins.
        if (power > best || (power == best && power > 0.0 && number == own)) {
            next = best;
            best = power;
            output.input = number;
        } else {
            next = std::max(next, power);
        }
    }
    output.margin_db =
        best > 0.0 && next > 0.0 ? 10.0 * std::log10(best / next) : (best > 0.0 ? 200.0 : 0.0);
    return output;
}

// Tones of one output between 100 Hz and 4 kHz, scaled to one, each turning with the start.
struct Voice {
    std::vector<double> turns;  // cycles a second
    std::vector<Phasor> units;
};

Voice voice_of(const MultitoneRecord& m, int channel, std::size_t source) {
    const auto fits = [](Hertz f) { return f >= Hertz{100.0} && f <= Hertz{4000.0}; };
    const std::vector<Transfer> all = transfers(m, channel, source);
    const bool any = std::any_of(all.begin(), all.end(),
                                 [&](const Transfer& one) { return fits(one.frequency); });
    Voice voice;
    for (const Transfer& one : all) {
        if ((fits(one.frequency) || !any) && one.u_relative < 0.2) {
            voice.turns.push_back(one.frequency.in<Hertz>());
            voice.units.push_back(one.ratio / std::abs(one.ratio));
        }
    }
    return voice;
}

double agreement(const Voice& voice, double start) {
    double sum = 0.0;
    for (std::size_t i = 0; i < voice.turns.size(); ++i) {
        const double cycles = voice.turns[i] * start;
        sum += (voice.units[i] * std::polar(1.0, -two_pi * (cycles - std::floor(cycles)))).real();
    }
    return sum;
}

struct Candidate {
    double score = 0.0;
    double start = 0.0;
};

}  // namespace

Alignment aligned(const MultitoneRecord& m, std::optional<Seconds> start, Seconds start_within) {
    constexpr double as_good = 0.97;
    Alignment alignment;
    const std::size_t count = m.record.size();
    std::vector<Voice> voices(count);
    double top = 0.0;
    for (std::size_t c = 0; c < count; ++c) {
        alignment.outputs.push_back(identified(m, static_cast<int>(c) + 1));
        if (const auto source = source_in(alignment, static_cast<int>(c) + 1)) {
            voices[c] = voice_of(m, static_cast<int>(c) + 1, *source);
            for (const double turn : voices[c].turns) {
                top = std::max(top, turn);
            }
        }
    }
    alignment.opposite.assign(count, std::vector<std::optional<bool>>(count));
    if (top == 0.0) {
        return alignment;
    }
    const double repeat = m.source.repeat.in<Seconds>();
    const double middle = start_of_middle(m, 0.0);
    const double from = start ? (*start - start_within).in<Seconds>() : 0.0;
    const double to = start ? (*start + start_within).in<Seconds>() : repeat;
    const double step = 1.0 / (10.0 * top);
    // The best start for each pattern of inverted outputs.
    std::map<unsigned, Candidate> patterns;
    const auto consider = [&](double at) {
        unsigned pattern = 0;
        double score = 0.0;
        for (std::size_t c = 0; c < count; ++c) {
            const double sum = agreement(voices[c], at + middle);
            pattern |= sum < 0.0 ? 1U << c : 0U;
            score += std::abs(sum);
        }
        Candidate& best = patterns[pattern];
        if (score > best.score) {
            best = {score, at};
        }
    };
    const auto steps = static_cast<std::size_t>((to - from) / step) + 1;
    for (std::size_t i = 0; i < steps; ++i) {
        consider(from + static_cast<double>(i) * step);
    }
    // Patterns that might win are looked at more closely.
    double coarse = 0.0;
    for (const auto& [pattern, candidate] : patterns) {
        coarse = std::max(coarse, candidate.score);
    }
    const std::map<unsigned, Candidate> found = patterns;
    for (const auto& [pattern, candidate] : found) {
        if (candidate.score > 0.8 * coarse) {
            constexpr int halvings = 13;  // of a step
            double fine = step;
            for (int halving = 0; halving < halvings; ++halving) {
                fine *= 0.5;
                const double at = patterns[pattern].start;
                consider(at - fine);
                consider(at + fine);
            }
        }
    }
    const auto best = std::max_element(
        patterns.begin(), patterns.end(),
        [](const auto& a, const auto& b) { return a.second.score < b.second.score; });
    alignment.start =
        Seconds{best->second.start - repeat * std::floor(best->second.start / repeat)};
    const auto told = [&](unsigned mask) {
        return std::all_of(patterns.begin(), patterns.end(), [&](const auto& other) {
            const bool same = (std::popcount((other.first ^ best->first) & mask) & 1) == 0;
            return same || other.second.score < as_good * best->second.score;
        });
    };
    for (std::size_t c = 0; c < count; ++c) {
        if (voices[c].turns.size() >= 2 && told(1U << c)) {
            alignment.outputs[c].inverted = (best->first >> c & 1U) != 0;
        }
        for (std::size_t d = 0; d < count; ++d) {
            if (voices[c].turns.size() >= 2 && voices[d].turns.size() >= 2 && c != d &&
                told((1U << c) | (1U << d))) {
                alignment.opposite[c][d] = (best->first >> c & 1U) != (best->first >> d & 1U);
            }
        }
    }
    return alignment;
}

Figure multitone_response(const MultitoneRecord& m, const Alignment& alignment, int channel,
                          Hertz reference) {
    Figure figure = begin(FigureKind::frequency_response, m, channel);
    const auto source = source_in(alignment, channel);
    if (!source) {
        return without_value(std::move(figure), carries_nothing);
    }
    const std::vector<Transfer> all = transfers(m, channel, *source);
    const double at = start_of_middle(m, alignment.start.in<Seconds>());
    std::vector<ResponsePoint> points;
    std::vector<Hertz> of_points;
    for (const Transfer& one : all) {
        // A line under the noise is no point of a response.
        if (one.u_relative < 0.5) {
            const double cycles = one.frequency.in<Hertz>() * at;
            points.push_back({one.frequency, std::abs(one.ratio),
                              std::arg(one.ratio) - two_pi * (cycles - std::floor(cycles)),
                              one.u_relative});
            of_points.push_back(one.frequency);
        }
    }
    if (points.empty()) {
        return without_value(std::move(figure), carries_nothing);
    }
    const Hertz zero = of_points[nearest(of_points, reference)];
    Figure response = frequency_response(points, zero, channel, 0.0, figure.conditions);
    response.details.emplace_back("start_in_stimulus_s", alignment.start.in<Seconds>());
    response.details.emplace_back("clock_ppm", m.fit.clock_ppm);
    return response;
}

namespace {

// A dead channel has a level, too: what stands at the tone that was meant for it, not less than its
// noise.
std::optional<Transfer> buried(const MultitoneRecord& m, int channel, Hertz at) {
    const std::size_t own = std::min(index_of(channel), m.source.channels.size() - 1);
    std::vector<Transfer> all = transfers(m, channel, own);
    if (all.empty()) {
        return std::nullopt;
    }
    Transfer& one = all[nearest(frequencies(all), at)];
    const LinePhasor& found = m.fit.channels.at(index_of(channel)).at(one.line);
    const double size = std::hypot(std::abs(found.amplitude), found.sigma);
    if (!(size > 0.0)) {
        return std::nullopt;
    }
    const double amplitude = m.source.channels[own][nearest(frequencies(all), at)].amplitude;
    one.ratio = size / amplitude;
    one.u_relative = found.sigma / size;
    return one;
}

}  // namespace

Figure multitone_gain(const MultitoneRecord& m, const Alignment& alignment, int channel, Hertz at) {
    Figure figure = begin(FigureKind::gain, m, channel);
    const auto source = source_in(alignment, channel);
    Transfer one;
    if (source) {
        const std::vector<Transfer> all = transfers(m, channel, *source);
        one = all[nearest(frequencies(all), at)];
    } else if (const auto dead = buried(m, channel, at)) {
        one = *dead;
    } else {
        return without_value(std::move(figure), carries_nothing);
    }
    figure.conditions.frequency = one.frequency;
    if (source && !(one.u_relative < 0.5)) {
        return without_value(std::move(figure), "the tone stands under the noise");
    }
    const BenchShare& bench = m.bench.at(index_of(channel));
    figure.value = gain_of(AmplitudeRatio{std::abs(one.ratio)}).decibels();
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "",
             decibels_a_neper * one.u_relative);
    add_line(figure.budget, BudgetLine::Kind::systematic, bench.level_source, "level",
             decibels_a_neper * bench.level_u_k1);
    add_line(figure.budget, BudgetLine::Kind::systematic, bench.drive_source, "drive",
             decibels_a_neper * bench.drive_u_k1);
    const RigPart rig = calibrated_away(bench);
    figure.rig_added = rig.added;
    figure.rig_cancelled = rig.cancelled;
    return figure;
}

namespace {

// A level between the points of a response, on a logarithmic axis.
struct Between {
    double decibels = 0.0;
    double u_noise = 0.0;
    double u_shape = 0.0;
};

std::optional<Between> level_at(const std::vector<Transfer>& all, Hertz frequency) {
    std::vector<double> x;
    std::vector<double> y;
    std::vector<double> u;
    for (const Transfer& one : all) {
        if (one.u_relative < 0.5) {
            x.push_back(std::log(one.frequency.in<Hertz>()));
            y.push_back(gain_of(AmplitudeRatio{std::abs(one.ratio)}).decibels());
            u.push_back(decibels_a_neper * one.u_relative);
        }
    }
    const double at = std::log(frequency.in<Hertz>());
    const auto above =
        static_cast<std::size_t>(std::lower_bound(x.begin(), x.end(), at) - x.begin());
    if (above < x.size() && x[above] - at < 1e-9) {
        return Between{y[above], u[above], 0.0};
    }
    if (above == 0 || above == x.size()) {
        return std::nullopt;
    }
    const std::size_t below = above - 1;
    const double share = (at - x[below]) / (x[above] - x[below]);
    const double line = y[below] + share * (y[above] - y[below]);
    const double noise = std::hypot((1.0 - share) * u[below], share * u[above]);
    const std::size_t first = below == 0 ? 0 : std::min(below - 1, x.size() < 4 ? 0 : x.size() - 4);
    const std::size_t points = std::min<std::size_t>(4, x.size());
    double cubic = 0.0;
    for (std::size_t i = first; i < first + points; ++i) {
        double term = y[i];
        for (std::size_t j = first; j < first + points; ++j) {
            term *= i == j ? 1.0 : (at - x[j]) / (x[i] - x[j]);
        }
        cubic += term;
    }
    return Between{cubic, noise, std::abs(cubic - line) / std::numbers::sqrt3};
}

}  // namespace

Figure multitone_balance(const MultitoneRecord& m, const Alignment& alignment, int left, int right,
                         Hertz at) {
    Figure figure = begin(FigureKind::channel_balance, m, left);
    figure.channel = 0;
    figure.pair = {left, right};
    const auto left_source = source_in(alignment, left);
    const auto right_source = source_in(alignment, right);
    if (!left_source && !right_source) {
        return without_value(std::move(figure), carries_nothing);
    }
    const BenchShare& bench = m.bench.at(index_of(left));
    if (!left_source || !right_source) {
        const Figure ours = multitone_gain(m, alignment, left, at);
        const Figure theirs = multitone_gain(m, alignment, right, at);
        if (!ours.value || !theirs.value) {
            return without_value(std::move(figure), carries_nothing);
        }
        figure.conditions.frequency = ours.conditions.frequency;
        figure.value = *ours.value - *theirs.value;
        for (const Figure* gain : {&ours, &theirs}) {
            for (const BudgetLine& line : gain->budget) {
                if (line.kind == BudgetLine::Kind::noise) {
                    figure.budget.push_back(line);
                }
            }
        }
        add_line(figure.budget, BudgetLine::Kind::systematic, bench.balance_source,
                 "balance of the inputs", decibels_a_neper * bench.balance_u_k1);
        const RigPart rig = calibrated_away(bench);
        figure.rig_added = rig.added;
        figure.rig_cancelled = rig.cancelled;
        return figure;
    }
    const std::vector<Transfer> ours = transfers(m, left, *left_source);
    const std::vector<Transfer> theirs = transfers(m, right, *right_source);
    const double systematic = decibels_a_neper * bench.balance_u_k1;
    Curve curve;
    std::vector<Hertz> points;
    std::vector<Between> parts;
    for (const Transfer& one : ours) {
        const auto other = level_at(theirs, one.frequency);
        if (!other || !(one.u_relative < 0.5)) {
            continue;
        }
        const double noise = std::hypot(decibels_a_neper * one.u_relative, other->u_noise);
        const double value =
            gain_of(AmplitudeRatio{std::abs(one.ratio)}).decibels() - other->decibels;
        curve.frequency_hz.push_back(one.frequency.in<Hertz>());
        curve.value.push_back(value);
        curve.u_k1.push_back(std::hypot(noise, std::hypot(other->u_shape, systematic)));
        points.push_back(one.frequency);
        parts.push_back({value, noise, other->u_shape});
    }
    if (points.empty()) {
        return without_value(std::move(figure),
                             "the two channels have no tones in one range of frequencies");
    }
    const std::size_t i = nearest(points, at);
    figure.conditions.frequency = points[i];
    figure.value = parts[i].decibels;
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "", parts[i].u_noise);
    add_line(figure.budget, BudgetLine::Kind::bound, "between the other channel's tones", "",
             parts[i].u_shape);
    add_line(figure.budget, BudgetLine::Kind::systematic, bench.balance_source,
             "balance of the inputs", systematic);
    const RigPart rig = calibrated_away(bench);
    figure.rig_added = rig.added;
    figure.rig_cancelled = rig.cancelled;
    figure.curve = std::move(curve);
    return figure;
}

namespace {

// A leak near the noise: as in measure_separation.cpp, noise adds 2s² to the mean of its square.
struct Leak {
    double ratio = 0.0;
    double u = 0.0;
    std::optional<double> largest;  // where noise could explain it, k = 2
};

Leak leak_of(const LinePhasor& leaked, const LinePhasor& driven, double input) {
    const double reference = std::abs(driven.amplitude);
    const double s2 = leaked.sigma * leaked.sigma;
    const double raw = std::norm(leaked.amplitude);
    const double power = raw - 2.0 * s2;
    const double power_u = 2.0 * std::sqrt(std::max(power, 0.0) * s2 + s2 * s2);
    const double size = std::sqrt(std::max(power, s2));
    Leak leak{size / reference, 0.0, std::nullopt};
    leak.u = leak.ratio *
             std::hypot(power_u / (2.0 * size * size), std::hypot(driven.sigma / reference, input));
    if (power < 2.0 * power_u) {
        leak.largest = (std::sqrt(raw) + 2.0 * leaked.sigma) / reference;
    }
    return leak;
}

}  // namespace

Figure multitone_separation(const MultitoneRecord& m, const Alignment& alignment, int from, int to,
                            Hertz at) {
    Figure figure = begin(FigureKind::channel_separation, m, to);
    figure.pair = {from, to};
    const auto source = source_in(alignment, from);
    if (!source) {
        return without_value(std::move(figure), "no tone stands out of the driven channel's noise");
    }
    if (source_in(alignment, to) == source) {
        return without_value(std::move(figure),
                             "both channels carry the same tones: play each its own");
    }
    const BenchShare& bench = m.bench.at(index_of(to));
    Curve curve;
    std::vector<Hertz> points;
    std::vector<Leak> leaks;
    for (const Transfer& one : transfers(m, from, *source)) {
        const LinePhasor& driven = m.fit.channels[index_of(from)][one.line];
        const LinePhasor& leaked = m.fit.channels[index_of(to)][one.line];
        if (!one.alone || !(one.u_relative < 0.1) || !(leaked.sigma > 0.0)) {
            continue;
        }
        const Leak leak = leak_of(leaked, driven, bench.balance_u_k1);
        const double nan = std::numeric_limits<double>::quiet_NaN();
        curve.frequency_hz.push_back(one.frequency.in<Hertz>());
        curve.value.push_back(leak.largest ? nan : unscored(figure.kind, leak.ratio));
        curve.u_k1.push_back(leak.largest ? nan : decibels_a_neper * leak.u / leak.ratio);
        points.push_back(one.frequency);
        leaks.push_back(leak);
    }
    if (points.empty()) {
        return without_value(std::move(figure),
                             "both channels were played the same tones: play each its own");
    }
    const std::size_t i = nearest(points, at);
    figure.conditions.frequency = points[i];
    figure.value = unscored(figure.kind, leaks[i].ratio);
    const double balance = decibels_a_neper * bench.balance_u_k1;
    const double all = decibels_a_neper * leaks[i].u / leaks[i].ratio;
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "",
             std::sqrt(std::max(0.0, all * all - balance * balance)));
    add_line(figure.budget, BudgetLine::Kind::systematic, bench.balance_source,
             "balance of the inputs", balance);
    std::optional<Bound> bound;
    if (leaks[i].largest) {
        bound = Bound{unscored(figure.kind, *leaks[i].largest), Bound::Side::at_least};
    }
    state_rig(figure, of_leak(bench), bound);
    figure.curve = std::move(curve);
    return figure;
}

Figure multitone_polarity(const MultitoneRecord& m, const Alignment& alignment, int channel) {
    Figure figure = begin(FigureKind::polarity, m, channel);
    const Alignment::Output& output = alignment.outputs.at(index_of(channel));
    if (output.input == 0) {
        return without_value(std::move(figure), carries_nothing);
    }
    if (!output.inverted) {
        return without_value(std::move(figure),
                             "the stimulus is nearly its own inverse at another instant: it tells "
                             "no polarity unless the delay is known");
    }
    figure.value = *output.inverted ? -1.0 : 1.0;
    return figure;
}

Figure multitone_polarity(const MultitoneRecord& m, const Alignment& alignment, int first,
                          int second) {
    Figure figure = begin(FigureKind::polarity, m, first);
    figure.channel = 0;
    figure.pair = {first, second};
    const std::optional<bool>& opposite =
        alignment.opposite.at(index_of(first)).at(index_of(second));
    if (!opposite) {
        return without_value(std::move(figure),
                             "the tones of the two channels do not tell it: take a stimulus that "
                             "is not its own inverse at another instant");
    }
    figure.value = *opposite ? -1.0 : 1.0;
    return figure;
}

Figure multitone_identity(const MultitoneRecord& m, const Alignment& alignment, int channel) {
    Figure figure = begin(FigureKind::channel_identity, m, channel);
    const Alignment::Output& output = alignment.outputs.at(index_of(channel));
    if (output.input == 0) {
        return without_value(std::move(figure), carries_nothing);
    }
    if (m.source.channels.size() < 2 || output.margin_db < 3.0) {
        return without_value(std::move(figure),
                             "the tones of the source channels do not stand apart here: play each "
                             "its own");
    }
    figure.value = output.input == channel ? 1.0 : 0.0;
    figure.rig_added = 0.0;  // tones that stand 3 dB out say whose they are, whatever the rig adds
    figure.rig_cancelled = 0.0;
    figure.details.emplace_back("input", output.input);
    figure.details.emplace_back("margin_db", output.margin_db);
    return figure;
}

Figure multitone_distortion_plus_noise(const MultitoneRecord& m, const Alignment& alignment,
                                       int channel, Band bandwidth) {
    Figure figure = begin(FigureKind::thd_plus_noise, m, channel);
    figure.conditions.bandwidth = bandwidth;
    figure.conditions.weighting = Weighting::unweighted;
    const auto source = source_in(alignment, channel);
    if (!source) {
        return without_value(std::move(figure), carries_nothing);
    }
    if (!(bandwidth.low < bandwidth.high)) {
        return without_value(std::move(figure), "the band is empty");
    }
    std::vector<bool> own(m.fit.frequencies.size(), false);
    double tones = 0.0;
    for (const Played& one : played(m, *source)) {
        if (!own[one.line]) {
            own[one.line] = true;
            tones += 0.5 * std::norm(m.fit.channels[index_of(channel)][one.line].amplitude);
        }
    }
    const Waveform left =
        without_tones(m.record.at(index_of(channel)), m.fit, index_of(channel), own);
    const Periodogram::Power power = Periodogram{left}.within(bandwidth, Weighting::unweighted);
    const double ratio = std::sqrt(std::max(power.value, 0.0) / tones);
    figure.value = ratio;
    if (power.value > 0.0) {
        add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "",
                 0.5 * ratio * std::sqrt(power.variance) / power.value);
    }
    const BenchShare& bench = m.bench.at(index_of(channel));
    const RigPart distortion = of_distortion(bench);
    RigPart rig = of_noise(bench, ratio * std::sqrt(tones), {bandwidth, Weighting::unweighted});
    rig.added = rig.added && distortion.added
                    ? std::optional{*rig.added / std::sqrt(tones) + *distortion.added}
                    : std::nullopt;
    rig.cancelled = rig.cancelled && distortion.cancelled
                        ? std::optional{*rig.cancelled + *distortion.cancelled}
                        : std::nullopt;
    state_rig(figure, rig, std::nullopt);
    return figure;
}

}  // namespace afterload::analysis
