/// A run as it is handed to the daemon: the texts of all its files, as JSON (schema
/// "afterload/submission/1", runner/papers/schemas/submission.schema.json).
///
/// The daemon opens no path that a client names; the paths in here are only shown.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/run_inputs.hpp"

#include <tl/expected.hpp>

#include <cstddef>
#include <string>
#include <string_view>

namespace afterload::runner {

inline constexpr std::string_view submission_schema = "afterload/submission/1";
/// Of a sound file that a soak plays, in bytes: over a minute of stereo WAV, several of FLAC.
inline constexpr std::size_t longest_sound = std::size_t{16} << 20U;

struct Submission {
    RunRequest request;           ///< without a bench: that is the daemon's own
    bool assume_prompts = false;  ///< simulated benches only
};

[[nodiscard]] Json submission_json(const Submission& submission);

/// Fails, in one line with the place, on what is no submission: torn text, a role that is not known
/// or stands twice (a sound file may be one of several), no sequence or no rating, a file over 1
/// MiB, a sound file over `longest_sound` or with bytes that are no base64.
[[nodiscard]] tl::expected<Submission, std::string> read_submission(std::string_view text);

}  // namespace afterload::runner
