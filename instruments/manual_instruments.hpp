/// What a bench without relays has: loads that are always there, and ranges that a person turns.
#pragma once

#include "instruments/load.hpp"
#include "instruments/range_switch.hpp"

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace afterload::instruments {

/// Resistors that are wired to the unit's terminals for good. To let go of them is the person's
/// part; an amplifier that is muted bears its load.
class WiredLoads final : public Load {
public:
    [[nodiscard]] std::string identity() const override { return "wired loads"; }
    [[nodiscard]] bool connected() const override { return true; }
    [[nodiscard]] bool switched() const override { return false; }
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override;
    [[nodiscard]] Task<BenchResult<void>> release() override;
};

/// Resistors of more than one kind, one of which a person puts on the unit.
class HandLoads final : public Load {
public:
    /// Asks the person to connect the loads of a resistance. False: they did not.
    using Ask = std::function<bool(Ohms resistance)>;

    explicit HandLoads(Ask ask) : ask_{std::move(ask)} {}

    [[nodiscard]] std::string identity() const override { return "loads connected by hand"; }
    [[nodiscard]] bool connected() const override { return there_.has_value(); }
    [[nodiscard]] bool switched() const override { return false; }
    /// Nobody is asked for loads that are there already.
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override;
    [[nodiscard]] Task<BenchResult<void>> release() override;

private:
    Ask ask_;
    std::optional<Ohms> there_;
};

/// A switch, or plugs, between the unit's outputs and the card.
class HandRanges final : public RangeSwitch {
public:
    /// Asks the person to select a range. False: they did not.
    using Ask = std::function<bool(const std::string& range)>;

    /// `ranges` with the one of the highest safe voltage first: the one selected at rest. Nobody is
    /// asked where there is only one.
    HandRanges(std::vector<std::string> ranges, Ask ask);

    [[nodiscard]] std::string selected() const override { return selected_; }
    /// Fails with `refused` for a range that the bench does not have, or that the person did not
    /// select.
    [[nodiscard]] Task<BenchResult<void>> select(std::string range) override;

private:
    std::vector<std::string> ranges_;
    Ask ask_;
    std::string selected_;
};

}  // namespace afterload::instruments
