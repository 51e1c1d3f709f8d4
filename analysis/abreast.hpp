/// Doubles that a kernel works on together. Included by the sources of kernels alone, which are
/// compiled for two processors: internal linkage, as there.
#pragma once

#include <cstddef>

namespace afterload::analysis {
namespace {

template <std::size_t lanes>
struct Abreast;
template <>
struct Abreast<2> {
    using Wide = double __attribute__((vector_size(2 * sizeof(double))));
    static Wide reversed(Wide wide) { return __builtin_shufflevector(wide, wide, 1, 0); }
};
#ifdef __AVX2__
template <>
struct Abreast<4> {
    using Wide = double __attribute__((vector_size(4 * sizeof(double))));
    static Wide reversed(Wide wide) { return __builtin_shufflevector(wide, wide, 3, 2, 1, 0); }
};
#endif

}  // namespace
}  // namespace afterload::analysis
