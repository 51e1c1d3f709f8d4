/// Which kind of file a text is, by its first key.
#pragma once

#include <string_view>

namespace afterload::sequences {

enum class FileKind { rating, bench, sequence, job, rig, daemon, hints };

/// From `afterload: KIND/…`; where that cannot be seen, from the file's name (`x.bench.yaml`); else
/// a rating sheet, whose reader then says what is wrong with the first key. Never fails.
[[nodiscard]] FileKind kind_of(std::string_view text, std::string_view path);

}  // namespace afterload::sequences
