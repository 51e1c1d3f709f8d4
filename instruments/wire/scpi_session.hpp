/// A conversation with an instrument that speaks SCPI: one exchange at a time, a deadline on each,
/// the error queue read after each.
///
/// Source  SCPI-99, volume 1, 21.8 (SYSTem:ERRor?); IEEE Std 488.2-1992, 10.3 (*CLS), 10.14
/// (*IDN?).
#pragma once

#include "instruments/wire/line.hpp"
#include "instruments/wire/scpi_reply.hpp"

#include <memory>
#include <optional>
#include <string>

namespace afterload::instruments {

struct ScpiSettings {
    std::string name;         ///< the shop's own: "bench meter"
    std::string identity;     ///< what *IDN? must begin with; empty: whatever answers
    Seconds deadline{2.0};    ///< of each exchange
    bool error_queue = true;  ///< false: the instrument has none, and is believed
};

class ScpiSession {
public:
    ScpiSession(std::unique_ptr<Line> line, ScpiSettings settings)
        : line_{std::move(line)}, settings_{std::move(settings)} {}

    /// Clears the instrument's errors and what waits on the line, and asks who it is. Fails with
    /// `wrong_reply` when that is another instrument than the bench file says.
    [[nodiscard]] Task<BenchResult<std::string>> open();
    /// Fails with `refused` when the instrument puts an error into its queue.
    [[nodiscard]] Task<BenchResult<void>> command(std::string text);
    /// The reply, one line.
    [[nodiscard]] Task<BenchResult<std::string>> query(std::string text);
    /// A reply that must be a number. No reading (9.9E37, 9.91E37) is a `no_reply` that says so.
    [[nodiscard]] Task<BenchResult<double>> number(std::string text);

    [[nodiscard]] const std::string& name() const { return settings_.name; }
    [[nodiscard]] const std::string& identity() const { return identity_; }

private:
    [[nodiscard]] Task<BenchResult<std::string>> ask(std::string text);
    [[nodiscard]] Task<BenchResult<void>> send(std::string text);
    [[nodiscard]] Task<BenchResult<void>> agree();
    [[nodiscard]] Task<BenchResult<void>> errors_after(std::string text);
    /// What the line says went wrong, with the shop's name of the instrument and what was asked.
    [[nodiscard]] BenchFailure named(BenchFailure failure, std::string asked) const;
    [[nodiscard]] BenchFailure failure(BenchFailure::Kind kind, std::string asked,
                                       std::string answered) const;

    std::unique_ptr<Line> line_;
    ScpiSettings settings_;
    std::string identity_;
    bool in_step_ = true;  // every question so far has had its answer
};

}  // namespace afterload::instruments
