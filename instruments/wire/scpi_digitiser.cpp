#include "instruments/wire/scpi_digitiser.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace afterload::instruments {
namespace {

constexpr std::int64_t frames_a_line = 150;  // below longest_line for 32 bits
constexpr Seconds longest_record{600.0};
constexpr Seconds look{0.03};

/// Whole numbers with commas between; nothing where there is anything else.
std::optional<std::vector<std::int32_t>> whole_numbers(std::string_view text) {
    std::vector<std::int32_t> numbers;
    const char* at = text.data();
    const char* const end = text.data() + text.size();
    while (at != end) {
        std::int32_t number = 0;
        const auto [stopped, error] = std::from_chars(at, end, number);
        if (error != std::errc{} || (stopped != end && *stopped != ',')) {
            return std::nullopt;
        }
        numbers.push_back(number);
        at = stopped == end ? end : stopped + 1;
    }
    return numbers;
}

}  // namespace

Task<BenchResult<std::unique_ptr<ScpiDigitiser>>> ScpiDigitiser::open(
    std::shared_ptr<ScpiSession> session, SampleRate rate, Clock& clock, const RangeSwitch& ranges,
    FullScale full_scale) {
    std::string question = "TRAC:RATE?";
    const auto hertz = co_await session->number(std::move(question));
    if (!hertz) {
        co_return tl::unexpected<BenchFailure>(hertz.error());
    }
    question = "TRAC:BITS?";
    const auto bits = co_await session->number(std::move(question));
    if (!bits) {
        co_return tl::unexpected<BenchFailure>(bits.error());
    }
    const double wanted = rate.frequency().in<Hertz>();
    if (std::abs(*hertz - wanted) > 1e-6 * wanted || !(*bits >= 16.0 && *bits <= 32.0)) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::wrong_reply, session->name(), "TRAC:RATE?",
                         fmt::format("it records {:g} Hz in {:g} bits; the bench file says {:g} Hz",
                                     *hertz, *bits, wanted),
                         Seconds{0.0}});
    }
    co_return std::unique_ptr<ScpiDigitiser>{new ScpiDigitiser{
        std::move(session), rate, static_cast<int>(*bits), clock, ranges, std::move(full_scale)}};
}

Task<BenchResult<void>> ScpiDigitiser::wait_for(std::int64_t frames, Seconds length) {
    const Seconds begun = clock_.now();
    while (true) {
        std::string question = "TRAC:POIN?";
        const auto so_far = co_await session_->number(std::move(question));
        if (!so_far) {
            co_return tl::unexpected<BenchFailure>(so_far.error());
        }
        if (*so_far >= static_cast<double>(frames)) {
            co_return BenchResult<void>{};
        }
        const Seconds waited = clock_.now() - begun;
        if (waited > 1.1 * length + Seconds{2.0}) {
            co_return tl::unexpected<BenchFailure>(BenchFailure{
                BenchFailure::Kind::no_reply, session_->name(), "record",
                fmt::format("only {:.0f} of {} frames came", *so_far, frames), waited});
        }
        co_await clock_.sleep(look);
    }
}

Task<BenchResult<void>> ScpiDigitiser::fetch(std::int64_t first, std::int64_t count, Record& into) {
    const std::string question = fmt::format("TRAC:DATA? {},{}", first, count);
    const auto answer = co_await session_->query(question);
    if (!answer) {
        co_return tl::unexpected<BenchFailure>(answer.error());
    }
    const auto numbers = whole_numbers(*answer);
    if (!numbers || static_cast<std::int64_t>(numbers->size()) != 2 * count) {
        co_return tl::unexpected<BenchFailure>(BenchFailure{
            BenchFailure::Kind::wrong_reply, session_->name(), question,
            fmt::format("not {} whole numbers: “{}”", 2 * count, shown(*answer)), Seconds{0.0}});
    }
    for (std::size_t i = 0; i < numbers->size(); ++i) {
        into.channels[i % 2].push_back((*numbers)[i]);
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<Captured>> ScpiDigitiser::record(Seconds length) {
    if (!(length > Seconds{0.0} && length <= longest_record)) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, session_->name(), "record",
                         "a record lasts more than 0 and at most 10 minutes", Seconds{0.0}});
    }
    const std::int64_t frames = frames_in(length, rate_).count();
    Captured captured;
    captured.started = clock_.now();
    for (std::string command : {fmt::format("TRAC:POIN {}", frames), std::string{"INIT"}}) {
        const auto told = co_await session_->command(std::move(command));
        if (!told) {
            co_return tl::unexpected<BenchFailure>(told.error());
        }
    }
    const auto there = co_await wait_for(frames, length);
    if (!there) {
        co_return tl::unexpected<BenchFailure>(there.error());
    }
    captured.record.rate = rate_;
    captured.record.bits = bits_;
    captured.record.channels.resize(2);
    for (std::int64_t first = 0; first < frames; first += frames_a_line) {
        const std::int64_t count = std::min(frames_a_line, frames - first);
        const auto fetched = co_await fetch(first, count, captured.record);
        if (!fetched) {
            co_return tl::unexpected<BenchFailure>(fetched.error());
        }
    }
    const VoltsPeak full_scale = full_scale_(ranges_.selected());
    captured.record.calibration = {{"left", full_scale}, {"right", full_scale}};
    co_return captured;
}

}  // namespace afterload::instruments
