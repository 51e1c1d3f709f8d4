/// A bench whose n-th instrument operation fails: for proving that every way out of a run is a safe
/// one.
#pragma once

#include "instruments/bench.hpp"

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::test {

/// What shall fail, and how.
struct PlannedFailure {
    std::size_t operation = 0;  ///< counted from 1 over all instruments; 0: none
    instruments::BenchFailure::Kind kind = instruments::BenchFailure::Kind::no_reply;
    /// Does that instrument fail at every later operation too? A card that is unplugged does; a
    /// reply that was garbled once does not.
    bool stays = false;
    /// Is it carried out all the same, and only the answer lost?
    bool carried_out = false;
};

/// How the bench was left, as far as operations on it succeeded or were carried out.
struct BenchState {
    bool muted = true;            ///< the card
    bool generator_muted = true;  ///< where there is one
    bool load_connected = false;
    bool released_under_drive = false;
    std::string range;
};

/// Passes everything on to `inner` and counts play, mute, record, select, connect, release, read
/// and set. The clock is not an instrument and never fails.
class FailingBench final : public instruments::Bench {
public:
    FailingBench(std::unique_ptr<instruments::Bench> inner, PlannedFailure planned);
    ~FailingBench() override;

    [[nodiscard]] instruments::Clock& clock() override;
    [[nodiscard]] instruments::Source& source() override;
    [[nodiscard]] instruments::Source* generator() override;
    [[nodiscard]] instruments::Capture& capture() override;
    [[nodiscard]] instruments::Load& load() override;
    [[nodiscard]] instruments::RangeSwitch& range_switch() override;
    [[nodiscard]] instruments::Meter* meter() override;
    [[nodiscard]] instruments::Hands* hands() override;

    /// Shared with the test, which reads it after the bench itself is gone.
    struct Ledger {
        PlannedFailure planned;
        std::vector<std::string> operations;  ///< "play", "mute" …, failed ones too, in order
        std::string failed;                   ///< the operation that failed as planned; empty: none
        std::string gone;                     ///< instrument that stays away
        BenchState state;
        bool drove_after_failure = false;  ///< a stimulus that is not silent was played after it
    };
    [[nodiscard]] std::shared_ptr<const Ledger> ledger() const;

private:
    class Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace afterload::test
