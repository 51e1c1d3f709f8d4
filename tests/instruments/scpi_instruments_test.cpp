// Source, meter and relays on a wire, against the simulated ones that the program serves (which
// other people's clients prove, tests/outside/wire_test.py).
#include "instruments/wire/scpi_instruments.hpp"

#include "instruments/wire/served_bench.hpp"
#include "tests/instruments/finish.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <exception>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace afterload::instruments {
namespace {

using namespace afterload::literals;
using testing::ElementsAre;
using testing::HasSubstr;

/// The served bench on a thread of its own, and what it noticed.
class Served {
public:
    Served() {
        simulation_.source_full_scale = VoltsPeak{2.83};
        simulation_.ranges = {{"high", VoltsPeak{50.0}, VoltsPeak{60.0}, {0.0, 0.0}},
                              {"low", VoltsPeak{4.5}, VoltsPeak{60.0}, {0.0, 0.0}}};
        SimulatedLoad four;
        four.nominal = Ohms{4.0};
        simulation_.other_loads = {{four, four}};
        bench_ = std::make_unique<ServedBench>(simulation_, std::array<std::uint16_t, 5>{},
                                               [this](Seconds, const std::string& what) {
                                                   const std::lock_guard lock{mutex_};
                                                   noticed_.push_back(what);
                                               });
        const auto rethrow = [](const std::exception_ptr& error) {
            if (error) {
                std::rethrow_exception(error);
            }
        };
        boost::asio::co_spawn(context_, bench_->serve(), rethrow);
        thread_ = std::thread{[this] { context_.run(); }};
    }
    Served(const Served&) = delete;
    Served& operator=(const Served&) = delete;
    ~Served() {
        context_.stop();
        thread_.join();
    }
    [[nodiscard]] std::string address(std::size_t which) const {
        return "tcp://127.0.0.1:" + std::to_string(bench_->ports()[which]);
    }
    [[nodiscard]] std::vector<std::string> noticed() const {
        const std::lock_guard lock{mutex_};
        return noticed_;
    }

private:
    Simulation simulation_;
    boost::asio::io_context context_{1};
    std::unique_ptr<ServedBench> bench_;
    mutable std::mutex mutex_;
    std::vector<std::string> noticed_;
    std::thread thread_;
};

Task<std::unique_ptr<ScpiSession>> session(std::string address, std::string name) {
    auto line = co_await open_line(std::move(address), Seconds{1.0});
    EXPECT_TRUE(line);
    ScpiSettings settings;
    settings.name = std::move(name);
    settings.deadline = Seconds{1.0};
    auto made = std::make_unique<ScpiSession>(*std::move(line), std::move(settings));
    const auto opened = co_await made->open();
    EXPECT_TRUE(opened);
    co_return made;
}

std::string failed(const BenchResult<void>& result) {
    return result ? "no failure" : text(result.error());
}

Task<int> drive(std::string address, std::vector<std::string>& said) {
    auto talk = co_await session(std::move(address), "bench generator");
    ScpiSource source{std::move(talk), VoltsPeak{2.0}, ScpiSourceTexts{}};
    EXPECT_EQ(source.identity(), "Afterload,Simulated source,1,1.0");
    const Stimulus both = tone(997_Hz, VoltsRms{0.5}, true, true);
    const auto played = co_await source.play(both);
    EXPECT_TRUE(played) << failed(played);
    const auto muted = co_await source.mute();
    EXPECT_TRUE(muted) << failed(muted);
    const Stimulus one = tone(997_Hz, VoltsRms{0.5}, true, false);
    const auto single = co_await source.play(one);
    said.push_back(failed(single));
    const Stimulus loud = tone(997_Hz, VoltsRms{1.5}, true, true);
    const auto refused = co_await source.play(loud);
    said.push_back(failed(refused));
    co_return 0;
}

TEST(ScpiSource, PlaysOneSineAndConfirmsThatItIsOff) {
    const Served served;
    std::vector<std::string> said;
    probe::finish(drive(served.address(0), said));
    EXPECT_THAT(served.noticed(), ElementsAre("source output on", "source output off"));
    EXPECT_THAT(said, ElementsAre(HasSubstr("single channels come from the card"),
                                  HasSubstr("its full scale is 2 V peak")));
}

Task<int> read(std::string address, std::vector<double>& readings, std::string& said) {
    auto talk = co_await session(std::move(address), "bench meter");
    std::map<MeterQuantity, ScpiReading> questions;
    questions[MeterQuantity::dc_offset] = {"MEAS:DC? (@{channel})", 0.005, 1e-4};
    questions[MeterQuantity::mains_voltage] = {"MEAS:VOLT:AC?", 0.004, 0.0};
    questions[MeterQuantity::ambient] = {"MEAS:TEMP? (@9)", 0.0, 1.0};
    ScpiMeter meter{std::move(talk), std::move(questions)};
    EXPECT_FALSE(meter.can_read(MeterQuantity::main_rail));
    const auto offset = co_await meter.read(MeterQuantity::dc_offset, Channels::right);
    const auto mains = co_await meter.read(MeterQuantity::mains_voltage, Channels::both);
    EXPECT_TRUE(offset && mains);
    if (offset && mains) {
        readings = {offset->value, mains->value, mains->u_k1};
        EXPECT_EQ(mains->source, "bench meter");
    }
    const auto wrong = co_await meter.read(MeterQuantity::ambient, Channels::both);
    said = wrong ? "a reading" : text(wrong.error());
    co_return 0;
}

TEST(ScpiMeter, ReadsWithTheUncertaintyOfTheBenchFile) {
    const Served served;
    std::vector<double> readings;
    std::string said;
    probe::finish(read(served.address(1), readings, said));
    ASSERT_EQ(readings.size(), 3U);
    EXPECT_LT(std::abs(readings[0]), 0.1);
    EXPECT_NEAR(readings[1], 230.0, 5.0);
    EXPECT_NEAR(readings[2], 0.004 * readings[1], 1e-9);
    EXPECT_THAT(said, HasSubstr("error -222: Data out of range"));
}

Task<int> switch_over(std::string address, std::string& said) {
    auto talk = co_await session(std::move(address), "relay box");
    const std::shared_ptr<ScpiSession> shared = std::move(talk);
    ScpiRoutes routes;
    routes.loads = {{Ohms{8.0}, 101}, {Ohms{4.0}, 102}};
    routes.ranges = {{"high", 201}, {"low", 202}, {"none", 299}};
    ScpiLoads loads{shared, routes};
    ScpiRanges ranges{shared, routes, "high"};
    EXPECT_FALSE(loads.connected());
    const auto connected = co_await loads.connect(Ohms{8.0});
    EXPECT_TRUE(connected) << failed(connected);
    EXPECT_TRUE(loads.connected());
    const auto other = co_await loads.connect(Ohms{4.0});
    EXPECT_TRUE(other) << failed(other);
    const auto no_such = co_await loads.connect(Ohms{2.0});
    EXPECT_FALSE(no_such);
    routes.ranges.erase("none");
    ScpiRanges two{shared, routes, "high"};
    const auto low = co_await two.select("low");
    EXPECT_TRUE(low) << failed(low);
    EXPECT_EQ(two.selected(), "low");
    const auto released = co_await loads.release();
    EXPECT_TRUE(released) << failed(released);
    const auto none = co_await ranges.select("none");
    said = failed(none);
    EXPECT_EQ(ranges.selected(), "high");
    co_return 0;
}

TEST(ScpiRelays, AreAskedWhetherTheyMoved) {
    const Served served;
    std::string said;
    probe::finish(switch_over(served.address(2), said));
    EXPECT_THAT(served.noticed(),
                ElementsAre("relay 101 closed", "relay 101 open", "relay 102 closed",
                            "relay 202 closed", "relay 102 open", "relay 202 open"));
    EXPECT_THAT(said, HasSubstr("error -222"));
}

Task<int> set_load(std::string address, std::string& said) {
    auto talk = co_await session(std::move(address), "programmable load");
    const std::shared_ptr<ScpiSession> shared = std::move(talk);
    std::vector<ScpiProgrammableLoads::Channel> both;
    both.push_back({shared, ScpiLoadTexts{}});
    ScpiProgrammableLoads loads{std::move(both)};
    EXPECT_FALSE(loads.connected());
    for (const Ohms resistance : {Ohms{8.0}, Ohms{4.0}}) {
        const auto connected = co_await loads.connect(resistance);
        EXPECT_TRUE(connected) << failed(connected);
        EXPECT_TRUE(loads.connected());
        const auto set = co_await shared->number("RES?");
        EXPECT_NEAR(set.value_or(0.0), resistance.in<Ohms>(), 1e-9);
    }
    const auto none = co_await loads.connect(Ohms{2.0});
    said = failed(none);
    EXPECT_FALSE(loads.connected());
    const auto released = co_await loads.release();
    EXPECT_TRUE(released) << failed(released);
    co_return 0;
}

TEST(ScpiProgrammableLoads, AreSetWhileTheyAreOffAndAskedWhetherTheyAreOn) {
    const Served served;
    std::string said;
    probe::finish(set_load(served.address(4), said));
    EXPECT_THAT(served.noticed(), ElementsAre("load on", "load off", "load on", "load off"));
    EXPECT_THAT(said, HasSubstr("error -222"));
}

Task<int> take_turns(std::string source, std::string relays) {
    auto generator = co_await session(std::move(source), "bench generator");
    auto box = co_await session(std::move(relays), "relay box");
    auto sine =
        std::make_unique<ScpiSource>(std::move(generator), VoltsPeak{2.0}, ScpiSourceTexts{});
    RoutedGenerator routed{std::move(sine), std::shared_ptr<ScpiSession>{std::move(box)},
                           ScpiRoutes{}, 301};
    EXPECT_FALSE(routed.channels_apart());
    for (const VoltsRms volts : {VoltsRms{0.1}, VoltsRms{0.5}}) {
        Stimulus both = tone(997_Hz, volts, true, true);
        const auto played = co_await routed.play(std::move(both));
        EXPECT_TRUE(played) << failed(played);
    }
    const auto muted = co_await routed.mute();
    EXPECT_TRUE(muted) << failed(muted);
    co_return 0;
}

TEST(RoutedGenerator, IsOnTheUnitBeforeItPlaysAndOffItOnceItIsSilent) {
    const Served served;
    probe::finish(take_turns(served.address(0), served.address(2)));
    EXPECT_THAT(served.noticed(), ElementsAre("relay 301 closed", "source output on",
                                              "source output off", "relay 301 open"));
}

}  // namespace
}  // namespace afterload::instruments
