#include "runner/daemon/desk_bench.hpp"

#include "runner/input_file.hpp"
#include "runner/known_faults.hpp"
#include "sequences/bench_reader.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::runner {

tl::expected<DeskBench, std::string> read_desk_bench(const std::string& path) {
    if (path.empty()) {
        return tl::unexpected(std::string{
            "no bench is named: write bench: FILE in the daemon's settings, then reload it"});
    }
    auto text = read_input(path);
    if (!text) {
        return tl::unexpected(std::move(text.error()));
    }
    auto file = sequences::read_bench(*text, path, known_faults());
    if (!file) {
        const sequences::Mistake& first = file.error().mistakes.front();
        return tl::unexpected(fmt::format("{}:{}:{}: {}; `afterload check` shows all mistakes",
                                          path, first.place.line, first.place.column, first.what));
    }
    return DeskBench{{"bench", path, *std::move(text)}, *std::move(file)};
}

}  // namespace afterload::runner
