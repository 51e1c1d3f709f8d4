// A USB-TMC device file, played by a pseudo terminal: what blocks, what is cut into messages. The
// kernel's own timeout is not in it; there is no such device here.
#include "instruments/wire/scpi_session.hpp"
#include "tests/instruments/finish.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <atomic>
#include <cstdlib>
#include <fcntl.h>
#include <poll.h>
#include <stdexcept>
#include <string>
#include <termios.h>
#include <thread>
#include <unistd.h>

namespace afterload::instruments {
namespace {

using probe::finish;
using testing::HasSubstr;

/// Answers *IDN? and SYST:ERR?, the first in two pieces; keeps silent to SILENT?.
class Device {
public:
    Device() : master_{posix_openpt(O_RDWR | O_NOCTTY)} {
        if (master_ < 0 || grantpt(master_) != 0 || unlockpt(master_) != 0) {
            throw std::runtime_error("no pseudo terminal");
        }
        path_ = ptsname(master_);  // NOLINT(concurrency-mt-unsafe): one thread still
        slave_ = open(path_.c_str(), O_RDWR | O_NOCTTY);
        termios raw{};
        tcgetattr(slave_, &raw);
        cfmakeraw(&raw);
        tcsetattr(slave_, TCSANOW, &raw);
        thread_ = std::thread{[this] { serve(); }};
    }
    ~Device() {
        over_.store(true);
        thread_.join();
        close(slave_);
        close(master_);
    }
    Device(const Device&) = delete;
    Device& operator=(const Device&) = delete;
    [[nodiscard]] std::string address() const { return "usbtmc:" + path_; }

private:
    void say(const std::string& text) const {
        [[maybe_unused]] const auto sent = write(master_, text.data(), text.size());
    }
    void serve() {
        std::string heard;
        while (!over_.load()) {
            pollfd waiting{master_, POLLIN, 0};
            if (poll(&waiting, 1, 10) <= 0) {
                continue;
            }
            std::array<char, 256> block{};
            const ssize_t got = ::read(master_, block.data(), block.size());
            heard.append(block.data(), got > 0 ? static_cast<std::size_t>(got) : 0);
            for (auto end = heard.find('\n'); end != std::string::npos; end = heard.find('\n')) {
                const std::string line = heard.substr(0, end);
                heard.erase(0, end + 1);
                if (line == "*IDN?") {
                    say("Norrvik,M6,");
                    std::this_thread::sleep_for(std::chrono::milliseconds{20});
                    say("1204,1.0\r\n");
                } else if (line == "SYST:ERR?") {
                    say("0,\"No error\"\n");
                }
            }
        }
    }

    int master_;
    int slave_ = -1;
    std::string path_;
    std::atomic<bool> over_{false};
    std::thread thread_;
};

Task<BenchResult<std::string>> identity(std::string address) {
    auto line = co_await open_line(std::move(address), Seconds{1.0});
    if (!line) {
        co_return tl::unexpected<BenchFailure>(line.error());
    }
    ScpiSettings settings;
    settings.name = "bench meter";
    settings.deadline = Seconds{1.0};
    ScpiSession session{*std::move(line), std::move(settings)};
    auto answer = co_await session.open();
    co_return answer;
}

TEST(UsbtmcLine, TalksThroughTheDeviceFile) {
    const Device device;
    const auto answer = finish(identity(device.address()));
    ASSERT_TRUE(answer) << text(answer.error());
    EXPECT_EQ(*answer, "Norrvik,M6,1204,1.0");
}

Task<BenchResult<std::string>> silent_question(std::string address) {
    auto line = co_await open_line(std::move(address), Seconds{1.0});
    std::string question = "SILENT?";
    const auto sent = co_await (*line)->write(std::move(question), Seconds{0.3});
    if (!sent) {
        co_return tl::unexpected<BenchFailure>(sent.error());
    }
    auto answer = co_await (*line)->read(Seconds{0.3});
    co_return answer;
}

TEST(UsbtmcLine, KeepsItsDeadline) {
    const Device device;
    const auto answer = finish(silent_question(device.address()));
    ASSERT_FALSE(answer);
    EXPECT_EQ(answer.error().kind, BenchFailure::Kind::no_reply);
    EXPECT_NEAR(answer.error().after.in<Seconds>(), 0.3, 0.2);
}

TEST(UsbtmcLine, SaysWhenThereIsNoSuchDevice) {
    const auto answer = finish(identity("usbtmc:/dev/usbtmc-none"));
    ASSERT_FALSE(answer);
    EXPECT_EQ(answer.error().kind, BenchFailure::Kind::lost);
    EXPECT_THAT(text(answer.error()), HasSubstr("/dev/usbtmc-none"));
}

}  // namespace
}  // namespace afterload::instruments
