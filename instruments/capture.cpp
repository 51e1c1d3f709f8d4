#include "instruments/capture.hpp"

namespace afterload::instruments {

Task<BenchResult<std::unique_ptr<CaptureStream>>> Capture::stream() {
    co_return tl::unexpected<BenchFailure>(
        BenchFailure{BenchFailure::Kind::refused, identity(), "record without an end",
                     "it records a stretch and stops: a soak needs a sound card", Seconds{0.0}});
}

}  // namespace afterload::instruments
