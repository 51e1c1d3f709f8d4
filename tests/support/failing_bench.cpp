#include "tests/support/failing_bench.hpp"

#include <optional>
#include <utility>

namespace afterload::test {

using instruments::BenchFailure;
using instruments::BenchResult;
using instruments::Captured;
using instruments::MeterQuantity;
using instruments::MeterReading;
using instruments::Task;

namespace {

using Ledger = FailingBench::Ledger;

/// What is to happen to one operation.
struct Fate {
    bool carried_out = true;
    std::optional<BenchFailure> failure;
};

Fate fate_of(Ledger& ledger, const std::string& instrument, const std::string& operation) {
    ledger.operations.push_back(operation);
    const bool now = ledger.operations.size() == ledger.planned.operation;
    if (!now && ledger.gone != instrument) {
        return {};
    }
    if (now) {
        ledger.failed = operation;
        if (ledger.planned.stays) {
            ledger.gone = instrument;
        }
    }
    return {now && ledger.planned.carried_out,
            BenchFailure{ledger.planned.kind, instrument, operation,
                         std::string{name(ledger.planned.kind)} + ", as planned", Seconds{0.1}}};
}

class FailingSource final : public instruments::Source {
public:
    FailingSource(instruments::Source& inner, Ledger& ledger, std::string name, bool& muted)
        : inner_{inner}, ledger_{ledger}, name_{std::move(name)}, muted_{muted} {}
    std::string identity() const override { return inner_.identity(); }
    VoltsPeak full_scale() const override { return inner_.full_scale(); }
    bool channels_apart() const override { return inner_.channels_apart(); }
    Task<BenchResult<void>> play(Stimulus stimulus) override {
        const bool silent = stimulus.silent();
        const Fate fate = fate_of(ledger_, name_, "play");
        if (!ledger_.failed.empty() && !silent) {
            ledger_.drove_after_failure = ledger_.drove_after_failure || !fate.failure;
        }
        if (fate.carried_out) {
            const BenchResult<void> done = co_await inner_.play(std::move(stimulus));
            if (!done) {
                co_return tl::unexpected(done.error());
            }
            muted_ = silent;
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }
    Task<BenchResult<void>> mute() override {
        const Fate fate = fate_of(ledger_, name_, "mute");
        if (fate.carried_out) {
            const BenchResult<void> done = co_await inner_.mute();
            if (!done) {
                co_return tl::unexpected(done.error());
            }
            muted_ = true;
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }

private:
    instruments::Source& inner_;
    Ledger& ledger_;
    std::string name_;
    bool& muted_;
};

class FailingCapture final : public instruments::Capture {
public:
    FailingCapture(instruments::Capture& inner, Ledger& ledger) : inner_{inner}, ledger_{ledger} {}
    std::string identity() const override { return inner_.identity(); }
    SampleRate rate() const override { return inner_.rate(); }
    Task<BenchResult<Captured>> record(Seconds length) override {
        const Fate fate = fate_of(ledger_, "capture", "record");
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        BenchResult<Captured> captured = co_await inner_.record(length);
        co_return captured;
    }

private:
    instruments::Capture& inner_;
    Ledger& ledger_;
};

class FailingLoad final : public instruments::Load {
public:
    FailingLoad(instruments::Load& inner, Ledger& ledger) : inner_{inner}, ledger_{ledger} {}
    std::string identity() const override { return inner_.identity(); }
    bool connected() const override { return inner_.connected(); }
    Task<BenchResult<void>> connect(Ohms resistance) override {
        const Fate fate = fate_of(ledger_, "load", "connect");
        if (fate.carried_out) {
            const BenchResult<void> done = co_await inner_.connect(resistance);
            ledger_.state.load_connected = inner_.connected();
            if (!done) {
                co_return tl::unexpected(done.error());
            }
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }
    Task<BenchResult<void>> release() override {
        const Fate fate = fate_of(ledger_, "load", "release");
        const bool driven = !ledger_.state.muted || !ledger_.state.generator_muted;
        ledger_.state.released_under_drive = ledger_.state.released_under_drive || driven;
        if (fate.carried_out) {
            const BenchResult<void> done = co_await inner_.release();
            ledger_.state.load_connected = inner_.connected();
            if (!done) {
                co_return tl::unexpected(done.error());
            }
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }

private:
    instruments::Load& inner_;
    Ledger& ledger_;
};

class FailingRangeSwitch final : public instruments::RangeSwitch {
public:
    FailingRangeSwitch(instruments::RangeSwitch& inner, Ledger& ledger)
        : inner_{inner}, ledger_{ledger} {
        ledger_.state.range = inner_.selected();
    }
    std::string selected() const override { return inner_.selected(); }
    Task<BenchResult<void>> select(std::string range) override {
        const Fate fate = fate_of(ledger_, "ranges", "select");
        if (fate.carried_out) {
            const BenchResult<void> done = co_await inner_.select(std::move(range));
            ledger_.state.range = inner_.selected();
            if (!done) {
                co_return tl::unexpected(done.error());
            }
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }

private:
    instruments::RangeSwitch& inner_;
    Ledger& ledger_;
};

class FailingMeter final : public instruments::Meter {
public:
    FailingMeter(instruments::Meter& inner, Ledger& ledger) : inner_{inner}, ledger_{ledger} {}
    std::string identity() const override { return inner_.identity(); }
    bool can_read(MeterQuantity quantity) const override { return inner_.can_read(quantity); }
    Task<BenchResult<MeterReading>> read(MeterQuantity quantity, Channels channel) override {
        const Fate fate = fate_of(ledger_, "meter", "read");
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        BenchResult<MeterReading> reading = co_await inner_.read(quantity, channel);
        co_return reading;
    }

private:
    instruments::Meter& inner_;
    Ledger& ledger_;
};

class FailingHands final : public instruments::Hands {
public:
    FailingHands(instruments::Hands& inner, instruments::RangeSwitch& ranges, Ledger& ledger)
        : inner_{inner}, ranges_{ranges}, ledger_{ledger} {}
    Task<BenchResult<void>> set(std::string control, std::string position) override {
        const Fate fate = fate_of(ledger_, "hands", "set");
        if (fate.carried_out) {
            const BenchResult<void> done =
                co_await inner_.set(std::move(control), std::move(position));
            ledger_.state.range = ranges_.selected();
            if (!done) {
                co_return tl::unexpected(done.error());
            }
        }
        if (fate.failure) {
            co_return tl::unexpected(*fate.failure);
        }
        co_return BenchResult<void>{};
    }

private:
    instruments::Hands& inner_;
    instruments::RangeSwitch& ranges_;
    Ledger& ledger_;
};

}  // namespace

class FailingBench::Parts {
public:
    Parts(std::unique_ptr<instruments::Bench> bench, const PlannedFailure& planned)
        : inner{std::move(bench)},
          ledger{std::make_shared<Ledger>()},
          source{inner->source(), *ledger, "source", ledger->state.muted},
          capture{inner->capture(), *ledger},
          load{inner->load(), *ledger},
          ranges{inner->range_switch(), *ledger} {
        ledger->planned = planned;
        ledger->state.load_connected = inner->load().connected();
        if (inner->generator() != nullptr) {
            generator.emplace(*inner->generator(), *ledger, "generator",
                              ledger->state.generator_muted);
        }
        if (inner->meter() != nullptr) {
            meter.emplace(*inner->meter(), *ledger);
        }
        if (inner->hands() != nullptr) {
            hands.emplace(*inner->hands(), inner->range_switch(), *ledger);
        }
    }

    std::unique_ptr<instruments::Bench> inner;
    std::shared_ptr<Ledger> ledger;
    FailingSource source;
    std::optional<FailingSource> generator;
    FailingCapture capture;
    FailingLoad load;
    FailingRangeSwitch ranges;
    std::optional<FailingMeter> meter;
    std::optional<FailingHands> hands;
};

FailingBench::FailingBench(std::unique_ptr<instruments::Bench> inner, PlannedFailure planned)
    : parts_{std::make_unique<Parts>(std::move(inner), planned)} {}

FailingBench::~FailingBench() = default;

instruments::Clock& FailingBench::clock() {
    return parts_->inner->clock();
}
instruments::Source& FailingBench::source() {
    return parts_->source;
}
instruments::Source* FailingBench::generator() {
    return parts_->generator ? &*parts_->generator : nullptr;
}
instruments::Capture& FailingBench::capture() {
    return parts_->capture;
}
instruments::Load& FailingBench::load() {
    return parts_->load;
}
instruments::RangeSwitch& FailingBench::range_switch() {
    return parts_->ranges;
}
instruments::Meter* FailingBench::meter() {
    return parts_->meter ? &*parts_->meter : nullptr;
}
instruments::Hands* FailingBench::hands() {
    return parts_->hands ? &*parts_->hands : nullptr;
}
std::shared_ptr<const FailingBench::Ledger> FailingBench::ledger() const {
    return parts_->ledger;
}

}  // namespace afterload::test
