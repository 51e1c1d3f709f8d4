// The guardian's own process beside peers that write down what they hear.
#include "instruments/guard/guard.hpp"

#include "instruments/guard/guard_message.hpp"
#include "instruments/guard/runtime_folder.hpp"
#include "instruments/steady_clock.hpp"
#include "instruments/wire/scpi_session.hpp"
#include "tests/instruments/finish.hpp"
#include "tests/instruments/scripted_peer.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <memory>
#include <mutex>
#include <random>
#include <string>
#include <unistd.h>
#include <vector>

namespace afterload::instruments {
namespace {

using probe::finish;
using test::ScriptedPeer;
using testing::HasSubstr;

TEST(GuardMessage, ComesBackAsItWent) {
    const GuardRequest request{7, "write", 2, Seconds{0.5}, "VOLT 1.5\tV %41 \xc2\xb5\n"};
    std::string line = written(request);
    EXPECT_EQ(std::count(line.begin(), line.end(), '\n'), 1);
    line.pop_back();
    const auto again = guard_request(line);
    ASSERT_TRUE(again);
    EXPECT_EQ(again->id, 7U);
    EXPECT_EQ(again->verb, "write");
    EXPECT_EQ(again->line, 2);
    EXPECT_EQ(again->text, request.text);

    std::string reply = written(GuardReply{9, std::string{"a b"}});
    reply.pop_back();
    EXPECT_EQ(guard_reply(reply)->result.value(), "a b");
    BenchFailure why{BenchFailure::Kind::refused, "", "", "no: not now", Seconds{0.25}};
    reply = written(GuardReply{9, tl::unexpected(why)});
    reply.pop_back();
    const auto failed = guard_reply(reply);
    ASSERT_TRUE(failed);
    EXPECT_EQ(failed->result.error().kind, BenchFailure::Kind::refused);
    EXPECT_EQ(failed->result.error().answered, "no: not now");
}

TEST(GuardMessage, AnyBytesAreReadOrRefused) {
    std::mt19937 engine{31};
    const std::string common = "0123456789 okfailwrite%.\t\n-";
    for (int draw = 0; draw < 20000; ++draw) {
        std::string text;
        for (auto i = engine() % 40; i > 0; --i) {
            text += engine() % 4 == 0 ? static_cast<char>(engine() % 256)
                                      : common[engine() % common.size()];
        }
        (void)guard_request(text);
        (void)guard_reply(text);
        EXPECT_EQ(out_of_one_line(in_one_line(text)), text);
    }
}

TEST(LockInstrument, IsHeldByOneUntilItIsLetGo) {
    const std::string identity = "Afterload,Test," + std::to_string(::getpid()) + ",1";
    const int first = lock_instrument(identity);
    ASSERT_GE(first, 0);
    EXPECT_EQ(lock_instrument(identity), -1);
    ::close(first);
    const int again = lock_instrument(identity);
    EXPECT_GE(again, 0);
    ::close(again);
}

/// What a peer heard, in order; it answers queries with `answer`.
class Heard {
public:
    explicit Heard(std::string answer = "0")
        : peer_{[this, answer](const std::string& line, const ScriptedPeer& peer) {
              const std::lock_guard<std::mutex> lock{mutex_};
              lines_.push_back(line);
              if (line.find('?') != std::string::npos) {
                  peer.say(answer + "\n");
              }
              return true;
          }} {}
    [[nodiscard]] std::string address() const { return peer_.address(); }
    [[nodiscard]] std::vector<std::string> lines() {
        const std::lock_guard<std::mutex> lock{mutex_};
        return lines_;
    }
    [[nodiscard]] long count(const std::string& wanted) {
        const auto all = lines();
        return std::count(all.begin(), all.end(), wanted);
    }

private:
    std::mutex mutex_;
    std::vector<std::string> lines_;
    ScriptedPeer peer_;
};

Task<void> rest(Seconds time) {
    SteadyClock clock;
    co_await clock.sleep(time);
}

Task<void> with_contactor(std::string address, Seconds time) {
    std::string program = AFTERLOAD_GUARDIAN;
    const auto guard = co_await Guard::start(std::move(program), Seconds{0.5});
    if (!guard) {
        throw std::runtime_error(text(guard.error()));
    }
    auto line = co_await (*guard)->open(std::move(address), Seconds{1.0});
    if (!line) {
        throw std::runtime_error(text(line.error()));
    }
    std::string refresh = "KEEP";
    std::string release = "DROP";
    const auto held =
        co_await (*line)->keep_refreshed(std::move(refresh), std::move(release), Seconds{0.05});
    if (!held) {
        throw std::runtime_error(text(held.error()));
    }
    co_await rest(time);
}

TEST(Guardian, HoldsAContactorWhileTheProgramLivesAndLetsItGoAfterwards) {
    Heard contactor;
    finish(with_contactor(contactor.address(), Seconds{0.6}));
    EXPECT_GE(contactor.count("KEEP"), 8);
    EXPECT_LE(contactor.count("KEEP"), 14);
    ASSERT_FALSE(contactor.lines().empty());
    EXPECT_EQ(contactor.lines().back(), "DROP");
}

Task<void> kept_safe_in_order(std::string source, std::string relays) {
    std::string program = AFTERLOAD_GUARDIAN;
    const auto guard = co_await Guard::start(std::move(program), Seconds{0.5});
    std::vector<std::unique_ptr<GuardedLine>> lines;
    for (const std::string& address : {source, relays}) {
        std::string copy = address;
        auto line = co_await (*guard)->open(std::move(copy), Seconds{1.0});
        if (!line) {
            throw std::runtime_error(text(line.error()));
        }
        SafeCommand command{"instrument", address, "OFF", "OFF?"};
        const auto kept = co_await (*line)->keep_safe(std::move(command));
        if (!kept) {
            throw std::runtime_error(text(kept.error()));
        }
        lines.push_back(*std::move(line));
    }
}

TEST(Guardian, AsksEachInstrumentWhetherItIsOff) {
    Heard source;
    Heard relays;
    finish(kept_safe_in_order(source.address(), relays.address()));
    EXPECT_THAT(source.lines(), testing::ElementsAre("OFF", "OFF?"));
    EXPECT_THAT(relays.lines(), testing::ElementsAre("OFF", "OFF?"));
}

Task<std::string> opened_twice(std::string address) {
    std::string program = AFTERLOAD_GUARDIAN;
    const auto first = co_await Guard::start(std::move(program), Seconds{0.5});
    program = AFTERLOAD_GUARDIAN;
    const auto second = co_await Guard::start(std::move(program), Seconds{0.5});
    std::string copy = address;
    const auto one = co_await (*first)->open(std::move(copy), Seconds{1.0});
    const auto other = co_await (*second)->open(std::move(address), Seconds{1.0});
    if (!one || other) {
        throw std::runtime_error("the second was let in");
    }
    co_return text(other.error());
}

TEST(Guardian, LetsOneProgramAtATimeDriveAnInstrument) {
    Heard peer;
    EXPECT_THAT(finish(opened_twice(peer.address())), HasSubstr("another program"));
}

}  // namespace
}  // namespace afterload::instruments
