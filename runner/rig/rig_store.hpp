/// The bench file with what calibration and rig check found laid over it, and the file where that
/// is kept.
#pragma once

#include "runner/mistakes.hpp"
#include "sequences/bench_file.hpp"
#include "sequences/rig_file.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace afterload::runner {

/// The rig file of a bench: where `rig:` says, from the bench file's folder; without that,
/// "north.rig.yaml" beside "north.bench.yaml".
[[nodiscard]] std::string rig_path(const sequences::BenchFile& bench);

/// A rig file that was read; `text` as it stood.
struct StoredRig {
    sequences::RigFile rig;
    std::string path;
    std::string text;
};
/// Empty where there is none yet. Mistakes where it is no rig file, or is another bench's.
[[nodiscard]] tl::expected<std::optional<StoredRig>, sequences::Diagnostics> stored_rig(
    const sequences::BenchFile& bench);

/// Writes it, durably. Fails in one line.
[[nodiscard]] tl::expected<void, std::string> store_rig(const std::string& path,
                                                        const sequences::RigFile& rig);

/// How the mixer of the bench's card stands now; empty for a card without one.
[[nodiscard]] std::vector<sequences::MixerControl> mixer_now(const sequences::BenchFile& bench);

/// What age says of calibration (a year) and rig check (12 hours): a line each, where there is
/// anything to say. `now` as RFC 3339.
[[nodiscard]] std::vector<std::string> age_notes(const sequences::BenchFile& bench,
                                                 const std::string& now);

}  // namespace afterload::runner
