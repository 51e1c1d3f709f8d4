#include "analysis/soundness.hpp"

#include "analysis/isolated_tone.hpp"
#include "analysis/timeline.hpp"
#include "analysis/tone.hpp"
#include "analysis/two_tone.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr int modelled_harmonics = 5;

template <class... Args>
CaptureFault fault(CaptureFaultKind kind, double start, const char* format, Args... args) {
    char note[160];
    std::snprintf(note, sizeof note, format, args...);
    return {kind, 1, Seconds{start}, note};
}

struct Channel {
    std::vector<CaptureFault> faults;
    std::vector<Slip> slips;
    bool tone = false;
};

std::optional<CaptureFault> not_finite(WaveformView record, double rate) {
    const auto broken = [](double x) { return !std::isfinite(x); };
    const auto first = std::find_if(record.volts.begin(), record.volts.end(), broken);
    if (first == record.volts.end()) {
        return std::nullopt;
    }
    return fault(CaptureFaultKind::not_finite,
                 static_cast<double>(first - record.volts.begin()) / rate,
                 "%td samples are not numbers",
                 std::count_if(record.volts.begin(), record.volts.end(), broken));
}

// The end of the range is the last step of 16 bits or nearer; there a clipped wave stands still.
std::optional<CaptureFault> clipped(WaveformView record, double full_scale, double rate) {
    const double end = full_scale * (1.0 - std::ldexp(1.0, -15)) * (1.0 - 1e-9);
    std::size_t count = 0;
    std::size_t run = 0;
    std::optional<std::size_t> first;
    const auto& x = record.volts;
    for (std::size_t n = 0; n < x.size(); ++n) {
        const bool out = std::abs(x[n]) >= end;
        const bool goes_on = out && run > 0 && std::signbit(x[n]) == std::signbit(x[n - 1]);
        run = goes_on ? run + 1 : (out ? 1U : 0U);
        if (run == 2) {
            first = first.value_or(n - 1);
            count += 2;
        } else if (run > 2) {
            ++count;
        }
    }
    if (!first) {
        return std::nullopt;
    }
    return fault(CaptureFaultKind::clipped, static_cast<double>(*first) / rate,
                 "%zu samples at the end of the converter's range", count);
}

// What a card gives while it still wakes, or has lost its device: one value for some time, where
// the rest of the record is noise. A converter coarser than the noise stands still all over.
std::optional<CaptureFault> stood_still(WaveformView record, double rate) {
    constexpr Seconds shortest{0.02};
    const auto& x = record.volts;
    std::size_t changes = 0;
    std::size_t began = 0;
    std::size_t longest = 0;
    std::size_t longest_began = 0;
    for (std::size_t n = 1; n <= x.size(); ++n) {
        if (n < x.size() && x[n] == x[n - 1]) {
            continue;
        }
        changes += n < x.size() ? 1U : 0U;
        if (n - began > longest) {
            longest = n - began;
            longest_began = began;
        }
        began = n;
    }
    const double length = static_cast<double>(longest) / rate;
    if (length < shortest.in<Seconds>() || 2 * changes < x.size() - longest) {
        return std::nullopt;
    }
    return fault(CaptureFaultKind::gap, static_cast<double>(longest_began) / rate,
                 "the same sample for %.3g s", length);
}

// Level of the residual's share in the tone over [from, to): what to add to the fitted amplitude.
struct Excess {
    double value = 0.0;
    double sigma = 0.0;
};
Excess excess(const Waveform& residual, const ToneFit& fit, std::size_t from, std::size_t to,
              double omega) {
    const double middle = 0.5 * static_cast<double>(residual.volts.size() - 1);
    double in_phase = 0.0;
    double reference = 0.0;
    double squares = 0.0;
    for (std::size_t n = from; n < to; ++n) {
        const double angle = omega * (static_cast<double>(n) - middle) + fit.fundamental.phase;
        const double x = residual.volts[n];
        in_phase += x * std::cos(angle);
        reference += std::cos(angle) * std::cos(angle);
        squares += x * x;
    }
    const double count = static_cast<double>(to - from);
    // Noise around the tone is not known better than all of it: a broad band makes this careful.
    return {in_phase / reference, std::sqrt(2.0 * squares) / count};
}

std::optional<CaptureFault> unsettled(WaveformView record, const ToneFit& fit, double rate) {
    const std::size_t quarter = record.volts.size() / 4;
    const double omega = two_pi * fit.fundamental.frequency.in<Hertz>() / rate;
    const Waveform residual = without_tone(record, fit);
    const Excess first = excess(residual, fit, 0, quarter, omega);
    const Excess last =
        excess(residual, fit, record.volts.size() - quarter, record.volts.size(), omega);
    const double amplitude = fit.fundamental.amplitude;
    const double change = 20.0 * std::log10(std::max(amplitude + last.value, 1e-3 * amplitude) /
                                            std::max(amplitude + first.value, 1e-3 * amplitude));
    const double noise =
        20.0 / std::numbers::ln10 * std::hypot(first.sigma, last.sigma) / amplitude;
    if (std::abs(change) <= 0.02 || std::abs(change) <= 4.0 * noise) {
        return std::nullopt;
    }
    return fault(CaptureFaultKind::unsettled, 0.0,
                 "the last quarter stands %+.3f dB against the first", change);
}

// Slips of the timeline, in a record that holds this tone and no other.
void find_slips(WaveformView record, Hertz tone, Channel& channel) {
    const double rate = record.rate.frequency().in<Hertz>();
    const double omega = two_pi * (tone / record.rate.frequency());
    if (!(omega > 0.0 && omega < std::numbers::pi)) {
        return;
    }
    const std::optional<ToneHistory> history = tone_history(record.volts, omega, rate);
    if (history && history->scatter < 0.2) {
        channel.tone = true;
        channel.slips = slips(record.volts, omega, *history);
    }
}

// Whether the tone is there and stands still, in a record that holds it and no other.
void look_at_level(WaveformView record, Hertz tone, std::optional<Hertz> mains, Channel& channel) {
    ToneFitSettings settings;
    settings.nominal = tone;
    settings.mains = mains;
    settings.highest_harmonic = modelled_harmonics;
    const Expected<ToneFit> fit = fit_tone(record, settings);
    if (fit) {
        channel.tone = true;
        // A step of the level is an event of the unit and not a level that still moves.
        if (auto moving = unsettled(record, *fit, record.rate.frequency().in<Hertz>());
            moving && level_events({record}, tone).empty()) {
            channel.faults.push_back(std::move(*moving));
        }
    } else if (fit.error().kind == FigureFailure::Kind::no_tone && !channel.tone) {
        channel.faults.push_back(
            fault(CaptureFaultKind::silent, 0.0, "no tone near %g Hz", tone.in<Hertz>()));
    }
}

Waveform squared(WaveformView record) {
    Waveform square{{record.volts.begin(), record.volts.end()}, record.rate};
    for (double& x : square.volts) {
        x *= x;
    }
    return square;
}

// Of two tones the timeline is told by whichever turns visibly with it. Close together, that is
// their beat, which the square of the record holds as a tone of its own: near half the rate a slip
// may turn the tones themselves by next to nothing. Far apart it is the high one, or else the low
// one. The level is that of a tone without side tones: the high one of a close pair, the low one of
// a wide pair, whose carrier is modulated.
void look_at_pair(WaveformView record, Hertz low, Hertz high, std::optional<Hertz> mains,
                  Channel& channel) {
    const Hertz width = 0.4 * (high - low);
    const auto slips_of = [&](WaveformView of, Hertz tone) {
        const IsolatedTone alone = isolated_tone(of, tone, width);
        if (channel.slips.empty() && !alone.waveform.volts.empty()) {
            find_slips(alone.waveform, tone, channel);
            for (Slip& slip : channel.slips) {
                slip.at += alone.first;
            }
        }
    };
    const bool close = close_together(low, high);
    if (close) {
        slips_of(squared(record), high - low);
    } else {
        slips_of(record, high);
        slips_of(record, low);
    }
    const Hertz steady = close ? high : low;
    const IsolatedTone alone = isolated_tone(record, steady, width);
    if (channel.slips.empty() && !alone.waveform.volts.empty()) {
        look_at_level(alone.waveform, steady, close ? std::nullopt : mains, channel);
    }
}

Channel examine(WaveformView record, const Expectation& expected) {
    Channel channel;
    const double rate = record.rate.frequency().in<Hertz>();
    const double length = static_cast<double>(record.volts.size()) / rate;
    if (record.volts.empty() || length < expected.least.in<Seconds>() * (1.0 - 1e-9)) {
        channel.faults.push_back(fault(CaptureFaultKind::too_short, 0.0, "%.4g s of %.4g s", length,
                                       expected.least.in<Seconds>()));
        if (record.volts.empty()) {
            return channel;
        }
    }
    if (auto broken = not_finite(record, rate)) {
        channel.faults.push_back(std::move(*broken));
        return channel;
    }
    if (std::all_of(record.volts.begin(), record.volts.end(),
                    [&](double x) { return x == record.volts.front(); })) {
        channel.faults.push_back(
            fault(CaptureFaultKind::silent, 0.0, "all samples are %g V", record.volts.front()));
        return channel;
    }
    if (expected.full_scale) {
        if (auto end = clipped(record, expected.full_scale->in<VoltsPeak>(), rate)) {
            channel.faults.push_back(std::move(*end));
        }
    }
    if (!expected.tone) {
        auto still = expected.silence ? stood_still(record, rate) : std::nullopt;
        if (still) {
            channel.faults.push_back(std::move(*still));
        }
        return channel;
    }

    if (expected.beside) {
        look_at_pair(record, std::min(*expected.tone, *expected.beside),
                     std::max(*expected.tone, *expected.beside), expected.mains, channel);
        return channel;
    }
    find_slips(record, *expected.tone, channel);
    if (channel.slips.empty()) {
        look_at_level(record, *expected.tone, expected.mains, channel);
    }
    return channel;
}

CaptureFault fault_of(const Slip& slip, double rate) {
    const double start = static_cast<double>(slip.at) / rate;
    if (slip.frames > 0) {
        return fault(CaptureFaultKind::gap, start, "%lld samples are missing",
                     static_cast<long long>(slip.frames));
    }
    return fault(CaptureFaultKind::repeat, start, "%lld samples stand twice",
                 static_cast<long long>(-slip.frames));
}

void sort_by_start(std::vector<CaptureFault>& faults) {
    std::stable_sort(
        faults.begin(), faults.end(),
        [](const CaptureFault& a, const CaptureFault& b) { return a.start < b.start; });
}

}  // namespace

std::vector<CaptureFault> faults_of(WaveformView record, const Expectation& expected) {
    Channel channel = examine(record, expected);
    for (const Slip& slip : channel.slips) {
        channel.faults.push_back(fault_of(slip, record.rate.frequency().in<Hertz>()));
    }
    sort_by_start(channel.faults);
    return std::move(channel.faults);
}

std::vector<CaptureFault> faults_of_all(const std::vector<WaveformView>& channels,
                                        const Expectation& expected) {
    std::vector<Channel> examined;
    examined.reserve(channels.size());
    for (const WaveformView& record : channels) {
        examined.push_back(examine(record, expected));
    }
    std::vector<CaptureFault> faults;
    const auto witnesses =
        std::count_if(examined.begin(), examined.end(), [](const Channel& c) { return c.tone; });
    for (std::size_t c = 0; c < examined.size(); ++c) {
        const int number = static_cast<int>(c) + 1;
        for (CaptureFault& own : examined[c].faults) {
            own.channel = number;
            faults.push_back(std::move(own));
        }
        const double rate = channels[c].rate.frequency().in<Hertz>();
        const auto tolerance = static_cast<std::int64_t>(0.01 * rate);
        while (!examined[c].slips.empty()) {
            const Slip slip = examined[c].slips.front();
            // The same slip in every channel that holds a tone is one slip of the card.
            std::ptrdiff_t seen = 0;
            for (std::size_t other = c; other < examined.size(); ++other) {
                auto& others = examined[other].slips;
                const auto same = std::find_if(others.begin(), others.end(), [&](const Slip& s) {
                    const auto apart =
                        static_cast<std::int64_t>(s.at) - static_cast<std::int64_t>(slip.at);
                    return s.frames == slip.frames && std::abs(apart) <= tolerance;
                });
                if (same != others.end()) {
                    others.erase(same);
                    ++seen;
                }
            }
            faults.push_back(fault_of(slip, rate));
            faults.back().channel = witnesses > 1 && seen == witnesses ? 0 : number;
        }
    }
    sort_by_start(faults);
    return faults;
}

}  // namespace afterload::analysis
