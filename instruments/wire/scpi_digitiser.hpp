/// A digitiser on a wire: it records both channels when it is told to and hands the samples over as
/// whole numbers.
///
///     TRACe:RATE?    TRACe:BITS?          what it records with
///     TRACe:POINts N    INITiate          record N frames from now on
///     TRACe:POINts?                       frames that have come so far
///     TRACe:DATA? FIRST,COUNT             left and right of each frame, with commas between
#pragma once

#include "instruments/capture.hpp"
#include "instruments/clock.hpp"
#include "instruments/range_switch.hpp"
#include "instruments/wire/scpi_session.hpp"

#include <functional>
#include <memory>
#include <string>

namespace afterload::instruments {

class ScpiDigitiser final : public Capture {
public:
    using FullScale = std::function<VoltsPeak(const std::string& range)>;

    /// Asks for rate and bits. Fails with `wrong_reply` where they are none, or not `rate`.
    [[nodiscard]] static Task<BenchResult<std::unique_ptr<ScpiDigitiser>>> open(
        std::shared_ptr<ScpiSession> session, SampleRate rate, Clock& clock,
        const RangeSwitch& ranges, FullScale full_scale);

    [[nodiscard]] std::string identity() const override { return session_->identity(); }
    [[nodiscard]] SampleRate rate() const override { return rate_; }
    /// At most ten minutes.
    [[nodiscard]] Task<BenchResult<Captured>> record(Seconds length) override;

private:
    ScpiDigitiser(std::shared_ptr<ScpiSession> session, SampleRate rate, int bits, Clock& clock,
                  const RangeSwitch& ranges, FullScale full_scale)
        : session_{std::move(session)},
          rate_{rate},
          bits_{bits},
          clock_{clock},
          ranges_{ranges},
          full_scale_{std::move(full_scale)} {}
    [[nodiscard]] Task<BenchResult<void>> wait_for(std::int64_t frames, Seconds length);
    [[nodiscard]] Task<BenchResult<void>> fetch(std::int64_t first, std::int64_t count,
                                                Record& into);

    std::shared_ptr<ScpiSession> session_;
    SampleRate rate_;
    int bits_;
    Clock& clock_;
    const RangeSwitch& ranges_;
    FullScale full_scale_;
};

}  // namespace afterload::instruments
