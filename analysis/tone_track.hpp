/// The tone of one channel followed from piece to piece: where it should stand next, and how far
/// from there it does stand.
#pragma once

#include <complex>
#include <span>

namespace afterload::analysis {

class ToneTrack {
public:
    /// How a piece stands against what was expected.
    struct Deviation {
        double level = 0.0;  ///< |z| over the expected, less one
        double turn = 0.0;   ///< of the phase, for small ones in radians
    };

    /// Begins behind `pieces` (phasors at the middles of pieces that follow each other, at least
    /// eight): `turn` is how far the nominal tone turns from one to the next, in radians.
    void begin(std::span<const std::complex<double>> pieces, double turn);

    /// Expected phasor of the piece that is next, peak volts.
    [[nodiscard]] std::complex<double> expected() const { return next_; }
    /// Turn from piece to piece as it is followed, radians within ±π.
    [[nodiscard]] double turn() const { return std::arg(turn_); }
    /// Standard deviations of level (relative) and phase (radians) of one piece.
    [[nodiscard]] double level_sigma() const { return std::sqrt(level_variance_); }
    [[nodiscard]] double phase_sigma() const { return std::sqrt(phase_variance_); }

    [[nodiscard]] Deviation deviation(std::complex<double> piece) const;

    /// Takes the next piece into account. A clock that drifts and a level that moves slowly are
    /// followed, within some thirty pieces.
    void follow(const Deviation& seen);
    /// Lets a piece pass.
    void pass() { next_ *= turn_; }
    /// From here on the tone stands `factor` times where it was expected.
    void move(std::complex<double> factor) { next_ *= factor; }

private:
    std::complex<double> next_;
    std::complex<double> turn_{1.0, 0.0};
    double level_variance_ = 0.0;
    double phase_variance_ = 0.0;
};

}  // namespace afterload::analysis
