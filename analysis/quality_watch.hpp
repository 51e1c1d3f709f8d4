/// What one channel holds beside its tone, all the time: mains lines, harmonics, noise, offset.
#pragma once

#include "analysis/excursion.hpp"
#include "analysis/piece_fit.hpp"
#include "analysis/watch_event.hpp"

#include <array>
#include <complex>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Means over a watch, of windows of 0.1 s in which nothing happened.
struct ChannelFigures {
    long windows = 0;
    double amplitude = 0.0;        ///< of the tone, V peak, mean
    double amplitude_sigma = 0.0;  ///< standard deviation of that mean, from the windows' scatter
    double lowest = 0.0;           ///< V peak, of a window
    double highest = 0.0;
    double first = 0.0;  ///< V peak, of the first and the last second
    double last = 0.0;
    double frequency = 0.0;  ///< Hz, mean
    double frequency_sigma = 0.0;
    double distortion = 0.0;  ///< harmonics 2 to 5 over the tone, what noise alone gives taken off
    double distortion_sigma = 0.0;
    double residual = 0.0;        ///< V rms beside tone, harmonics and mains, whole band
    double residual_sigma = 0.0;  ///< of that, from the windows' scatter
    double hum = 0.0;  ///< V rms, the mains lines that can be told from the tone, together
    double hum_sigma = 0.0;
    double offset = 0.0;  ///< V, mean
    int harmonics = 1;    ///< highest order that was watched
};

/// Mains lines in the means of the pieces: which can be seen, and how they turn.
class MainsLines {
public:
    static constexpr int most = 3;
    /// Orders 1 to 3 of `mains_hz` beside a tone of `tone_hz`, in pieces of `piece_s`.
    MainsLines(double mains_hz, double tone_hz, int harmonics, double piece_s);

    [[nodiscard]] std::size_t size() const { return hertz_.size(); }
    /// What the mean over a piece leaves of line i.
    [[nodiscard]] double response(std::size_t i) const { return response_[i]; }
    /// e^{-jωt} of line i at the piece that is now.
    [[nodiscard]] std::complex<double> now(std::size_t i) const { return now_[i]; }
    /// To the next piece.
    void turn();

private:
    std::vector<double> hertz_;
    std::vector<double> response_;
    std::array<std::complex<double>, most> now_{};
    std::array<std::complex<double>, most> step_{};
};

class QualityWatch {
public:
    /// `driven`: the channel has a tone of its own; `reference`: V peak that thresholds refer to.
    QualityWatch(int channel, bool driven, double reference, const PieceFit& fit, double rate_hz);

    /// Takes a piece that begins at `start_s`. `clean`: nothing happens in it.
    void add(const Piece& piece, double start_s, bool clean, const MainsLines& mains,
             std::vector<WatchEvent>& events);
    /// A window of `pieces` pieces, which began at `start_s`, is over. `turn`: of the tone from
    /// piece to piece, radians, see ToneTrack.
    void end_window(double start_s, long pieces, double turn, const MainsLines& mains,
                    std::vector<WatchEvent>& events);
    void finish(std::vector<WatchEvent>& events);

    /// Does any event last?
    [[nodiscard]] bool open() const {
        return noise_.open() || hum_.open() || distortion_.open() || offset_.open();
    }

    [[nodiscard]] ChannelFigures figures() const;

    /// The last window that was clean enough to be read.
    struct Latest {
        long windows = 0;         ///< how many there were
        double level = 0.0;       ///< V peak, of the tone
        double distortion = 0.0;  ///< harmonics over the tone
        double residual = 0.0;    ///< mean square, V²
        double hum = 0.0;         ///< V rms
        double mean = 0.0;        ///< V
    };
    [[nodiscard]] const Latest& latest() const { return latest_; }

    /// Hum rises by 6 dB, distortion doubles, noise rises by 5 dB: with these the rise counts, if
    /// it is more than so much of the tone.
    static constexpr double least_of_tone = 3e-5;
    /// The mean moves by this share of the tone's peak.
    static constexpr double least_offset = 0.0025;

private:
    struct Window {
        long clean = 0;
        double level = 0.0;
        double residual = 0.0;
        double mean = 0.0;
        std::array<std::complex<double>, MainsLines::most> mains{};
        std::array<std::complex<double>, MainsLines::most> rotations{};
        std::array<std::complex<double>, Piece::most_lines> harmonic{};
    };
    void learn_noise(double residual);
    void add_noise(const Piece& piece, double start_s, std::vector<WatchEvent>& events);
    void learn(double hum, double distortion, double mean);
    void watch_offset(const WatchedWindow& place, double mean, std::vector<WatchEvent>& events);
    void tell(WatchEvent::Kind kind, const std::optional<Excursion::Told>& told, double size,
              std::vector<WatchEvent>& events) const;

    int channel_;
    bool driven_;
    double reference_;
    int lines_;
    double piece_s_;
    double points_;  // of a piece
    double omega_;
    double rate_hz_;
    Window window_;

    // What was found in the first second, and what is compared with it.
    std::vector<double> first_residuals_;
    std::vector<double> first_hum_;
    std::vector<double> first_distortion_;
    std::optional<double> base_residual_;
    std::optional<double> base_hum_;
    double base_distortion_ = 0.0;
    double base_offset_ = 0.0;
    double offset_variance_ = 0.0;
    double offset_sign_ = 1.0;
    Excursion noise_{2, 8, 12.0};
    Excursion hum_{2, 2, 3.0};
    Excursion distortion_{2, 2, 3.0};
    Excursion offset_{1, 2, 1.0};

    Latest latest_;

    // Sums over clean windows.
    ChannelFigures sums_;
    double level_squares_ = 0.0;
    double turn_sum_ = 0.0;  // of what the tone turns more than the nominal one
    double turn_squares_ = 0.0;
    double noise_power_ = 0.0;
    double noise_power_squares_ = 0.0;
    double hum_power_ = 0.0;
    double hum_power_squares_ = 0.0;
    std::array<std::complex<double>, Piece::most_lines> harmonic_sum_{};
    double last_second_ = 0.0;  // a running mean of about a second
    double pieces_ = 0.0;
};

}  // namespace afterload::analysis
