#include "analysis/multitone_fit.hpp"

#include "analysis/coarse_frequency.hpp"
#include "analysis/comb_fit.hpp"
#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/noise_floor.hpp"
#include "analysis/phasors.hpp"
#include "analysis/transform.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double clock_reach = 500e-6;
constexpr double rest = 1e-6;  // radians of the highest tone at the record's ends
constexpr int dc_degree = 1;   // a settled record still drifts
constexpr int mains_orders = 10;
constexpr std::size_t most_frequencies = 512;

tl::unexpected<FigureFailure> refused(FigureFailure::Kind kind, std::string what) {
    return tl::unexpected(FigureFailure{kind, std::move(what)});
}

/// One tone through a channel in short pieces, to be summed on any clock.
struct Lead {
    double turn = 0.0;  // radians from piece to piece on the nominal clock
    std::vector<std::complex<double>> pieces;
};

double power_on(const std::vector<Lead>& leads, double top_turn, double clock) {
    double power = 0.0;
    for (const Lead& lead : leads) {
        if (lead.turn > top_turn) {
            continue;
        }
        const std::complex<double> step = std::polar(1.0, -clock * lead.turn);
        std::complex<double> rotation{1.0, 0.0};
        std::complex<double> sum;
        for (const std::complex<double>& piece : lead.pieces) {
            sum += piece * rotation;
            rotation *= step;
        }
        power += std::norm(sum);
    }
    return power;
}

// Weights the pieces of a lead towards its middle; gives back their power.
double towards_its_middle(Lead& lead) {
    const auto count = static_cast<double>(lead.pieces.size());
    double power = 0.0;
    for (std::size_t b = 0; b < lead.pieces.size(); ++b) {
        lead.pieces[b] *= 0.5 - 0.5 * std::cos(two_pi * (static_cast<double>(b) + 0.5) / count);
        power += std::norm(lead.pieces[b]);
    }
    return power;
}

// The clock to a tenth of a cycle of the highest tone. Low tones cannot be mistaken by a cycle;
// what they tell narrows the search for higher ones, three cycles at a time.
double coarse_clock(const std::vector<WaveformView>& record, const std::vector<double>& omegas) {
    constexpr std::size_t most_leads = 24;
    const std::size_t length = record.front().volts.size();
    const double top = omegas.back();
    // A piece is off by at most a quarter cycle at the edge of the reach.
    const auto longest = static_cast<std::size_t>(0.25 * two_pi / (clock_reach * top));
    const std::size_t size =
        std::clamp<std::size_t>(longest, 1, std::max<std::size_t>(length / 64, 1));
    const std::vector<double> flat(size, 1.0);
    const std::size_t every = (omegas.size() + most_leads - 1) / most_leads;
    std::vector<Lead> leads;
    // Of neighbours each channel has the strongest: channels that take turns along the axis may
    // otherwise be asked for the other's tones alone.
    for (std::size_t back = 0; back < omegas.size(); back += every) {
        for (const WaveformView& channel : record) {
            Lead strongest;
            double most = -1.0;
            for (std::size_t i = back; i < std::min(back + every, omegas.size()); ++i) {
                const double omega = omegas[omegas.size() - 1 - i];
                Lead lead{omega * static_cast<double>(size),
                          phasors(channel.volts, omega, flat, size)};
                const double power = towards_its_middle(lead);
                if (power > most) {
                    most = power;
                    strongest = std::move(lead);
                }
            }
            leads.push_back(std::move(strongest));
        }
    }
    const auto pieces = static_cast<double>(leads.front().pieces.size());
    const double highest = top * static_cast<double>(size);
    double clock = 0.0;
    double reach = clock_reach;
    while (true) {
        // Cycles over the record by which the tone called `turn` is off at the edge of the reach.
        const double turn = std::min(highest, 3.0 * two_pi / (reach * pieces));
        const double step = 0.25 * two_pi / (turn * pieces);
        const auto side = static_cast<int>(std::ceil(reach / step));
        std::vector<double> powers;
        for (int i = -side; i <= side; ++i) {
            powers.push_back(power_on(leads, turn * (1.0 + 1e-9), clock + i * step));
        }
        const auto best = static_cast<std::size_t>(std::max_element(powers.begin(), powers.end()) -
                                                   powers.begin());
        double place = static_cast<double>(best) - side;
        if (best > 0 && best + 1 < powers.size()) {
            const double curve = powers[best - 1] - 2.0 * powers[best] + powers[best + 1];
            if (curve < 0.0) {
                place += std::clamp(0.5 * (powers[best - 1] - powers[best + 1]) / curve, -0.5, 0.5);
            }
        }
        clock += place * step;
        if (turn >= highest) {
            return clock;
        }
        reach = 2.0 * step;
    }
}

std::vector<int> mains_orders_beside(const std::vector<double>& omegas, double mains,
                                     double length) {
    const double apart = 1.5 * two_pi / length;
    std::vector<int> orders;
    for (int m = 1; m <= mains_orders && m * mains < 0.49 * two_pi; ++m) {
        const bool near_tone = std::any_of(omegas.begin(), omegas.end(), [&](double omega) {
            return std::abs(m * mains - omega) < apart;
        });
        if (!near_tone && m * mains > apart && mains > apart) {
            orders.push_back(m);
        }
    }
    return orders;
}

Comb comb_of(const std::vector<double>& omegas, double clock, bool free) {
    // Relative to the highest, whose phase at the ends then says when the clock rests.
    Comb comb{omegas.back() * (1.0 + clock), {}, free};
    for (std::size_t i = 0; i < omegas.size(); ++i) {
        comb.orders.push_back(static_cast<int>(i));
        comb.ratios.push_back(omegas[i] / omegas.back());
    }
    return comb;
}

struct Clock {
    double value = 0.0;
    double variance = 0.0;   // with all that the tones leave taken for noise
    double for_noise = 0.0;  // with white noise of unit variance
};

// What one channel says of the clock; nothing when its lines cannot be told apart.
std::optional<Clock> clock_of(std::span<const double> record, const FoldedRecord& halves,
                              const CosineEnds& weight, const std::vector<double>& omegas,
                              double start) {
    CombFit fit{halves, weight, dc_degree};
    fit.add(comb_of(omegas, start, true));
    if (!fit.solve_amplitudes() || !fit.settle(rest, 8)) {
        return std::nullopt;
    }
    // The sums bottom out 156 dB below the record; less is not known of what is left.
    const double whole = weight.mean_square(record);
    const double left = std::max(whole - fit.explained() / weight.sum(), 1e-15 * whole);
    const double top = omegas.back();
    const double for_noise = fit.omega_variance(0) / (top * top);
    return Clock{fit.omega(0) / top - 1.0, left * for_noise, for_noise};
}

/// Where the mains lines stand, from what the tones leave; with them it is then settled in a step
/// or two. A clock that the lines hardly tell is held: it would only wander.
struct MainsStart {
    double omega = 0.0;
    bool free = false;
};

MainsStart mains_in(std::span<const double> residual, const CosineEnds& weight,
                    const std::vector<int>& orders, double nominal) {
    const double start = coarse_mains(residual, nominal, orders).value_or(nominal);
    const FoldedRecord halves = folded(residual, weight);
    CombFit alone{halves, weight, dc_degree};
    alone.add({start, orders, true});
    if (!alone.solve_amplitudes() || !alone.settle(1e-5, 8)) {
        return {start, false};
    }
    const double left = weight.mean_square(residual) - alone.explained() / weight.sum();
    const double at_ends = 0.5 * static_cast<double>(residual.size()) *
                           std::sqrt(std::max(left, 0.0) * alone.omega_variance(0));
    const bool told = at_ends < 0.3 && std::abs(alone.omega(0) - nominal) < 0.015 * nominal;
    return told ? MainsStart{alone.omega(0), true} : MainsStart{start, false};
}

/// Places of the grid beside the tones where `residual` holds a line that nobody fitted, radians a
/// sample, at most a few hundred.
std::vector<double> products_beside(std::span<const double> residual, const CosineEnds& weight,
                                    const std::vector<double>& lines, double grid) {
    constexpr int reach = 4;
    constexpr double stands_out =
        12.0;  // of the median of the places around: as in noise_floor.cpp
    constexpr std::size_t most = 300;
    const std::size_t length = good_length_at_most(residual.size());
    const double bin = two_pi / static_cast<double>(length);
    if (grid < 0.9 * two_pi / static_cast<double>(residual.size())) {
        return {};
    }
    std::vector<double> weighted(length);
    for (std::size_t n = 0; n < length; ++n) {
        weighted[n] = weight.at(n) * residual[n];
    }
    const std::vector<std::complex<double>> bins = RealTransform{length}.forward(weighted);
    const auto power_at = [&](double omega) {
        const auto k = static_cast<std::size_t>(std::lround(omega / bin));
        return k > 0 && k + 1 < bins.size() ? std::norm(bins[k]) : 0.0;
    };
    std::vector<double> found;
    for (const double line : lines) {
        std::vector<double> around;
        for (int d = reach + 1; d <= reach + 20; ++d) {
            for (const double at : {line - d * bin, line + d * bin}) {
                if (const double power = power_at(at); at > 0.0 && power > 0.0) {
                    around.push_back(power);
                }
            }
        }
        if (around.size() < 8) {
            continue;
        }
        const auto middle = around.begin() + static_cast<std::ptrdiff_t>(around.size() / 2);
        std::nth_element(around.begin(), middle, around.end());
        for (int d = -reach; d <= reach; ++d) {
            const double at = line + d * grid;
            const auto taken = [&](double other) { return std::abs(other - at) < 0.9 * grid; };
            if (at < 0.9 * grid || at > 0.49 * two_pi || power_at(at) < stands_out * *middle ||
                std::any_of(lines.begin(), lines.end(), taken) ||
                std::any_of(found.begin(), found.end(), taken) || found.size() >= most) {
                continue;
            }
            found.push_back(at);
        }
    }
    return found;
}

/// Tones at a clock that is known, the mains, and what is left.
struct Channel {
    std::vector<CombLine> tones;
    std::vector<CombLine> mains;
    double mains_omega = 0.0;
    std::vector<Line> lines;
    std::vector<double> dc;
    std::vector<double> residual;
};

std::optional<Channel> fit_channel(std::span<const double> record, const FoldedRecord& halves,
                                   const CosineEnds& weight, const std::vector<double>& omegas,
                                   double clock, std::optional<double> nominal_mains, double grid) {
    const double length = static_cast<double>(record.size());
    CombFit fit{halves, weight, dc_degree};
    const std::size_t tones = fit.add(comb_of(omegas, clock, false));
    if (!fit.solve_amplitudes()) {
        return std::nullopt;
    }
    Channel channel;
    channel.residual.assign(record.begin(), record.end());
    subtract(channel.residual, fit.all_lines(), fit.dc());
    std::optional<std::size_t> mains;
    std::vector<int> orders;
    if (nominal_mains) {
        orders = mains_orders_beside(omegas, *nominal_mains, length);
    }
    if (!orders.empty()) {
        const MainsStart start = mains_in(channel.residual, weight, orders, *nominal_mains);
        orders = mains_orders_beside(omegas, start.omega, length);
        mains = fit.add({start.omega, orders, start.free});
        if (!fit.solve_amplitudes() || !fit.settle(1e-5, 8)) {
            return std::nullopt;
        }
        channel.residual.assign(record.begin(), record.end());
        subtract(channel.residual, fit.all_lines(), fit.dc());
        channel.mains_omega = fit.omega(*mains);
    }
    if (grid > 0.0) {
        std::vector<double> lines;
        for (const Line& line : fit.all_lines()) {
            lines.push_back(line.omega);
        }
        const std::vector<double> products =
            products_beside(channel.residual, weight, lines, grid * (1.0 + clock));
        if (!products.empty()) {
            fit.add(comb_of(products, 0.0, false));
            if (!fit.solve_amplitudes()) {
                return std::nullopt;
            }
            channel.residual.assign(record.begin(), record.end());
            subtract(channel.residual, fit.all_lines(), fit.dc());
        }
    }
    if (mains) {
        channel.mains = fit.lines(*mains);
    }
    channel.tones = fit.lines(tones);
    channel.lines = fit.all_lines();
    channel.dc = fit.dc();
    return channel;
}

std::optional<FigureFailure> unfit(const std::vector<WaveformView>& record,
                                   const std::vector<Hertz>& frequencies) {
    using Kind = FigureFailure::Kind;
    if (record.empty() || frequencies.empty() || frequencies.size() > most_frequencies) {
        return FigureFailure{Kind::out_of_range,
                             fmt::format("{} channels and {} tones: at least one of both and at "
                                         "most {} tones can be fitted",
                                         record.size(), frequencies.size(), most_frequencies)};
    }
    const double rate = record.front().rate.frequency().in<Hertz>();
    const std::size_t samples = record.front().volts.size();
    if (!(frequencies.front() > Hertz{0.0} && frequencies.back() < Hertz{0.49 * rate})) {
        return FigureFailure{
            Kind::out_of_range,
            fmt::format("tones from {:g} to {:g} Hz cannot be fitted at {:g} samples a second",
                        frequencies.front().in<Hertz>(), frequencies.back().in<Hertz>(), rate)};
    }
    double spacing = frequencies.front().in<Hertz>();
    for (std::size_t i = 1; i < frequencies.size(); ++i) {
        spacing = std::min(spacing, (frequencies[i] - frequencies[i - 1]).in<Hertz>());
    }
    const double least = std::max(
        {0.95 / spacing, 1024.0 / rate, 8.0 * static_cast<double>(frequencies.size()) / rate});
    if (!(static_cast<double>(samples) >= least * rate)) {
        return FigureFailure{
            Kind::record_too_short,
            fmt::format("{:.3g} s cannot tell tones {:.3g} Hz apart: {:.3g} s would do",
                        static_cast<double>(samples) / rate, spacing, least)};
    }
    for (const WaveformView& channel : record) {
        if (channel.volts.size() != samples || channel.rate != record.front().rate) {
            return FigureFailure{Kind::out_of_range, "the channels differ in length or rate"};
        }
        if (!std::all_of(channel.volts.begin(), channel.volts.end(),
                         [](double x) { return std::isfinite(x); })) {
            return FigureFailure{Kind::no_tone, "the record holds samples that are not finite"};
        }
    }
    return std::nullopt;
}

}  // namespace

Expected<MultitoneFit> fit_multitone(const std::vector<WaveformView>& record,
                                     std::vector<Hertz> frequencies,
                                     const MultitoneFitSettings& settings) {
    using Kind = FigureFailure::Kind;
    std::sort(frequencies.begin(), frequencies.end());
    if (auto why = unfit(record, frequencies)) {
        return tl::unexpected(*std::move(why));
    }
    const SampleRate rate = record.front().rate;
    const double rate_hz = rate.frequency().in<Hertz>();
    const std::size_t samples = record.front().volts.size();
    std::vector<double> omegas;
    omegas.reserve(frequencies.size());
    for (const Hertz frequency : frequencies) {
        omegas.push_back(two_pi * (frequency / rate.frequency()));
    }
    const auto alike = [] {
        return refused(Kind::ill_conditioned,
                       "two tones cannot be told apart: take a longer record");
    };

    const CosineEnds weight{samples, settings.ends};
    std::vector<FoldedRecord> halves;
    halves.reserve(record.size());
    for (const WaveformView& channel : record) {
        halves.push_back(folded(channel.volts, weight));
    }
    // Amplitudes are each channel's own, so the joint least squares of a common clock is the mean
    // of the channels' clocks, weighted by what each knows.
    double start = coarse_clock(record, omegas);
    double sum = 0.0;
    double weights = 0.0;
    std::vector<Clock> clocks;
    for (std::size_t c = 0; c < record.size(); ++c) {
        const std::optional<Clock> found =
            clock_of(record[c].volts, halves[c], weight, omegas, start);
        if (!found) {
            return alike();
        }
        const bool told = found->variance > 0.0 && std::abs(found->value) < 2.0 * clock_reach;
        clocks.push_back(told ? *found : Clock{});
        if (told) {
            sum += found->value / found->variance;
            weights += 1.0 / found->variance;
        }
    }
    const double clock = weights > 0.0 ? sum / weights : 0.0;

    MultitoneFit result;
    result.frequencies = frequencies;
    result.clock_ppm = 1e6 * clock;
    result.length = Seconds{static_cast<double>(samples) / rate_hz};
    result.rate = rate;
    std::optional<double> mains;
    if (settings.mains) {
        mains = two_pi * (*settings.mains / rate.frequency());
    }
    const double grid = settings.period ? two_pi / (settings.period->in<Seconds>() * rate_hz) : 0.0;
    double clock_variance = 0.0;
    bool any = false;
    for (std::size_t c = 0; c < record.size(); ++c) {
        const auto fit =
            fit_channel(record[c].volts, halves[c], weight, omegas, clock, mains, grid);
        if (!fit) {
            return alike();
        }
        std::vector<double> lines_hz;
        for (const Line& line : fit->lines) {
            lines_hz.push_back(line.omega * rate_hz / two_pi);
        }
        const NoiseFloor floor{fit->residual, rate, settings.ends, lines_hz};
        std::vector<LinePhasor>& tones = result.channels.emplace_back();
        // The noise that moves a clock is the one around the tones that tell it.
        double telling = 0.0;
        double telling_noise = 0.0;
        for (std::size_t i = 0; i < omegas.size(); ++i) {
            const CombLine& line = fit->tones[i];
            const double noise = floor.variance_around(frequencies[i]);
            const double variance = line.variance * noise;
            const double tells = std::pow(omegas[i] * line.amplitude(), 2);
            telling += tells;
            telling_noise += tells * noise;
            tones.push_back({{line.cosine, -line.sine}, std::sqrt(variance)});
            any = any || line.amplitude() > 10.0 * std::sqrt(2.0 * variance);
        }
        if (telling > 0.0 && clocks[c].variance > 0.0) {
            const double share = 1.0 / (clocks[c].variance * weights);
            clock_variance += share * share * clocks[c].for_noise * telling_noise / telling;
        }
        std::vector<FittedLine>& hum = result.mains.emplace_back();
        for (const CombLine& line : fit->mains) {
            const Hertz frequency{line.order * fit->mains_omega * rate_hz / two_pi};
            hum.push_back({line.order, frequency, line.amplitude(), line.phase(),
                           std::sqrt(line.variance * floor.variance_around(frequency))});
        }
        result.dc.push_back(fit->dc);
        result.residual_rms.push_back(std::sqrt(weight.mean_square(fit->residual)));
    }
    result.clock_u_k1_ppm = weights > 0.0 ? 1e6 * std::sqrt(clock_variance) : 1e6 * clock_reach;
    if (!any) {
        return refused(Kind::no_tone, "none of the tones stands 20 dB above the noise");
    }
    return result;
}

Waveform without_tones(WaveformView record, const MultitoneFit& fit, std::size_t channel,
                       const std::vector<bool>& taken) {
    Waveform left{{record.volts.begin(), record.volts.end()}, record.rate};
    std::vector<Line> lines;
    for (std::size_t i = 0; i < fit.frequencies.size(); ++i) {
        if (taken.at(i)) {
            const std::complex<double> a = fit.channels.at(channel)[i].amplitude;
            const double omega = two_pi * (fit.frequencies[i] / record.rate.frequency()) *
                                 (1.0 + 1e-6 * fit.clock_ppm);
            lines.push_back({omega, a.real(), -a.imag()});
        }
    }
    subtract(left.volts, lines, fit.dc.at(channel));
    return left;
}

}  // namespace afterload::analysis
