/// Cosine-sum windows for spectra that are looked at.
///
/// Figures come from fits (tone.hpp) and band powers (noise.hpp), which need no window; a plot
/// does. For a line of unknown frequency read off a plot take hft248d: it never lies by more than
/// 0.001 dB and pays 2.4 times the noise of the fit.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace afterload::analysis {

enum class WindowKind {
    rectangular,
    hann,
    hamming,
    blackman,
    blackman_harris_4,
    nuttall_4b,
    nuttall_4c,
    sft5m,
    hft70,
    hft90d,
    hft95,
    hft116d,
    hft144d,
    hft169d,
    hft196d,
    hft223d,
    hft248d
};

/// As the literature names it: "Hann", "HFT248D".
[[nodiscard]] std::string_view name(WindowKind kind);
[[nodiscard]] const std::vector<WindowKind>& all_window_kinds();

/// Coefficients a_0 … a_K of w[j] = Σ a_k cos(2πkj/N), signs included, as printed.
/// Source  Harris, Proc. IEEE 66(1), 1978; Nuttall, IEEE Trans. ASSP-29(1), 1981; Heinzel, Rüdiger,
///         Schilling, "Spectrum and spectral density estimation by the DFT", 2002, appendix C and
///         D.
[[nodiscard]] std::span<const double> coefficients(WindowKind kind);

/// The window, periodic (DFT-even), scaled to 1 at its middle.
[[nodiscard]] std::vector<double> window(WindowKind kind, std::size_t length);

/// Mean of the window, re its peak.
[[nodiscard]] double coherent_gain(WindowKind kind);

/// Equivalent noise bandwidth in bins: N Σw²/(Σw)².
[[nodiscard]] double noise_bandwidth_bins(WindowKind kind);

/// Half the width of the main lobe in bins: a line spreads this far to either side.
[[nodiscard]] int main_lobe_bins(WindowKind kind);

}  // namespace afterload::analysis
