#include "instruments/wire/scpi_instruments.hpp"

#include "analysis/level.hpp"
#include "instruments/playable.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>
#include <set>
#include <string_view>
#include <utility>

namespace afterload::instruments {

std::string filled(std::string text, std::string_view hole, const std::string& value) {
    for (auto at = text.find(hole); at != std::string::npos; at = text.find(hole, at)) {
        text.replace(at, hole.size(), value);
        at += value.size();
    }
    return text;
}

namespace {

std::string with_number(const std::string& text, double value) {
    return filled(text, "{}", fmt::format("{:.9g}", value));
}

/// What was told to be on, or to move, is asked whether it did: 0 or 1. `otherwise` is what it says
/// where it did not.
Task<BenchResult<void>> confirm(ScpiSession& session, std::string question, bool wanted,
                                std::string asked, std::string_view otherwise) {
    const auto state = co_await session.number(std::move(question));
    if (!state) {
        co_return tl::unexpected<BenchFailure>(state.error());
    }
    if ((*state != 0.0) != wanted) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::wrong_reply, session.name(), std::move(asked),
                         fmt::format("it says that {}", otherwise), Seconds{0.0}});
    }
    co_return BenchResult<void>{};
}

}  // namespace

Task<BenchResult<void>> ScpiSource::play(Stimulus stimulus) {
    if (stimulus.silent()) {
        auto muted = co_await mute();
        co_return muted;
    }
    if (auto why = generator_cannot_play(stimulus, full_scale_, session_->name())) {
        co_return tl::unexpected<BenchFailure>(std::move(*why));
    }
    const Partial sine = stimulus.channels[0][0];
    const double volts = rms_of_sine(sine.amplitude).in<VoltsRms>();
    for (std::string text : {with_number(texts_.frequency, sine.frequency.in<Hertz>()),
                             with_number(texts_.level, volts), texts_.on}) {
        auto done = co_await session_->command(std::move(text));
        if (!done) {
            co_return done;
        }
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> ScpiSource::mute() {
    auto off = co_await session_->command(texts_.off);
    if (!off) {
        co_return off;
    }
    std::string question = texts_.is_on;
    std::string asked = texts_.off;
    auto silent = co_await confirm(*session_, std::move(question), false, std::move(asked),
                                   "its output is still on");
    co_return silent;
}

Task<BenchResult<MeterReading>> ScpiMeter::read(MeterQuantity quantity, Channels channel) {
    const auto found = readings_.find(quantity);
    if (found == readings_.end()) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, session_->name(),
                         "read " + std::string{instruments::name(quantity)},
                         "the bench file says no command for that", Seconds{0.0}});
    }
    const ScpiReading& reading = found->second;
    std::string question =
        filled(reading.question, "{channel}", channel == Channels::right ? "2" : "1");
    const auto number = co_await session_->number(std::move(question));
    if (!number) {
        co_return tl::unexpected<BenchFailure>(number.error());
    }
    MeterReading out;
    out.value = *number;
    out.u_k1 = std::hypot(reading.u_relative * *number, reading.u_absolute);
    out.source = session_->name();
    co_return out;
}

Task<BenchResult<void>> set_route(ScpiSession& session, const ScpiRoutes& routes, int relay,
                                  bool closed) {
    const std::string number = std::to_string(relay);
    std::string text = filled(closed ? routes.close : routes.open, "{}", number);
    auto told = co_await session.command(std::move(text));
    if (!told) {
        co_return told;
    }
    std::string question = filled(routes.is_closed, "{}", number);
    std::string asked = fmt::format("{} relay {}", closed ? "close" : "open", relay);
    auto moved = co_await confirm(session, std::move(question), closed, std::move(asked),
                                  closed ? "it is open" : "it is closed");
    co_return moved;
}

Task<BenchResult<void>> RoutedGenerator::play(Stimulus stimulus) {
    if (!stimulus.silent() && !routed_) {
        auto closed = co_await set_route(*relays_, routes_, relay_, true);
        if (!closed) {
            co_return closed;
        }
        routed_ = true;
    }
    auto played = co_await generator_->play(std::move(stimulus));
    co_return played;
}

Task<BenchResult<void>> RoutedGenerator::mute() {
    auto muted = co_await generator_->mute();
    if (!muted) {
        co_return muted;
    }
    auto opened = co_await set_route(*relays_, routes_, relay_, false);
    routed_ = routed_ && !opened;
    co_return opened;
}

Task<BenchResult<void>> ScpiLoads::connect(Ohms resistance) {
    std::set<int> wanted;
    for (const auto& [of, relay] : routes_.loads) {
        if (same_load(of, resistance)) {
            wanted.insert(relay);
        }
    }
    if (wanted.empty()) {
        co_return tl::unexpected<BenchFailure>(load_refused(session_->name(), resistance));
    }
    std::set<int> kept = wanted;
    auto opened = co_await open_all_but(std::move(kept));
    if (!opened) {
        co_return opened;
    }
    for (const int relay : wanted) {
        auto closed = co_await set_route(*session_, routes_, relay, true);
        if (!closed) {
            co_return closed;
        }
    }
    connected_ = true;
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> ScpiLoads::release() {
    std::set<int> none;
    auto opened = co_await open_all_but(std::move(none));
    connected_ = connected_ && !opened;
    co_return opened;
}

Task<BenchResult<void>> ScpiLoads::open_all_but(std::set<int> kept) {
    std::set<int> done = std::move(kept);  // a relay may connect the loads of both channels
    for (const auto& [of, relay] : routes_.loads) {
        if (!done.insert(relay).second) {
            continue;
        }
        auto opened = co_await set_route(*session_, routes_, relay, false);
        if (!opened) {
            co_return opened;
        }
    }
    co_return BenchResult<void>{};
}

std::string ScpiProgrammableLoads::identity() const {
    std::string names;
    for (const Channel& channel : channels_) {
        const std::string one = channel.session->identity();
        if (names.find(one) == std::string::npos) {
            names += (names.empty() ? "" : "; ") + one;
        }
    }
    return names;
}

Task<BenchResult<void>> ScpiProgrammableLoads::connect(Ohms resistance) {
    auto off = co_await release();
    if (!off) {
        co_return off;
    }
    for (const Channel& channel : channels_) {
        for (std::string text :
             {with_number(channel.texts.resistance, resistance.in<Ohms>()), channel.texts.on}) {
            auto done = co_await channel.session->command(std::move(text));
            if (!done) {
                co_return done;
            }
        }
        std::string question = channel.texts.is_on;
        std::string asked = "turn its input on";
        auto is_on = co_await confirm(*channel.session, std::move(question), true, std::move(asked),
                                      "it is off");
        if (!is_on) {
            co_return is_on;
        }
    }
    connected_ = true;
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> ScpiProgrammableLoads::release() {
    for (const Channel& channel : channels_) {
        std::string text = channel.texts.off;
        auto done = co_await channel.session->command(std::move(text));
        if (!done) {
            co_return done;
        }
        std::string question = channel.texts.is_on;
        std::string asked = "turn its input off";
        auto is_off = co_await confirm(*channel.session, std::move(question), false,
                                       std::move(asked), "it is on");
        if (!is_off) {
            co_return is_off;
        }
    }
    connected_ = false;
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> ScpiRanges::select(std::string range) {
    const auto wanted = routes_.ranges.find(range);
    if (wanted == routes_.ranges.end()) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, session_->name(), "select “" + range + "”",
                         "there is no such range", Seconds{0.0}});
    }
    // Break before make: two dividers at once would be a third.
    for (const auto& [name, relay] : routes_.ranges) {
        if (name != range) {
            auto opened = co_await set_route(*session_, routes_, relay, false);
            if (!opened) {
                co_return opened;
            }
        }
    }
    auto closed = co_await set_route(*session_, routes_, wanted->second, true);
    if (closed) {
        selected_ = std::move(range);
    }
    co_return closed;
}

}  // namespace afterload::instruments
