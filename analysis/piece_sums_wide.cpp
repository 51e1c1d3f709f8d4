// Compiled for AVX2 and FMA (analysis/CMakeLists.txt), and called only where they are there.
#include "analysis/piece_kernel.hpp"

namespace afterload::analysis {

PieceKernel wide_piece_kernel() {
    return {4, &Kernel<4>::sums};
}

}  // namespace afterload::analysis
