/// How the sample loops of the simulated bench become wide instructions.
///
/// A function marked AFTERLOAD_WIDE is built twice, for any x86-64 and for one with 256-bit
/// vectors, and the better one is chosen when the program starts. Neither fuses a multiplication
/// with an addition, so both give the same bits. Elsewhere, and under the sanitizers (which cannot
/// instrument the choice), it is built once.
#pragma once

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define AFTERLOAD_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define AFTERLOAD_WIDE
#endif

namespace afterload::instruments {

/// Four doubles side by side: two frames of two channels.
using Wide [[gnu::vector_size(32)]] = double;

}  // namespace afterload::instruments
