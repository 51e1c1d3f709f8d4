/// The program's side of the guardian: starts it, reaches every instrument on a wire through it,
/// and gives it signs of life.
#pragma once

#include "instruments/async.hpp"
#include "instruments/guard/make_safe_list.hpp"
#include "instruments/mains_switch.hpp"
#include "instruments/source.hpp"
#include "instruments/wire/line.hpp"

#include <memory>
#include <string>

namespace afterload::instruments {

class GuardedLine;

/// The guardian is a process of its own; it makes safe when this object, or the whole program, is
/// gone. Where the guardian itself is lost, everything that was kept safe is turned off over lines
/// of our own, and the exchange that waits, or the next, fails: a run that drives without a
/// guardian ends.
class Guard {
public:
    /// Starts `program` (the guardian's executable), or, where that is empty, has
    /// guardian_service() start one; where there is no such service, starts the one beside this
    /// program's own. Signs of life go out on the executor that awaits this, as long as it runs.
    ///
    /// Fails with `lost` where it cannot be started, or nobody is at the service's door.
    [[nodiscard]] static Task<BenchResult<std::shared_ptr<Guard>>> start(std::string program,
                                                                         Seconds lease);
    /// Says that the program ends in order, and waits until the guardian has made safe: two seconds
    /// at the most.
    ~Guard();
    Guard(const Guard&) = delete;
    Guard& operator=(const Guard&) = delete;

    [[nodiscard]] Task<BenchResult<std::unique_ptr<GuardedLine>>> open(std::string address,
                                                                       Seconds deadline);
    /// While it is driving, the lease counts.
    void driving(bool on);
    /// Empty while the guardian watches; else why it does not.
    [[nodiscard]] std::string lost() const;

private:
    friend class GuardedLine;
    class State;
    explicit Guard(std::shared_ptr<State> state) : state_{std::move(state)} {}
    std::shared_ptr<State> state_;
};

/// A line that the guardian owns.
class GuardedLine final : public Line {
public:
    GuardedLine(std::shared_ptr<Guard::State> guard, int number, std::string address);
    ~GuardedLine() override;

    [[nodiscard]] std::string address() const override { return address_; }
    [[nodiscard]] Task<BenchResult<void>> write(std::string text, Seconds deadline) override;
    [[nodiscard]] Task<BenchResult<std::string>> read(Seconds deadline) override;
    [[nodiscard]] Task<std::string> unasked() override;
    void interrupt() override;

    /// One program at a time for each identity on this machine; fails with `refused`.
    [[nodiscard]] Task<BenchResult<void>> lock(std::string identity);
    /// What turns this instrument off; source before relays.
    [[nodiscard]] Task<BenchResult<void>> keep_safe(SafeCommand command);
    /// A contactor: `refresh` is sent every so often while the program lives, `release` when it is
    /// made safe.
    [[nodiscard]] Task<BenchResult<void>> keep_refreshed(std::string refresh, std::string release,
                                                         Seconds every);
    /// The contactor of this instrument is let go at once, and refreshed no more.
    [[nodiscard]] Task<BenchResult<void>> let_go();

private:
    [[nodiscard]] Task<BenchResult<void>> open_own(Seconds deadline);

    std::shared_ptr<Guard::State> guard_;
    int number_;
    std::string address_;
    std::unique_ptr<Line> own_;  // once the guardian is lost
};

/// The contactor that the guardian holds on a line.
class GuardedMainsSwitch final : public MainsSwitch {
public:
    /// `line` outlives it.
    explicit GuardedMainsSwitch(GuardedLine& line) : line_{line} {}

    [[nodiscard]] std::string identity() const override {
        return "mains contactor (" + line_.address() + ")";
    }
    [[nodiscard]] Task<BenchResult<void>> open() override { return line_.let_go(); }

private:
    GuardedLine& line_;
};

/// A source that tells the guardian when it drives.
class GuardedSource final : public Source {
public:
    GuardedSource(std::shared_ptr<Guard> guard, std::unique_ptr<Source> source)
        : guard_{std::move(guard)}, source_{std::move(source)} {}

    [[nodiscard]] std::string identity() const override { return source_->identity(); }
    [[nodiscard]] VoltsPeak full_scale() const override { return source_->full_scale(); }
    [[nodiscard]] bool channels_apart() const override { return source_->channels_apart(); }
    /// Refuses without a guardian.
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    std::shared_ptr<Guard> guard_;
    std::unique_ptr<Source> source_;
};

}  // namespace afterload::instruments
