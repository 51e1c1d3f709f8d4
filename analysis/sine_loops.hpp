/// The source of both kernels of sine_kernel.hpp. Included by their two files alone.
///
/// Everything has internal linkage, and nothing of the standard library is called: one of the two
/// files is compiled for a processor that may not be there, and no function of it may be taken for
/// the same one of another file.
#pragma once

#include "analysis/abreast.hpp"
#include "analysis/sine_kernel.hpp"

#include <cstddef>

namespace afterload::analysis {
namespace {

template <std::size_t abreast>
class SineLoops {
public:
    static void sums_with_time(const double* even, const double* odd, std::size_t count,
                               double first_t, TurningSines& turning, LaneSums& into) {
        Turning now{turning};
        Wide cosine[groups];
        Wide sine[groups];
        Wide t_cosine[groups];
        Wide t_sine[groups];
        take(into.cosine, cosine);
        take(into.sine, sine);
        take(into.t_cosine, t_cosine);
        take(into.t_sine, t_sine);
        Wide ahead{};
        for (std::size_t lane = 0; lane < abreast; ++lane) {
            ahead[lane] = static_cast<double>(lane);
        }
        for (std::size_t j = 0; j < count; j += TurningSines::lanes) {
            for (std::size_t i = 0; i < groups; ++i) {
                const Wide e = load(even + j + abreast * i);
                const Wide o = load(odd + j + abreast * i);
                // Halves of whole numbers: exact, in whatever order they are added.
                const Wide t = first_t + static_cast<double>(j + abreast * i) + ahead;
                cosine[i] += e * now.cosine[i];
                sine[i] += o * now.sine[i];
                t_cosine[i] += t * o * now.cosine[i];
                t_sine[i] += t * e * now.sine[i];
            }
            now.turn();
        }
        give(cosine, into.cosine);
        give(sine, into.sine);
        give(t_cosine, into.t_cosine);
        give(t_sine, into.t_sine);
        now.leave(turning);
    }

    // Each sine against its own of two rows, or both against their product.
    template <bool product>
    static void sums(const double* first, const double* second, std::size_t count,
                     TurningSines& turning, LaneSums& into) {
        Turning now{turning};
        Wide cosine[groups];
        Wide sine[groups];
        take(into.cosine, cosine);
        take(into.sine, sine);
        for (std::size_t j = 0; j < count; j += TurningSines::lanes) {
            for (std::size_t i = 0; i < groups; ++i) {
                const Wide one = load(first + j + abreast * i);
                const Wide other = load(second + j + abreast * i);
                cosine[i] += (product ? one * other : one) * now.cosine[i];
                sine[i] += (product ? one * other : other) * now.sine[i];
            }
            now.turn();
        }
        give(cosine, into.cosine);
        give(sine, into.sine);
        now.leave(turning);
    }

    static void add(double a, double b, std::size_t count, const TurningSines& turning,
                    double* even, double* odd) {
        Turning now{turning};
        for (std::size_t j = 0; j < count; j += TurningSines::lanes) {
            for (std::size_t i = 0; i < groups; ++i) {
                double* const e = even + j + abreast * i;
                double* const o = odd + j + abreast * i;
                store(e, load(e) + a * now.cosine[i]);
                store(o, load(o) + b * now.sine[i]);
            }
            now.turn();
        }
    }

private:
    using Wide = typename Abreast<abreast>::Wide;
    static constexpr std::size_t groups = TurningSines::lanes / abreast;

    static Wide load(const double* from) {
        Wide wide;
        __builtin_memcpy(&wide, from, sizeof wide);
        return wide;
    }
    static void store(double* to, Wide wide) { __builtin_memcpy(to, &wide, sizeof wide); }
    static void take(const double* from, Wide* into) {
        for (std::size_t i = 0; i < groups; ++i) {
            into[i] = load(from + abreast * i);
        }
    }
    static void give(const Wide* from, double* into) {
        for (std::size_t i = 0; i < groups; ++i) {
            store(into + abreast * i, from[i]);
        }
    }

    // Left to itself the compiler keeps these in memory, which costs more than twice the time.
    struct Turning {
        Wide cosine[groups];
        Wide sine[groups];
        double step_cosine;
        double step_sine;

        explicit Turning(const TurningSines& from)
            : step_cosine{from.step_cosine}, step_sine{from.step_sine} {
            take(from.cosine, cosine);
            take(from.sine, sine);
        }
        void turn() {
            for (std::size_t i = 0; i < groups; ++i) {
                const Wide c = cosine[i] * step_cosine - sine[i] * step_sine;
                sine[i] = sine[i] * step_cosine + cosine[i] * step_sine;
                cosine[i] = c;
            }
        }
        void leave(TurningSines& to) const {
            give(cosine, to.cosine);
            give(sine, to.sine);
        }
    };
};

template <std::size_t abreast>
constexpr SineKernel loops{&SineLoops<abreast>::template sums<false>,
                           &SineLoops<abreast>::sums_with_time,
                           &SineLoops<abreast>::template sums<true>, &SineLoops<abreast>::add};

}  // namespace
}  // namespace afterload::analysis
