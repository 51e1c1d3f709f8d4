/// Everything that drives goes through here: the one place where the limits of the bench are held.
#pragma once

#include "analysis/stimulus.hpp"
#include "instruments/bench.hpp"
#include "runner/trouble.hpp"
#include "sequences/bench_file.hpp"

#include <array>
#include <atomic>
#include <optional>
#include <string>

namespace afterload::runner {

/// A tone on both channels: open-circuit V rms of the source, 0 for a channel that is not driven.
struct ToneDrive {
    Hertz frequency;
    std::array<double, 2> volts{0.0, 0.0};
};

/// Anything else: `volts` are those of a sine of the same peak.
struct StimulusDrive {
    Stimulus stimulus;
    std::array<double, 2> volts{0.0, 0.0};
};

/// What the outputs are expected to reach, V rms at the unit's terminals, from the gain as known.
using ExpectedOutput = std::array<double, 2>;

/// "left" for channel 0, "right" for 1.
[[nodiscard]] const char* side_of(std::size_t channel);

class Driver {
public:
    /// `stop` is looked at before every operation; when it is set nothing more is driven.
    Driver(instruments::Bench& bench, const sequences::BenchFile& file,
           const std::atomic<bool>& stop)
        : bench_{bench}, file_{file}, stop_{stop} {}

    /// From now on the generator beside the card plays, or the card; what played is muted first.
    /// The bench has a generator where one is asked for.
    [[nodiscard]] instruments::Task<RunResult<void>> hand_over(bool to_generator);
    [[nodiscard]] bool from_generator() const { return from_generator_; }
    [[nodiscard]] bool channels_apart() const { return source().channels_apart(); }
    /// Plays a tone. Refused, with nothing changed, when the drive or the expected output would
    /// pass a limit of the bench: largest drive, largest output, the safe volts of the selected
    /// range.
    [[nodiscard]] instruments::Task<RunResult<void>> play(ToneDrive drive, ExpectedOutput expected);
    [[nodiscard]] instruments::Task<RunResult<void>> play(StimulusDrive drive,
                                                          ExpectedOutput expected);
    [[nodiscard]] instruments::Task<RunResult<void>> mute();
    /// Mutes, then switches. Nothing is done when the range is selected already.
    [[nodiscard]] instruments::Task<RunResult<void>> select_range(std::string name);
    /// Mutes before another load than the one that is there.
    [[nodiscard]] instruments::Task<RunResult<void>> connect_load(Ohms load);
    /// Mutes, lets the output die away, and leaves it open.
    [[nodiscard]] instruments::Task<RunResult<void>> release_load();
    [[nodiscard]] instruments::Task<RunResult<void>> wait(Seconds time);
    [[nodiscard]] instruments::Task<RunResult<instruments::Captured>> record(Seconds length);

    /// The largest output, V rms, that limits of house and range allow a channel; the load is
    /// `load`.
    [[nodiscard]] double largest_output(Ohms load, const std::string& range) const;

    /// The largest drive, open-circuit V rms of a sine, that the source gives and the bench allows.
    [[nodiscard]] double largest_drive() const;

    /// Of what plays, open-circuit peak volts.
    [[nodiscard]] VoltsPeak full_scale() const { return source().full_scale(); }

    /// Fails when the run was told to stop.
    [[nodiscard]] RunResult<void> going_on() const;
    [[nodiscard]] bool driving() const { return driving_; }
    [[nodiscard]] instruments::Bench& bench() { return bench_; }
    [[nodiscard]] const sequences::BenchFile& file() const { return file_; }

private:
    [[nodiscard]] instruments::Source& source() const {
        return from_generator_ ? *bench_.generator() : bench_.source();
    }

    instruments::Bench& bench_;
    const sequences::BenchFile& file_;
    const std::atomic<bool>& stop_;
    std::optional<Ohms> load_;  ///< the last that was connected
    bool driving_ = false;
    bool from_generator_ = false;
};

}  // namespace afterload::runner
