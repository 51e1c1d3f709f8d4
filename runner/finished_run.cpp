#include "runner/finished_run.hpp"

#include "runner/papers/run_json.hpp"

namespace afterload::runner {

tl::expected<FinishedRun, std::string> read_finished_run(const std::string& path) {
    auto folder = RunFolder::open(path);
    if (!folder) {
        return tl::unexpected(folder.error());
    }
    const auto text = folder->read("run.json");
    if (!text) {
        return tl::unexpected(text.error());
    }
    auto document = read_run_json(*text);
    if (!document) {
        return tl::unexpected(path + "/run.json: " + document.error());
    }
    return FinishedRun{*std::move(folder), *std::move(document)};
}

}  // namespace afterload::runner
