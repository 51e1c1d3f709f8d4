/// The loops of a fit that touch every sample: sums against turning sines, and sines added up.
///
/// The same source is compiled twice: for two numbers abreast, which every processor of the kind
/// has, and for four (AVX2). Which one is used is decided when the program runs. Neither fuses a
/// multiplication with an addition, and the order of the additions is that of the lanes below:
/// both give the same bits.
#pragma once

#include <cstddef>

namespace afterload::analysis {

/// Cosine and sine at `lanes` neighbouring samples, and what turns them on by as many. The error
/// grows by about one rounding a turn: begin anew every thousand samples.
struct TurningSines {
    static constexpr std::size_t lanes = 16;  ///< as many as keep a processor busy
    double cosine[lanes]{};
    double sine[lanes]{};
    double step_cosine = 1.0;
    double step_sine = 0.0;
};

/// The sines of one line, begun at any time.
class SineLine {
public:
    /// `omega` in radians a sample.
    explicit SineLine(double omega);
    /// At times t, t + 1, … t + lanes - 1.
    [[nodiscard]] TurningSines at(double t) const;

private:
    double omega_;
    TurningSines from_zero_;
};

/// What is summed up so far, lane by lane.
struct LaneSums {
    double cosine[TurningSines::lanes]{};
    double sine[TurningSines::lanes]{};
    double t_cosine[TurningSines::lanes]{};
    double t_sine[TurningSines::lanes]{};
};

/// One of them over its lanes, two neighbours first.
[[nodiscard]] double total(const double (&lanes)[TurningSines::lanes]);

/// One way to compute them. Every `count` is a multiple of `lanes`; `turning` is turned on by it.
struct SineKernel {
    /// Σ even · cos and Σ odd · sin.
    void (*sums)(const double* even, const double* odd, std::size_t count, TurningSines& turning,
                 LaneSums& into);
    /// Also Σ t · odd · cos and Σ t · even · sin, t counting up from `first_t`.
    void (*sums_with_time)(const double* even, const double* odd, std::size_t count, double first_t,
                           TurningSines& turning, LaneSums& into);
    /// Σ weight · samples · cos and Σ weight · samples · sin.
    void (*project)(const double* weight, const double* samples, std::size_t count,
                    TurningSines& turning, LaneSums& into);
    /// Adds a · cos to `even` and b · sin to `odd`.
    void (*add)(double a, double b, std::size_t count, const TurningSines& turning, double* even,
                double* odd);
};

/// Two abreast.
[[nodiscard]] const SineKernel& narrow_sine_kernel();
/// Four abreast. Only where `has_wide_sine_kernel`.
[[nodiscard]] const SineKernel& wide_sine_kernel();
/// This build has it, and the processor it runs on too.
[[nodiscard]] bool has_wide_sine_kernel();
/// The widest that there is.
[[nodiscard]] const SineKernel& sine_kernel();

}  // namespace afterload::analysis
