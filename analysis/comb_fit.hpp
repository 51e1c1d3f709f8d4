/// Combs of lines and a slow DC fitted to a record together, each comb on a clock of its own.
///
/// A comb is a fundamental with chosen multiples: the tone with its harmonics, or the mains lines.
/// Its lines may also stand at any other fixed ratio to the fundamental: two tones of one source
/// with their products, or the tones of a multitone.
/// All amplitudes are linear unknowns; the frequency of a free comb is one more, linearised about
/// its present value and stepped until it rests (Gauss and Newton's method). Centred time and a
/// symmetric weight keep the matrix near the identity, and every entry but those of a curved DC is
/// a closed form (cosine_ends.hpp), so that a pass costs two sums a line over the samples.
#pragma once

#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace afterload::analysis {

struct Comb {
    double omega = 0.0;       ///< of order 1, radians a sample
    std::vector<int> orders;  ///< multiples that are modelled
    bool free = true;         ///< is the frequency an unknown?
    /// Frequency of each line over omega, above 0, where the orders are only names of the lines;
    /// empty: the orders themselves.
    std::vector<double> ratios = {};
};

/// A fitted line cosine · cos ωt + sine · sin ωt, t = 0 in the middle of the record.
struct CombLine {
    int order = 1;
    double ratio = 1.0;  ///< frequency over the comb's
    double cosine = 0.0;
    double sine = 0.0;
    double variance = 0.0;  ///< of the amplitude, for white noise of unit variance

    [[nodiscard]] double amplitude() const;
    [[nodiscard]] double phase() const;  ///< of amplitude · cos(ωt + phase)
};

class CombFit {
public:
    /// Borrows record and weight for its lifetime. `dc_degree` at least 0.
    CombFit(const FoldedRecord& record, const CosineEnds& weight, int dc_degree);

    /// Adds a comb and returns its index.
    std::size_t add(Comb comb);
    /// Of a comb whose ratios are its orders.
    void set_orders(std::size_t comb, std::vector<int> orders);
    void set_free(std::size_t comb, bool free);

    /// Amplitudes at the present frequencies, held.
    [[nodiscard]] bool solve_amplitudes();

    /// One joint step of amplitudes and free frequencies. Returns the largest step as the phase, in
    /// radians, that it turns at the ends of the record; nothing when two columns cannot be told
    /// apart.
    [[nodiscard]] std::optional<double> step();

    /// Steps until the largest one is below `rest` radians, `most` times at the most. Returns
    /// whether the matrix stayed regular.
    [[nodiscard]] bool settle(double rest, int most);

    [[nodiscard]] double omega(std::size_t comb) const;
    [[nodiscard]] const std::vector<CombLine>& lines(std::size_t comb) const;
    [[nodiscard]] const std::vector<double>& dc() const { return dc_; }
    /// Variance of ω for white noise of unit variance; 0 for a comb that is held.
    [[nodiscard]] double omega_variance(std::size_t comb) const;
    [[nodiscard]] std::size_t unknowns() const { return unknowns_; }
    /// Σ w · model², the part of Σ w x² that the fit explains.
    [[nodiscard]] double explained() const { return explained_; }

    /// Every fitted line of every comb, to subtract.
    [[nodiscard]] std::vector<Line> all_lines() const;

private:
    struct Tooth {
        CombLine line;
        double multiple = 1.0;  // of the comb's omega
        LineSums sums;
        bool known = false;   // sums belong to the comb's omega
        bool timed = false;   // with the two sums of time
        bool strong = false;  // tells something about the frequency
    };
    struct Fitted {
        Comb comb;
        std::vector<Tooth> teeth;
        std::vector<CombLine> lines;
        double pending = 0.0;  // a step too small to start anew for
        double omega_variance = 0.0;
    };

    void set_lines(Fitted& fitted, const std::vector<int>& orders,
                   const std::vector<double>& ratios);
    void sum_up(Fitted& fitted) const;
    static void find_strong(Fitted& fitted);
    bool solve(bool frequencies);

    const FoldedRecord& record_;
    const CosineEnds& weight_;
    std::vector<FoldedRecord> powers_;
    std::vector<double> power_sums_;
    std::vector<Fitted> combs_;
    std::vector<double> dc_;
    std::size_t unknowns_ = 0;
    double explained_ = 0.0;
};

}  // namespace afterload::analysis
