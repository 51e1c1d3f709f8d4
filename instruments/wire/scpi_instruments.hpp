/// Source, meter and relays that speak SCPI, behind the same faces as any other.
///
/// The texts of the commands are those of SCPI-99 unless the bench file has others, for instruments
/// that deviate. "{}" stands for a number, "{channel}" for 1 (left) or 2 (right).
#pragma once

#include "instruments/load.hpp"
#include "instruments/meter.hpp"
#include "instruments/range_switch.hpp"
#include "instruments/source.hpp"
#include "instruments/wire/scpi_session.hpp"

#include <map>
#include <memory>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::instruments {

/// `text` with `value` in the place of each `hole`: "{}", "{channel}".
[[nodiscard]] std::string filled(std::string text, std::string_view hole, const std::string& value);

struct ScpiSourceTexts {
    std::string frequency = "FREQ {}";  ///< Hz
    std::string level = "VOLT {}";      ///< V rms, open circuit
    std::string on = "OUTP ON";
    std::string off = "OUTP OFF";
    std::string is_on = "OUTP?";  ///< answers 0 or 1
};

/// A generator: one sine for both channels, on a clock of its own.
class ScpiSource final : public Source {
public:
    ScpiSource(std::shared_ptr<ScpiSession> session, VoltsPeak full_scale, ScpiSourceTexts texts)
        : session_{std::move(session)}, full_scale_{full_scale}, texts_{std::move(texts)} {}

    [[nodiscard]] std::string identity() const override { return session_->identity(); }
    [[nodiscard]] VoltsPeak full_scale() const override { return full_scale_; }
    [[nodiscard]] bool channels_apart() const override { return false; }
    /// Refuses what is not one steady sine, the same on both channels: a sweep, a multitone, one
    /// channel alone come from the card.
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    /// Off, and asked whether it is.
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    std::shared_ptr<ScpiSession> session_;
    VoltsPeak full_scale_;
    ScpiSourceTexts texts_;
};

struct ScpiReading {
    std::string question;  ///< "MEAS:VOLT:DC? (@{channel})"
    double u_relative = 0.0;
    double u_absolute = 0.0;  ///< in the reading's unit
};

class ScpiMeter final : public Meter {
public:
    ScpiMeter(std::shared_ptr<ScpiSession> session, std::map<MeterQuantity, ScpiReading> readings)
        : session_{std::move(session)}, readings_{std::move(readings)} {}

    [[nodiscard]] std::string identity() const override { return session_->identity(); }
    [[nodiscard]] bool can_read(MeterQuantity quantity) const override {
        return readings_.contains(quantity);
    }
    [[nodiscard]] Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                       Channels channel) override;

private:
    std::shared_ptr<ScpiSession> session_;
    std::map<MeterQuantity, ScpiReading> readings_;
};

struct ScpiRoutes {
    std::string close = "ROUT:CLOS (@{})";
    std::string open = "ROUT:OPEN (@{})";
    std::string is_closed = "ROUT:CLOS? (@{})";  ///< answers 0 or 1
    std::vector<std::pair<Ohms, int>> loads;     ///< relays that connect a load, and its resistance
    std::map<std::string, int> ranges;           ///< relay that selects a range
};

/// A relay that was told to move is asked whether it did.
[[nodiscard]] Task<BenchResult<void>> set_route(ScpiSession& session, const ScpiRoutes& routes,
                                                int relay, bool closed);

/// A generator that a relay brings to the unit in the card's place: closed before it plays, open
/// again once it is silent. At rest the card is on the unit.
class RoutedGenerator final : public Source {
public:
    RoutedGenerator(std::unique_ptr<Source> generator, std::shared_ptr<ScpiSession> relays,
                    ScpiRoutes routes, int relay)
        : generator_{std::move(generator)},
          relays_{std::move(relays)},
          routes_{std::move(routes)},
          relay_{relay} {}

    [[nodiscard]] std::string identity() const override { return generator_->identity(); }
    [[nodiscard]] VoltsPeak full_scale() const override { return generator_->full_scale(); }
    [[nodiscard]] bool channels_apart() const override { return generator_->channels_apart(); }
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    /// The relay is told to open whatever was known of it.
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    std::unique_ptr<Source> generator_;
    std::shared_ptr<ScpiSession> relays_;
    ScpiRoutes routes_;
    int relay_;
    bool routed_ = false;
};

class ScpiLoads final : public Load {
public:
    ScpiLoads(std::shared_ptr<ScpiSession> session, ScpiRoutes routes)
        : session_{std::move(session)}, routes_{std::move(routes)} {}

    [[nodiscard]] std::string identity() const override { return session_->identity(); }
    [[nodiscard]] bool connected() const override { return connected_; }
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override;
    [[nodiscard]] Task<BenchResult<void>> release() override;

private:
    [[nodiscard]] Task<BenchResult<void>> open_all_but(std::set<int> kept);

    std::shared_ptr<ScpiSession> session_;
    ScpiRoutes routes_;
    bool connected_ = false;
};

/// What a programmable load is told. INPut is SCPI-99's, volume 2, 11; RESistance is common
/// practice of such loads (from memory).
struct ScpiLoadTexts {
    std::string resistance = "RES {}";
    std::string on = "INP ON";
    std::string off = "INP OFF";
    std::string is_on = "INP?";  ///< answers 0 or 1
};

/// Loads that are set to a resistance: one instrument for both channels, or one for each.
class ScpiProgrammableLoads final : public Load {
public:
    /// One channel of an instrument; its texts name the channel already.
    struct Channel {
        std::shared_ptr<ScpiSession> session;
        ScpiLoadTexts texts;
    };

    explicit ScpiProgrammableLoads(std::vector<Channel> channels)
        : channels_{std::move(channels)} {}

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] bool connected() const override { return connected_; }
    /// Set while it is off, then turned on and asked whether it is.
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override;
    [[nodiscard]] Task<BenchResult<void>> release() override;

private:
    std::vector<Channel> channels_;
    bool connected_ = false;
};

class ScpiRanges final : public RangeSwitch {
public:
    /// `safest` is selected at rest.
    ScpiRanges(std::shared_ptr<ScpiSession> session, ScpiRoutes routes, std::string safest)
        : session_{std::move(session)}, routes_{std::move(routes)}, selected_{std::move(safest)} {}

    [[nodiscard]] std::string selected() const override { return selected_; }
    [[nodiscard]] Task<BenchResult<void>> select(std::string range) override;

private:
    std::shared_ptr<ScpiSession> session_;
    ScpiRoutes routes_;
    std::string selected_;
};

}  // namespace afterload::instruments
