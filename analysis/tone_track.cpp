#include "analysis/tone_track.hpp"

#include <cmath>

namespace afterload::analysis {
namespace {

// A loop of second order, critically damped: a constant offset of the clock leaves no error.
constexpr double phase_gain = 1.0 / 32.0;
constexpr double turn_gain = phase_gain * phase_gain / 4.0;
constexpr double level_gain = 1.0 / 32.0;
constexpr double variance_gain = 1.0 / 512.0;

}  // namespace

void ToneTrack::begin(std::span<const std::complex<double>> pieces, double turn) {
    const std::complex<double> nominal = std::polar(1.0, turn);
    const std::size_t half = pieces.size() / 2;
    const auto mean_of = [&](std::size_t from, std::size_t to) {
        std::complex<double> sum;
        std::complex<double> back = std::polar(1.0, -turn * static_cast<double>(from));
        for (std::size_t b = from; b < to; ++b) {
            sum += pieces[b] * back;
            back *= std::conj(nominal);
        }
        return sum / static_cast<double>(to - from);
    };
    const std::complex<double> early = mean_of(0, half);
    const std::complex<double> late = mean_of(pieces.size() - half, pieces.size());
    const double apart = static_cast<double>(pieces.size() - half);
    const double own = turn + std::arg(late * std::conj(early)) / apart;
    turn_ = std::polar(1.0, own);

    std::complex<double> sum;
    for (std::size_t b = 0; b < pieces.size(); ++b) {
        sum += pieces[b] * std::polar(1.0, -own * static_cast<double>(b));
    }
    const std::complex<double> mean = sum / static_cast<double>(pieces.size());
    for (std::size_t b = 0; b < pieces.size(); ++b) {
        next_ = mean * std::polar(1.0, own * static_cast<double>(b));
        const Deviation seen = deviation(pieces[b]);
        level_variance_ += seen.level * seen.level / static_cast<double>(pieces.size());
        phase_variance_ += seen.turn * seen.turn / static_cast<double>(pieces.size());
    }
    next_ *= turn_;
}

ToneTrack::Deviation ToneTrack::deviation(std::complex<double> piece) const {
    const double re = piece.real() * next_.real() + piece.imag() * next_.imag();
    const double im = piece.imag() * next_.real() - piece.real() * next_.imag();
    const double square = next_.real() * next_.real() + next_.imag() * next_.imag();
    if (!(square > 0.0)) {
        return {};
    }
    const double along = re / square;
    const double across = im / square;
    const double level = std::sqrt(along * along + across * across) - 1.0;
    return {level, along > 0.5 * std::abs(across) ? across / (1.0 + level) : 1.0};
}

void ToneTrack::follow(const Deviation& seen) {
    level_variance_ += variance_gain * (seen.level * seen.level - level_variance_);
    phase_variance_ += variance_gain * (seen.turn * seen.turn - phase_variance_);
    const auto turned = [](std::complex<double> z, double angle) {
        return std::complex<double>{z.real() - angle * z.imag(), z.imag() + angle * z.real()};
    };
    const std::complex<double> corrected =
        (1.0 + level_gain * seen.level) * turned(next_, phase_gain * seen.turn);
    turn_ = turned(turn_, turn_gain * seen.turn);
    const double square = turn_.real() * turn_.real() + turn_.imag() * turn_.imag();
    turn_ *= 1.5 - 0.5 * square;  // back to length one
    next_ = {corrected.real() * turn_.real() - corrected.imag() * turn_.imag(),
             corrected.real() * turn_.imag() + corrected.imag() * turn_.real()};
}

}  // namespace afterload::analysis
