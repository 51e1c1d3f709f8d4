/// The sums over one piece of a record from which its fit is made: the costly part of a watch.
///
/// The same source is compiled twice: for two numbers abreast, which every processor of the kind
/// has, and for four (AVX2 with FMA). Which one is used is decided when the program runs.
#pragma once

#include <cstddef>

namespace afterload::analysis {

/// Sums over `2 * half` samples about the middle between them. A sample pair is p at t and q at -t,
/// t = 1/2, 3/2 …
struct PieceSums {
    static constexpr std::size_t most_columns = 6;
    double even[most_columns]{};  ///< of (p + q) times the even column, one a column
    double odd[most_columns]{};   ///< of (p - q) times the odd column
    double all = 0.0;             ///< of the samples, V
    double squares = 0.0;         ///< of their squares, V²
    bool at_end = false;          ///< a magnitude reaches the end that was given
};

/// One way to compute them.
struct PieceKernel {
    std::size_t lanes;  ///< numbers abreast, which the table's layout follows (`place`)
    PieceSums (*sums)(std::size_t columns, const double* samples, std::size_t half,
                      const double* table, double end);

    /// Pairs that the table holds: `half`, and zeros up to whole groups of lanes.
    [[nodiscard]] std::size_t padded(std::size_t half) const {
        return (half + lanes - 1) / lanes * lanes;
    }
    /// Where the even entry of column `c` at pair `i` stands in a table of 2 · columns · padded
    /// numbers; the odd one stands `lanes` behind it. Three columns at a time, group behind group.
    [[nodiscard]] std::size_t place(std::size_t i, std::size_t c, std::size_t columns,
                                    std::size_t half) const {
        const std::size_t first = c / group * group;
        const std::size_t width = columns - first < group ? columns - first : group;
        return 2 * first * padded(half) + i / lanes * 2 * lanes * width + 2 * lanes * (c - first) +
               i % lanes;
    }
    static constexpr std::size_t group = 3;  ///< columns: as many as stay in registers
};

/// Two abreast.
[[nodiscard]] PieceKernel narrow_piece_kernel();
/// Four abreast. Only where `has_wide_piece_kernel`.
[[nodiscard]] PieceKernel wide_piece_kernel();
/// This build has it, and the processor it runs on too.
[[nodiscard]] bool has_wide_piece_kernel();

}  // namespace afterload::analysis
