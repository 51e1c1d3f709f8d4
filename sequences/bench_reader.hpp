/// A bench file (`afterload: bench/1`) from its text.
#pragma once

#include "sequences/bench_file.hpp"
#include "sequences/diagnostic.hpp"

#include <tl/expected.hpp>

#include <span>
#include <string>
#include <string_view>

namespace afterload::sequences {

/// Reads a bench file. `known_faults` are the names that a simulated fault may have; none given:
/// any word is taken.
///
/// Fails   with every mistake of the file; never throws. `path` is only named in the mistakes and
///         kept in the result.
[[nodiscard]] tl::expected<BenchFile, Diagnostics> read_bench(
    std::string_view text, std::string path, std::span<const std::string_view> known_faults = {});

}  // namespace afterload::sequences
