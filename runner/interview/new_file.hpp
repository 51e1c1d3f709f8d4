/// A file that is written by asking: never over another without a yes, whole or as a draft.
#pragma once

#include "runner/interview/questions.hpp"
#include "runner/options.hpp"
#include "sequences/diagnostic.hpp"

#include <optional>
#include <string>

namespace afterload::runner {

/// What was asked for, as the text of a file.
struct AskedFile {
    std::string text;        ///< empty: nothing was given
    std::string stopped_at;  ///< the question at which the answers ended; empty: all were asked
    std::string told;        ///< what the file holds, in words: "12 rated figures"
    std::string next;        ///< what to do with it next
};

/// May `path` be written? Asks only where something is there. Empty: the answers ended.
[[nodiscard]] std::optional<bool> may_write(Questions& questions, const std::string& path);

/// Why nothing is written where something is there already; gives the exit status.
int refuse_to_overwrite(const OutputOptions& output, const std::string& path);

/// Writes the file and tells so: 0 where it is whole, 3 where it is a draft or nothing was given.
int write_new_file(const AskedFile& file, const std::string& path, const OutputOptions& output);

/// Writes what the program itself would not take: a mistake of its own, but nobody types it twice.
/// Shows the mistakes, and gives the exit status.
int keep_with_mistakes(const AskedFile& file, const std::string& path,
                       const sequences::Diagnostics& mistakes, const OutputOptions& output);

/// The first line of a draft; `stopped_at` is the question at which the answers ended.
[[nodiscard]] std::string draft_line(const std::string& stopped_at);

/// `text` without that line.
[[nodiscard]] std::string without_draft_line(const std::string& text);

}  // namespace afterload::runner
