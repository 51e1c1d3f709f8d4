#include "instruments/card/sound_card.hpp"

#include "instruments/card/card_capture_stream.hpp"
#include "instruments/playable.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr Seconds look{0.004};            // between two looks at the stream
constexpr Seconds longest_arrival{1.0};   // beyond it the card's own delays are not to be believed
constexpr Seconds lead{0.05};             // before the arrival that the card's delays promise
constexpr double longest_record = 600.0;  // held in memory

std::string seconds_text(Seconds time) {
    return fmt::format("{:.4g} s", time.in<Seconds>());
}

/// A count of frames that the clock does not bear out. Blocks come in as they like, so that some
/// time must be missing before it means something.
std::optional<CaptureFault> clock_fault(const CardRecording& recording, SampleRate rate,
                                        bool stand_in) {
    const double frames = static_cast<double>(recording.frames);
    const double counted = frames / rate.frequency().in<Hertz>();
    const double passed = (recording.ended - recording.began).in<Seconds>();
    const double slack = (stand_in ? 0.15 : 0.03) + 0.002 * counted;
    if (std::abs(passed - counted) <= slack) {
        return std::nullopt;
    }
    CaptureFault fault;
    fault.kind = passed > counted ? CaptureFaultKind::gap : CaptureFaultKind::wrong_rate;
    fault.note = fmt::format(
        "{:.3f} s of frames came in {:.3f} s of the clock: {}", counted, passed,
        passed > counted ? "the card stood still in between" : "it runs faster than it says");
    return fault;
}

}  // namespace

std::string CardSource::identity() const {
    return card_.name;
}

Task<BenchResult<void>> CardSource::arrived(std::string asked) {
    const Seconds since = clock_.now();
    const std::int64_t faded =
        card_.arrival + frames_in(Seconds{0.005}, card_.stream->rate()).count();
    while (card_.stream->captured() < faded) {
        if (auto failure = card_.stream->failure()) {
            failure->asked = asked;
            co_return tl::unexpected<BenchFailure>(std::move(*failure));
        }
        const Seconds waited = clock_.now() - since;
        if (waited > longest_arrival) {
            co_return tl::unexpected<BenchFailure>(BenchFailure{
                BenchFailure::Kind::no_reply, identity(), asked,
                fmt::format(
                    "it did not come back in time; the card says that its way takes {}",
                    seconds_text(duration(Frames{card_.stream->latency()}, card_.stream->rate()))),
                waited});
        }
        co_await clock_.sleep(look);
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> CardSource::play(Stimulus stimulus) {
    if (auto why = cannot_play(stimulus, card_.stream->rate(), card_.full_scale, identity())) {
        co_return tl::unexpected<BenchFailure>(std::move(*why));
    }
    if (auto failure = card_.stream->failure()) {
        failure->asked = "play";
        co_return tl::unexpected<BenchFailure>(std::move(*failure));
    }
    Stimulus ending = stimulus;
    ending.channels = {};
    ending.loop.reset();
    card_.passing = !ending.silent();
    card_.arrival = card_.stream->play(std::move(stimulus));
    if (card_.passing) {
        co_return BenchResult<void>{};
    }
    std::string asked = "play";
    auto done = co_await arrived(std::move(asked));
    co_return done;
}

Task<BenchResult<void>> CardSource::mute() {
    card_.passing = false;
    card_.arrival = card_.stream->play(silence());
    std::string asked = "mute";
    auto done = co_await arrived(std::move(asked));
    co_return done;
}

std::string CardCapture::identity() const {
    return card_.name;
}

Task<BenchResult<std::unique_ptr<CaptureStream>>> CardCapture::stream() {
    if (auto failure = card_.stream->failure()) {
        failure->asked = "record without an end";
        co_return tl::unexpected<BenchFailure>(std::move(*failure));
    }
    const VoltsPeak full_scale = full_scale_(ranges_.selected());
    std::vector<ChannelCalibration> calibration{{"left", full_scale}, {"right", full_scale}};
    BenchResult<std::unique_ptr<CaptureStream>> opened{
        std::make_unique<CardCaptureStream>(card_, clock_, std::move(calibration))};
    co_return opened;
}

Task<BenchResult<Captured>> CardCapture::record(Seconds length) {
    const std::string asked = "record " + seconds_text(length);
    if (!(length > Seconds{0.0} && length.in<Seconds>() <= longest_record)) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, identity(), asked,
                         "a record lasts more than 0 and at most 10 minutes", Seconds{0.0}});
    }
    CardStream& stream = *card_.stream;
    const SampleRate rate = stream.rate();
    std::int64_t first = stream.captured();
    Seconds longer = length;
    if (card_.passing) {
        first = std::max(first, card_.arrival - frames_in(lead, rate).count());
        longer += 2.0 * lead;
    }
    Captured captured;
    captured.started = clock_.now();
    const std::shared_ptr<CardRecording> recording =
        stream.record(first, static_cast<std::size_t>(frames_in(longer, rate).count()));
    const Seconds due =
        captured.started + longer + duration(Frames{first - stream.captured()}, rate);
    while (!recording->done.load()) {
        if (auto failure = stream.failure()) {
            failure->asked = asked;
            co_return tl::unexpected<BenchFailure>(std::move(*failure));
        }
        if (clock_.now() > due + Seconds{3.0}) {
            co_return tl::unexpected<BenchFailure>(
                BenchFailure{BenchFailure::Kind::no_reply, identity(), asked,
                             fmt::format("only {} of {} frames came in",
                                         stream.captured() - recording->first, recording->frames),
                             clock_.now() - captured.started});
        }
        co_await clock_.sleep(look);
    }
    captured.record.rate = rate;
    captured.record.bits = stream.bits();
    captured.record.channels = std::move(recording->channels);
    const VoltsPeak full_scale = full_scale_(ranges_.selected());
    captured.record.calibration = {{"left", full_scale}, {"right", full_scale}};
    captured.reported = std::move(recording->faults);
    if (auto fault = clock_fault(*recording, rate, card_.stand_in)) {
        captured.reported.push_back(std::move(*fault));
    }
    co_return captured;
}

}  // namespace afterload::instruments
