#include "instruments/wire/served_bench.hpp"

#include "instruments/monotonic.hpp"
#include "instruments/simulated_world.hpp"
#include "instruments/steady_clock.hpp"
#include "instruments/wire/scpi_commands.hpp"
#include "instruments/wire/scpi_reply.hpp"
#include "instruments/wire/scpi_server.hpp"
#include "instruments/wire/scpi_text.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <set>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

using Parameters = std::vector<std::string>;

ScpiDone missing() {
    return scpi_refusal(-109, "Missing parameter");
}
ScpiDone wrong_type() {
    return scpi_refusal(-104, "Data type error");
}
ScpiDone out_of_range() {
    return scpi_refusal(-222, "Data out of range");
}

/// "0.5", "0.5 V", "500 mV": a number with the unit, or a decimal multiple of it, or without. In
/// SCPI, M is milli but for hertz, where it is mega (SCPI-99, volume 1, 7.4).
std::optional<double> quantity(const std::string& text, std::string_view unit) {
    std::string plain = in_capitals(text);
    double scale = 1.0;
    if (plain.ends_with(unit)) {
        plain.erase(plain.size() - unit.size());
        if (plain.ends_with('K')) {
            scale = 1e3;
        } else if (plain.ends_with('M')) {
            scale = unit == "HZ" ? 1e6 : 1e-3;
        } else if (plain.ends_with('U')) {
            scale = 1e-6;
        }
        if (scale != 1.0) {
            plain.pop_back();
        }
    }
    const auto number = scpi_number(plain);
    return number && number->reading ? std::optional{scale * *number->reading} : std::nullopt;
}

std::optional<bool> state(const std::string& text) {
    const std::string word = in_capitals(text);
    if (word == "ON" || word == "1") {
        return true;
    }
    if (word == "OFF" || word == "0") {
        return false;
    }
    return std::nullopt;
}

constexpr int first_load_relay = 101;
constexpr int spare_relay = 301;  // switches nothing of the simulated bench

/// "(@101)": one channel.
std::optional<int> channel(const std::string& text) {
    if (!text.starts_with("(@") || !text.ends_with(')')) {
        return std::nullopt;
    }
    int number = 0;
    const char* const end = text.data() + text.size() - 1;
    const auto [stopped, error] = std::from_chars(text.data() + 2, end, number);
    return error == std::errc{} && stopped == end ? std::optional{number} : std::nullopt;
}

std::string reading(double value) {
    return fmt::format("{:+.9E}", value);
}

std::vector<Ohms> kinds_of(const Simulation& simulation) {
    std::vector<Ohms> kinds{simulation.loads[0].nominal};
    for (const auto& pair : simulation.other_loads) {
        kinds.push_back(pair[0].nominal);
    }
    return kinds;
}

}  // namespace

class ServedBench::Instruments {
public:
    Instruments(const Simulation& simulation, std::array<std::uint16_t, 5> ports, Notice notice)
        : world_{simulation},
          rate_{simulation.rate},
          bits_{simulation.bits},
          full_scale_{simulation.source_full_scale},
          ranges_{simulation.ranges.size()},
          kinds_{kinds_of(simulation)},
          resistance_{kinds_.front()},
          nyquist_{simulation.rate.nyquist()},
          notice_{std::move(notice)},
          servers_{
              ScpiServer{ports[0], answering(source_)}, ScpiServer{ports[1], answering(meter_)},
              ScpiServer{ports[2], answering(relays_)}, ScpiServer{ports[3], answering(digitiser_)},
              ScpiServer{ports[4], answering(load_)}} {
        add_source();
        add_meter();
        add_relays();
        add_digitiser();
        add_load();
    }

    std::array<ScpiServer, 5>& servers() { return servers_; }
    /// Between two looks of a record no sample may be skipped: what is left of the time is owed.
    void follow(Seconds passed) {
        owed_ += passed;
        const auto left = wanted_ - static_cast<std::int64_t>(samples_[0].size());
        if (left > 0) {
            const auto whole =
                static_cast<std::int64_t>(owed_.in<Seconds>() * rate_.frequency().in<Hertz>());
            const Seconds before = world_.now();
            const auto fresh = world_.record(Frames{std::min(left, whole)});
            for (std::size_t c = 0; c < samples_.size(); ++c) {
                samples_[c].insert(samples_[c].end(), fresh[c].begin(), fresh[c].end());
            }
            owed_ -= world_.now() - before;
            if (whole <= left) {
                return;
            }
        }
        world_.advance(std::max(Seconds{0.0}, owed_));
        owed_ = Seconds{0.0};
    }

private:
    static ScpiServer::Answer answering(ScpiCommands& commands) {
        return [&commands](std::string_view line) { return commands.carry_out(line); };
    }

    void say(const std::string& what) const { notice_(monotonic_now(), what); }

    void play() { world_.play(on_ ? tone(frequency_, level_, true, true) : silence()); }

    ScpiDone turn(bool on) {
        if (on != on_) {
            on_ = on;
            say(on ? "source output on" : "source output off");
        }
        play();
        return {};
    }

    void add_source() {
        source_.on_reset([this] {
            frequency_ = Hertz{1000.0};
            level_ = VoltsRms{0.0};
            (void)turn(false);
        });
        source_.add("[SOURce:]FREQuency[:CW]", [this](const Parameters& given) {
            const auto hertz = given.empty() ? std::nullopt : quantity(given[0], "HZ");
            if (!hertz) {
                return given.empty() ? missing() : wrong_type();
            }
            if (!(*hertz > 0.0 && Hertz{*hertz} < nyquist_)) {
                return out_of_range();
            }
            frequency_ = Hertz{*hertz};
            play();
            return ScpiDone{};
        });
        source_.add("[SOURce:]FREQuency[:CW]?", [this](const Parameters&) {
            return scpi_reply(reading(frequency_.in<Hertz>()));
        });
        source_.add("[SOURce:]VOLTage[:LEVel]", [this](const Parameters& given) {
            const auto volts = given.empty() ? std::nullopt : quantity(given[0], "V");
            if (!volts) {
                return given.empty() ? missing() : wrong_type();
            }
            if (!(*volts >= 0.0) || peak_of_sine(VoltsRms{*volts}) > full_scale_) {
                return out_of_range();
            }
            level_ = VoltsRms{*volts};
            play();
            return ScpiDone{};
        });
        source_.add("[SOURce:]VOLTage[:LEVel]?", [this](const Parameters&) {
            return scpi_reply(reading(level_.in<VoltsRms>()));
        });
        source_.add("OUTPut[:STATe]", [this](const Parameters& given) {
            const auto on = given.empty() ? std::nullopt : state(given[0]);
            if (!on) {
                return given.empty() ? missing() : wrong_type();
            }
            return turn(*on);
        });
        source_.add("OUTPut[:STATe]?",
                    [this](const Parameters&) { return scpi_reply(on_ ? "1" : "0"); });
    }

    ScpiDone read(MeterQuantity quantity, bool right) {
        return scpi_reply(reading(world_.read(quantity, right).value));
    }

    void add_meter() {
        meter_.add("MEASure[:VOLTage]:DC?", [this](const Parameters& given) {
            const auto which = given.empty() ? std::optional{1} : channel(given[0]);
            if (!which || *which < 1 || *which > 2) {
                return out_of_range();
            }
            return read(MeterQuantity::dc_offset, *which == 2);
        });
        meter_.add("MEASure:VOLTage:AC?",
                   [this](const Parameters&) { return read(MeterQuantity::mains_voltage, false); });
        meter_.add("MEASure:RESistance?", [this](const Parameters& given) {
            const auto which = given.empty() ? std::optional{1} : channel(given[0]);
            if (!which || *which < 1 || *which > 2) {
                return out_of_range();
            }
            return read(MeterQuantity::load_resistance, *which == 2);
        });
        meter_.add("MEASure:TEMPerature?", [this](const Parameters& given) {
            const auto which = given.empty() ? std::optional{1} : channel(given[0]);
            if (!which || *which < 1 || *which > 3) {
                return out_of_range();
            }
            return *which == 3 ? read(MeterQuantity::ambient, false)
                               : read(MeterQuantity::heat_sink, *which == 2);
        });
    }

    /// Opens or closes a relay; ranges are a turn of one switch.
    ScpiDone relay(int number, bool closed) {
        const int range = number - 201;
        const bool of_range = range >= 0 && static_cast<std::size_t>(range) < ranges_;
        const int kind = number - first_load_relay;
        const bool of_load = kind >= 0 && static_cast<std::size_t>(kind) < kinds_.size();
        if (!of_load && number != spare_relay && !of_range) {
            return out_of_range();
        }
        if (of_load) {
            if (closed) {
                (void)world_.choose_loads(kinds_[static_cast<std::size_t>(kind)]);
            }
            world_.connect_load(closed);
        } else if (of_range && closed) {
            std::erase_if(closed_, [](int other) { return other > 200 && other != spare_relay; });
            world_.select_range(static_cast<std::size_t>(range));
        }
        const bool was = closed_.contains(number);
        if (closed) {
            closed_.insert(number);
        } else {
            closed_.erase(number);
        }
        if (closed != was) {
            say(fmt::format("relay {} {}", number, closed ? "closed" : "open"));
        }
        return {};
    }

    void add_relays() {
        for (const bool closes : {true, false}) {
            relays_.add(closes ? "ROUTe:CLOSe" : "ROUTe:OPEN",
                        [this, closes](const Parameters& given) {
                            const auto which = given.empty() ? std::nullopt : channel(given[0]);
                            if (!which) {
                                return given.empty() ? missing() : wrong_type();
                            }
                            return relay(*which, closes);
                        });
        }
        relays_.add("ROUTe:CLOSe?", [this](const Parameters& given) {
            const auto which = given.empty() ? std::nullopt : channel(given[0]);
            if (!which) {
                return given.empty() ? missing() : wrong_type();
            }
            return scpi_reply(closed_.contains(*which) ? "1" : "0");
        });
        relays_.on_reset([this] {
            for (const int number : std::set<int>{closed_}) {
                (void)relay(number, false);
            }
        });
    }

    void add_digitiser() {
        digitiser_.add("TRACe:RATE?", [this](const Parameters&) {
            return scpi_reply(reading(rate_.frequency().in<Hertz>()));
        });
        digitiser_.add("TRACe:BITS?",
                       [this](const Parameters&) { return scpi_reply(std::to_string(bits_)); });
        digitiser_.add("TRACe:POINts", [this](const Parameters& given) {
            const auto frames = given.empty() ? std::nullopt : quantity(given[0], "");
            if (!frames) {
                return given.empty() ? missing() : wrong_type();
            }
            if (!(*frames >= 1.0 && *frames <= most_frames)) {
                return out_of_range();
            }
            points_ = static_cast<std::int64_t>(*frames);
            return ScpiDone{};
        });
        digitiser_.add("INITiate", [this](const Parameters&) {
            samples_ = {};
            wanted_ = points_;
            return ScpiDone{};
        });
        digitiser_.add("TRACe:POINts?", [this](const Parameters&) {
            return scpi_reply(std::to_string(samples_[0].size()));
        });
        digitiser_.add("TRACe:DATA?", [this](const Parameters& given) {
            const auto first = given.size() < 2 ? std::nullopt : quantity(given[0], "");
            const auto count = given.size() < 2 ? std::nullopt : quantity(given[1], "");
            if (!first || !count) {
                return given.size() < 2 ? missing() : wrong_type();
            }
            const auto there = static_cast<double>(samples_[0].size());
            if (!(*first >= 0.0 && *count >= 1.0 && *first + *count <= there)) {
                return out_of_range();
            }
            std::string numbers;
            const auto begin = static_cast<std::size_t>(*first);
            for (std::size_t n = begin; n < begin + static_cast<std::size_t>(*count); ++n) {
                numbers +=
                    fmt::format("{}{},{}", n == begin ? "" : ",", samples_[0][n], samples_[1][n]);
            }
            return scpi_reply(std::move(numbers));
        });
    }

    ScpiDone input(bool on) {
        if (on != input_) {
            input_ = on;
            say(on ? "load on" : "load off");
        }
        world_.connect_load(on);
        return {};
    }

    void add_load() {
        load_.on_reset([this] { (void)input(false); });
        load_.add("[SOURce:]RESistance", [this](const Parameters& given) {
            const auto ohms = given.empty() ? std::nullopt : quantity(given[0], "OHM");
            if (!ohms) {
                return given.empty() ? missing() : wrong_type();
            }
            if (!(*ohms > 0.0) || !world_.choose_loads(Ohms{*ohms})) {
                return out_of_range();
            }
            resistance_ = Ohms{*ohms};
            return ScpiDone{};
        });
        load_.add("[SOURce:]RESistance?", [this](const Parameters&) {
            return scpi_reply(reading(resistance_.in<Ohms>()));
        });
        load_.add("INPut[:STATe]", [this](const Parameters& given) {
            const auto on = given.empty() ? std::nullopt : state(given[0]);
            if (!on) {
                return given.empty() ? missing() : wrong_type();
            }
            return input(*on);
        });
        load_.add("INPut[:STATe]?",
                  [this](const Parameters&) { return scpi_reply(input_ ? "1" : "0"); });
    }

    static constexpr double most_frames = 3e7;

    SimulatedWorld world_;
    SampleRate rate_;
    int bits_;
    std::int64_t points_ = 1;
    std::int64_t wanted_ = 0;
    Seconds owed_{0.0};  // of the clock's time, that the world has not lived yet
    std::array<std::vector<std::int32_t>, 2> samples_;
    VoltsPeak full_scale_;
    std::size_t ranges_;
    std::vector<Ohms> kinds_;  // of loads, in the order of their relays
    Ohms resistance_;
    bool input_ = false;
    Hertz nyquist_;
    Notice notice_;
    Hertz frequency_{1000.0};
    VoltsRms level_{0.0};
    bool on_ = false;
    std::set<int> closed_;
    ScpiCommands source_{"Afterload,Simulated source,1,1.0"};
    ScpiCommands meter_{"Afterload,Simulated meter,1,1.0"};
    ScpiCommands relays_{"Afterload,Simulated relays,1,1.0"};
    ScpiCommands digitiser_{"Afterload,Simulated digitiser,1,1.0"};
    ScpiCommands load_{"Afterload,Simulated load,1,1.0"};
    std::array<ScpiServer, 5> servers_;
};

ServedBench::ServedBench(const Simulation& simulation, std::array<std::uint16_t, 5> ports,
                         Notice notice)
    : instruments_{std::make_unique<Instruments>(simulation, ports, std::move(notice))} {}
ServedBench::~ServedBench() = default;

std::array<std::uint16_t, 5> ServedBench::ports() const {
    const auto& servers = instruments_->servers();
    return {servers[0].port(), servers[1].port(), servers[2].port(), servers[3].port(),
            servers[4].port()};
}

Task<void> ServedBench::serve() {
    auto executor = co_await boost::asio::this_coro::executor;
    for (ScpiServer& server : instruments_->servers()) {
        boost::asio::co_spawn(executor, server.serve(), rethrow);
    }
    SteadyClock clock;
    Seconds before = clock.now();
    while (true) {
        constexpr Seconds step{0.02};
        co_await clock.sleep(step);
        const Seconds now = clock.now();
        instruments_->follow(now - before);
        before = now;
    }
}

}  // namespace afterload::instruments
