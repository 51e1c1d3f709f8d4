#include "analysis/multitone_timeline.hpp"

#include "analysis/phasors.hpp"
#include "analysis/window.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <optional>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double largest_slip = 8192.0;
constexpr double drift_reach = 500e-6;  // clocks apart

/// Tones far enough apart for pieces of one length, each as phasors on the nominal clock.
struct Pieces {
    std::vector<double> omegas;
    std::vector<std::vector<std::complex<double>>> phasors;  // of each tone
    std::size_t size = 0;

    [[nodiscard]] std::size_t count() const { return phasors.front().size(); }
};

std::optional<Pieces> pieces_of(WaveformView record, const std::vector<Hertz>& frequencies) {
    constexpr std::size_t most = 16;
    constexpr std::size_t least_pieces = 8;
    const double rate = record.rate.frequency().in<Hertz>();
    const double seconds =
        std::min(0.06, static_cast<double>(record.volts.size()) / rate / least_pieces);
    // The main lobe of the weight ends two bins away.
    const double apart = 3.0 / seconds;
    std::vector<double> chosen;
    for (std::size_t i = frequencies.size(); i-- > 0 && chosen.size() < most;) {
        const double f = frequencies[i].in<Hertz>();
        const double below = i > 0 ? frequencies[i - 1].in<Hertz>() : 0.0;
        const double above =
            i + 1 < frequencies.size() ? frequencies[i + 1].in<Hertz>() : 2.0 * f + apart;
        if (f - below >= apart && above - f >= apart) {
            chosen.push_back(f);
        }
    }
    const auto size = static_cast<std::size_t>(seconds * rate);
    if (chosen.size() < 2 || size < 64) {
        return std::nullopt;
    }
    Pieces pieces;
    pieces.size = size;
    const std::vector<double> weight = window(WindowKind::hann, size);
    for (const double f : chosen) {
        const double omega = two_pi * f / rate;
        pieces.omegas.push_back(omega);
        pieces.phasors.push_back(phasors(record.volts, omega, weight, size));
    }
    return pieces;
}

struct Shift {
    double samples = 0.0;
    double coherence = 0.0;  // 1 when all tones agree on it
};

/// What delay turns piece `from` into piece `to`, within `reach` of `about`.
class PieceDelay {
public:
    PieceDelay(const Pieces& pieces, std::size_t from, std::size_t to) : omegas_{pieces.omegas} {
        for (const auto& tone : pieces.phasors) {
            products_.push_back(tone[to] * std::conj(tone[from]));
            whole_ += std::abs(products_.back());
        }
    }
    /// Tones on a grid come round again after its period: of delays that agree equally well the one
    /// nearest to `about` is meant.
    [[nodiscard]] Shift within(double about, double reach) const {
        constexpr double step = 0.5;
        constexpr double rough = 0.8;  // of the best, half a step off its top
        constexpr double equal = 0.03;
        std::vector<Shift> found{{about, coherence(about)}};
        double best = found.front().coherence;
        const auto steps = static_cast<int>(reach / step);
        for (int i = 1; i <= steps; ++i) {
            const double away = i * step;
            for (const double samples : {about - away, about + away}) {
                found.push_back({samples, coherence(samples)});
                best = std::max(best, found.back().coherence);
            }
        }
        std::erase_if(found, [&](const Shift& s) { return s.coherence < rough * best; });
        for (Shift& shift : found) {
            shift = refined(shift, 0.5 * step);
            best = std::max(best, shift.coherence);
        }
        // They stand in the order of their distance.
        return *std::find_if(found.begin(), found.end(),
                             [&](const Shift& s) { return s.coherence >= best - equal; });
    }

private:
    [[nodiscard]] Shift refined(Shift shift, double step) const {
        while (step > 1e-3) {
            for (const double samples : {shift.samples - step, shift.samples + step}) {
                if (const double better = coherence(samples); better > shift.coherence) {
                    shift = {samples, better};
                }
            }
            step *= 0.5;
        }
        return shift;
    }

    // Samples missing before `to` turn every tone on by so many of its turns a sample.
    [[nodiscard]] double coherence(double samples) const {
        double sum = 0.0;
        for (std::size_t i = 0; i < omegas_.size(); ++i) {
            sum += (products_[i] * std::polar(1.0, -omegas_[i] * samples)).real();
        }
        return whole_ > 0.0 ? sum / whole_ : 0.0;
    }

    const std::vector<double>& omegas_;
    std::vector<std::complex<double>> products_;
    double whole_ = 0.0;
};

std::vector<CaptureFault> slips_in(const Pieces& pieces, double rate) {
    constexpr double good = 0.95;  // a piece with a slip inside agrees with nothing
    const std::size_t count = pieces.count();
    const double drift = 1.0 + drift_reach * static_cast<double>(pieces.size);
    // Clean neighbours tell how far the clocks drift apart a piece.
    std::vector<double> drifts;
    for (std::size_t b = 1; b < count; ++b) {
        const Shift near = PieceDelay{pieces, b - 1, b}.within(0.0, drift);
        if (near.coherence > good) {
            drifts.push_back(near.samples);
        }
    }
    if (2 * drifts.size() < count) {
        return {};
    }
    const auto middle = drifts.begin() + static_cast<std::ptrdiff_t>(drifts.size() / 2);
    std::nth_element(drifts.begin(), middle, drifts.end());
    const double a_piece = *middle;

    std::vector<CaptureFault> faults;
    std::size_t last = 0;
    for (std::size_t b = 1; b < count; ++b) {
        const double expected = a_piece * static_cast<double>(b - last);
        const PieceDelay delay{pieces, last, b};
        Shift shift = delay.within(expected, 1.5);
        if (shift.coherence <= good) {
            // Not the next one only: it may hold the slip itself.
            const bool in_the_slip =
                b + 1 < count &&
                PieceDelay{pieces, b, b + 1}.within(a_piece, 1.5).coherence <= good;
            if (in_the_slip) {
                continue;
            }
            shift = delay.within(expected, largest_slip);
            if (shift.coherence <= good) {
                continue;
            }
        }
        // The clocks drifted apart over what is missing as well.
        const double drift_a_sample = a_piece / static_cast<double>(pieces.size);
        const double moved = (shift.samples - expected) / (1.0 + drift_a_sample);
        const double slip = std::round(moved);
        // Half a sample: a slip of one inside this piece. The next one tells.
        if (std::abs(moved - slip) > 0.25) {
            continue;
        }
        if (slip != 0.0) {
            const double start =
                (static_cast<double>(last) + 0.5 * static_cast<double>(b - last + 1)) *
                static_cast<double>(pieces.size) / rate;
            faults.push_back({slip > 0.0 ? CaptureFaultKind::gap : CaptureFaultKind::repeat, 1,
                              Seconds{start},
                              slip > 0.0 ? fmt::format("{:.0f} samples are missing", slip)
                                         : fmt::format("{:.0f} samples stand twice", -slip)});
        }
        last = b;
    }
    return faults;
}

std::optional<CaptureFault> unsettled(const Pieces& pieces) {
    constexpr double decibels_a_neper = 20.0 / std::numbers::ln10;
    const std::size_t count = pieces.count();
    const std::size_t quarter = count / 4;
    double change = 0.0;
    double variance = 0.0;
    std::size_t used = 0;
    for (const auto& tone : pieces.phasors) {
        std::vector<double> levels;
        levels.reserve(tone.size());
        for (const std::complex<double>& piece : tone) {
            levels.push_back(std::log(std::max(std::abs(piece), 1e-300)));
        }
        double first = 0.0;
        double last = 0.0;
        for (std::size_t b = 0; b < quarter; ++b) {
            first += levels[b] / static_cast<double>(quarter);
            last += levels[count - 1 - b] / static_cast<double>(quarter);
        }
        // Scatter from neighbour to neighbour: a level that moves slowly does not count as noise.
        double scatter = 0.0;
        for (std::size_t b = 1; b < count; ++b) {
            scatter += (levels[b] - levels[b - 1]) * (levels[b] - levels[b - 1]) / 2.0;
        }
        scatter /= static_cast<double>(count - 1);
        if (scatter > 0.01) {
            continue;  // no tone, noise
        }
        change += last - first;
        variance += 2.0 * scatter / static_cast<double>(quarter);
        ++used;
    }
    if (used == 0) {
        return std::nullopt;
    }
    change *= decibels_a_neper / static_cast<double>(used);
    const double noise = decibels_a_neper * std::sqrt(variance) / static_cast<double>(used);
    if (std::abs(change) <= 0.02 || std::abs(change) <= 4.0 * noise) {
        return std::nullopt;
    }
    return CaptureFault{
        CaptureFaultKind::unsettled, 1, Seconds{0.0},
        fmt::format("the last quarter stands {:+.3f} dB against the first", change)};
}

}  // namespace

std::vector<CaptureFault> multitone_faults(WaveformView record,
                                           const std::vector<Hertz>& frequencies) {
    const std::optional<Pieces> pieces = pieces_of(record, frequencies);
    if (!pieces) {
        return {};
    }
    std::vector<CaptureFault> faults = slips_in(*pieces, record.rate.frequency().in<Hertz>());
    if (faults.empty()) {
        if (auto moving = unsettled(*pieces)) {
            faults.push_back(*std::move(moving));
        }
    }
    return faults;
}

std::vector<CaptureFault> multitone_faults_of_all(const std::vector<WaveformView>& channels,
                                                  const std::vector<std::vector<Hertz>>& tones) {
    std::vector<CaptureFault> found;
    std::size_t witnesses = 0;
    for (std::size_t c = 0; c < channels.size(); ++c) {
        if (tones[c].empty()) {
            continue;
        }
        ++witnesses;
        for (CaptureFault fault : multitone_faults(channels[c], tones[c])) {
            fault.channel = static_cast<int>(c) + 1;
            found.push_back(std::move(fault));
        }
    }
    if (witnesses == 0 && !channels.empty()) {
        return {{CaptureFaultKind::silent, 0, Seconds{0.0},
                 "none of the tones that were played stands out of the noise"}};
    }
    constexpr Seconds near{0.1};
    std::vector<CaptureFault> faults;
    for (std::size_t i = 0; i < found.size(); ++i) {
        const auto same = [&](const CaptureFault& other) {
            return other.kind == found[i].kind && other.note == found[i].note &&
                   other.start - found[i].start < near && found[i].start - other.start < near;
        };
        const auto first = std::find_if(found.begin(), found.end(), same);
        const auto seen = static_cast<std::size_t>(std::count_if(found.begin(), found.end(), same));
        const bool common =
            witnesses > 1 && seen == witnesses && found[i].kind != CaptureFaultKind::unsettled;
        if (!common) {
            faults.push_back(found[i]);
        } else if (first == found.begin() + static_cast<std::ptrdiff_t>(i)) {
            faults.push_back(found[i]);
            faults.back().channel = 0;
        }
    }
    return faults;
}

}  // namespace afterload::analysis
