/// The source of both kernels of piece_sums.hpp. Included by their two files alone.
///
/// Everything has internal linkage, and nothing of the standard library is called: one of the two
/// files is compiled for a processor that may not be there, and no function of it may be taken for
/// the same one of another file.
#pragma once

#include "analysis/abreast.hpp"
#include "analysis/piece_sums.hpp"

#include <cstddef>
#include <cstring>

namespace afterload::analysis {
namespace {

template <std::size_t lanes>
class Kernel {
public:
    static PieceSums sums(std::size_t columns, const double* samples, std::size_t half,
                          const double* table, double end) {
        PieceSums result;
        Halves halves;
        const std::size_t padded = (half + lanes - 1) / lanes * lanes;
        for (std::size_t first = 0; first < half; first += Halves::most) {
            const std::size_t count = half - first < Halves::most ? half - first : Halves::most;
            fold(samples + half + first, samples + half - 1 - first, count, end, halves, result);
            for (std::size_t c = 0; c < columns; c += PieceKernel::group) {
                const std::size_t width =
                    columns - c < PieceKernel::group ? columns - c : PieceKernel::group;
                const double* const part = table + 2 * (c * padded + first * width);
                switch (width) {
                    case 1:
                        project<1>(halves, count, part, result.even + c, result.odd + c);
                        break;
                    case 2:
                        project<2>(halves, count, part, result.even + c, result.odd + c);
                        break;
                    default:
                        project<3>(halves, count, part, result.even + c, result.odd + c);
                }
            }
        }
        return result;
    }

private:
    using Wide = typename Abreast<lanes>::Wide;

    // The even and the odd part of a stretch of a piece, about its middle.
    struct Halves {
        static constexpr std::size_t most = 256;
        double even[most];
        double odd[most];
    };

    static Wide load(const double* from) {
        Wide wide;
        std::memcpy(&wide, from, sizeof wide);
        return wide;
    }
    static void store(double* to, Wide wide) { std::memcpy(to, &wide, sizeof wide); }
    static double over(Wide wide) {
        double sum = 0.0;
        for (std::size_t i = 0; i < lanes; ++i) {
            sum += wide[i];
        }
        return sum;
    }

    // Folds `count` samples from `right` on with as many back from `left`, and adds up what needs
    // no table. Where the last group is not whole, zeros fill it up.
    static void fold(const double* right, const double* left, std::size_t count, double end,
                     Halves& halves, PieceSums& result) {
        Wide all{};
        Wide squares{};
        const Wide limit = Wide{} + end * end;
        auto past = limit < limit;
        std::size_t i = 0;
        for (; i + lanes <= count; i += lanes) {
            const Wide p = load(right + i);
            const Wide q = Abreast<lanes>::reversed(load(left - i - (lanes - 1)));
            const Wide p_squared = p * p;
            const Wide q_squared = q * q;
            squares += p_squared + q_squared;
            past |= (p_squared >= limit) | (q_squared >= limit);
            const Wide e = p + q;
            all += e;
            store(halves.even + i, e);
            store(halves.odd + i, p - q);
        }
        result.all += over(all);
        result.squares += over(squares);
        for (std::size_t lane = 0; lane < lanes; ++lane) {
            result.at_end = result.at_end || past[lane] != 0;
        }
        for (; i < count; ++i) {
            const double p = right[i];
            const double q = *(left - i);
            result.all += p + q;
            result.squares += p * p + q * q;
            result.at_end = result.at_end || p * p >= end * end || q * q >= end * end;
            halves.even[i] = p + q;
            halves.odd[i] = p - q;
        }
        for (; i % lanes != 0; ++i) {
            halves.even[i] = 0.0;
            halves.odd[i] = 0.0;
        }
    }

    // A cosine sees only the even part of a piece and a sine only the odd one: half the products.
    template <std::size_t columns>
    static void project(const Halves& halves, std::size_t count, const double* table,
                        double* even_sums, double* odd_sums) {
        Wide even[columns]{};
        Wide odd[columns]{};
        for (std::size_t i = 0; i < count; i += lanes) {
            const Wide e = load(halves.even + i);
            const Wide o = load(halves.odd + i);
            for (std::size_t c = 0; c < columns; ++c) {
                even[c] += e * load(table + 2 * lanes * c);
                odd[c] += o * load(table + 2 * lanes * c + lanes);
            }
            table += 2 * lanes * columns;
        }
        for (std::size_t c = 0; c < columns; ++c) {
            even_sums[c] += over(even[c]);
            odd_sums[c] += over(odd[c]);
        }
    }
};

}  // namespace
}  // namespace afterload::analysis
