#include "analysis/piece_sums.hpp"

#include "analysis/piece_kernel.hpp"

namespace afterload::analysis {

PieceKernel narrow_piece_kernel() {
    return {2, &Kernel<2>::sums};
}

bool has_wide_piece_kernel() {
#ifdef AFTERLOAD_WIDE_KERNEL
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
#else
    return false;
#endif
}

#ifndef AFTERLOAD_WIDE_KERNEL
PieceKernel wide_piece_kernel() {
    return narrow_piece_kernel();
}
#endif

}  // namespace afterload::analysis
