/// What persons said of a run, kept in its folder: remarks.jsonl, one JSON object a line (schema
/// "afterload/remark/1", runner/papers/schemas/remark.schema.json), only ever added to.
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <string>
#include <vector>

namespace afterload::runner {

inline constexpr const char* remark_file_name = "remarks.jsonl";

/// The longest text a person may say at once, bytes.
inline constexpr std::size_t longest_remark = 4000;

[[nodiscard]] Json remark_json(const Remark& remark);

/// A run's document with what was said of it as "remarks"; the document alone when nothing was.
[[nodiscard]] Json run_with_remarks(const RunDocument& run, const Beside& beside);

/// Adds one line, flushed to the disk when it returns. What stood there stays, also when two add at
/// once; a line that a power cut tore is closed first, so that it cannot swallow this one.
/// Fails, in one line, where the disk does not take it.
[[nodiscard]] tl::expected<void, std::string> add_remark(const RunFolder& folder,
                                                         const Remark& remark);

struct ReadRemarks {
    std::vector<Remark> remarks;
    std::vector<std::string> unreadable;  ///< one line each: "remarks.jsonl:3: ..."
};

/// All of them; none where there is no file. A line that cannot be read is named and skipped.
[[nodiscard]] ReadRemarks read_remarks(const RunFolder& folder);

}  // namespace afterload::runner
