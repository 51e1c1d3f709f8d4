/// Records what the unit puts out.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/waveform.hpp"
#include "instruments/async.hpp"
#include "instruments/capture_stream.hpp"
#include "instruments/failure.hpp"

#include <memory>
#include <string>
#include <vector>

namespace afterload::instruments {

/// A record with what the instrument itself noticed while it was made.
struct Captured {
    Record record;
    std::vector<CaptureFault> reported;  ///< overruns the driver counted, with their place
    Seconds started;                     ///< on the bench's clock
};

class Capture {
public:
    Capture() = default;
    Capture(const Capture&) = delete;
    Capture& operator=(const Capture&) = delete;
    virtual ~Capture() = default;

    [[nodiscard]] virtual std::string identity() const = 0;
    [[nodiscard]] virtual SampleRate rate() const = 0;
    /// Records `length` of both sense channels (left, right) from now on, through the range that is
    /// selected. The record carries the calibration of that range.
    [[nodiscard]] virtual Task<BenchResult<Captured>> record(Seconds length) = 0;
    /// Records from now on without an end, through the range that is selected. Fails with `refused`
    /// where the instrument can only record so much and then has to stop, as a digitiser on a wire.
    /// The instrument outlives the stream.
    [[nodiscard]] virtual Task<BenchResult<std::unique_ptr<CaptureStream>>> stream();
};

}  // namespace afterload::instruments
