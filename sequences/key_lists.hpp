/// The keys that each reader knows, for the test that holds the JSON Schemas against the readers.
#pragma once

#include "sequences/reading.hpp"

#include <vector>

namespace afterload::sequences {

[[nodiscard]] std::vector<KeyList> rating_key_lists();
[[nodiscard]] std::vector<KeyList> bench_key_lists();
[[nodiscard]] std::vector<KeyList> sequence_key_lists();
[[nodiscard]] std::vector<KeyList> job_key_lists();
[[nodiscard]] std::vector<KeyList> daemon_key_lists();
[[nodiscard]] std::vector<KeyList> hint_key_lists();

}  // namespace afterload::sequences
