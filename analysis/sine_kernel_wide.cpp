// Compiled for AVX2 without FMA (analysis/CMakeLists.txt), and called only where that is there.
#include "analysis/sine_loops.hpp"

namespace afterload::analysis {

const SineKernel& wide_sine_kernel() {
    return loops<4>;
}

}  // namespace afterload::analysis
