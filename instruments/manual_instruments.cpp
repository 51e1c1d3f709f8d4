#include "instruments/manual_instruments.hpp"

#include "analysis/level.hpp"

#include <algorithm>
#include <utility>

namespace afterload::instruments {

Task<BenchResult<void>> WiredLoads::connect(Ohms /*resistance*/) {
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> WiredLoads::release() {
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> HandLoads::connect(Ohms resistance) {
    if (there_ && same_load(*there_, resistance)) {
        co_return BenchResult<void>{};
    }
    if (!ask_(resistance)) {
        co_return tl::unexpected<BenchFailure>(
            load_refused("loads", resistance, "the person did not"));
    }
    there_ = resistance;
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> HandLoads::release() {
    co_return BenchResult<void>{};
}

HandRanges::HandRanges(std::vector<std::string> ranges, Ask ask)
    : ranges_{std::move(ranges)}, ask_{std::move(ask)}, selected_{ranges_.front()} {}

Task<BenchResult<void>> HandRanges::select(std::string range) {
    if (range == selected_) {
        co_return BenchResult<void>{};
    }
    const bool known = std::find(ranges_.begin(), ranges_.end(), range) != ranges_.end();
    if (!known || !ask_(range)) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, "ranges", "select “" + range + "”",
                         known ? "the person did not" : "there is no such range", Seconds{0.0}});
    }
    selected_ = std::move(range);
    co_return BenchResult<void>{};
}

}  // namespace afterload::instruments
