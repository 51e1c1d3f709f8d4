#include "tests/support/watching_bench.hpp"

#include <algorithm>
#include <optional>
#include <utility>

namespace afterload::test {

using instruments::BenchResult;
using instruments::Captured;
using instruments::SimulatedBench;
using instruments::Task;

namespace {

class Notebook {
public:
    Notebook(SimulatedBench& bench, std::shared_ptr<BenchLog> log)
        : bench_{bench}, log_{std::move(log)} {}
    void note(std::string what, double drive = 0.0, bool generator = false) {
        const auto strain = bench_.strain();
        log_->entries.push_back(
            {std::move(what), drive, strain.worst_output, strain.worst_range_use, generator});
    }

private:
    SimulatedBench& bench_;
    std::shared_ptr<BenchLog> log_;
};

class WatchedSource final : public instruments::Source {
public:
    WatchedSource(instruments::Source& source, Notebook& notebook, bool generator)
        : source_{source}, notebook_{notebook}, generator_{generator} {}
    [[nodiscard]] std::string identity() const override { return source_.identity(); }
    [[nodiscard]] VoltsPeak full_scale() const override { return source_.full_scale(); }
    [[nodiscard]] bool channels_apart() const override { return source_.channels_apart(); }
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override {
        double largest = 0.0;
        for (std::size_t channel = 0; channel < 2; ++channel) {
            largest =
                std::max(largest, rms_of_sine(largest_peak(stimulus, channel)).in<VoltsRms>());
        }
        notebook_.note("play", largest, generator_);
        auto played = co_await source_.play(std::move(stimulus));
        co_return played;
    }
    [[nodiscard]] Task<BenchResult<void>> mute() override {
        notebook_.note("mute", 0.0, generator_);
        auto muted = co_await source_.mute();
        co_return muted;
    }

private:
    instruments::Source& source_;
    Notebook& notebook_;
    bool generator_;
};

class WatchedCapture final : public instruments::Capture {
public:
    WatchedCapture(instruments::Capture& capture, Notebook& notebook)
        : capture_{capture}, notebook_{notebook} {}
    [[nodiscard]] std::string identity() const override { return capture_.identity(); }
    [[nodiscard]] SampleRate rate() const override { return capture_.rate(); }
    [[nodiscard]] Task<BenchResult<Captured>> record(Seconds length) override {
        auto captured = co_await capture_.record(length);
        notebook_.note("record");
        co_return captured;
    }

private:
    instruments::Capture& capture_;
    Notebook& notebook_;
};

class WatchedLoad final : public instruments::Load {
public:
    WatchedLoad(instruments::Load& load, Notebook& notebook, bool switched)
        : load_{load}, notebook_{notebook}, switched_{switched} {}
    [[nodiscard]] std::string identity() const override { return load_.identity(); }
    [[nodiscard]] bool connected() const override { return load_.connected(); }
    [[nodiscard]] bool switched() const override { return switched_; }
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override {
        notebook_.note("connect");
        auto connected = co_await load_.connect(resistance);
        co_return connected;
    }
    [[nodiscard]] Task<BenchResult<void>> release() override {
        notebook_.note("release");
        auto released = co_await load_.release();
        co_return released;
    }

private:
    instruments::Load& load_;
    Notebook& notebook_;
    bool switched_;
};

class WatchedRangeSwitch final : public instruments::RangeSwitch {
public:
    WatchedRangeSwitch(instruments::RangeSwitch& ranges, Notebook& notebook)
        : ranges_{ranges}, notebook_{notebook} {}
    [[nodiscard]] std::string selected() const override { return ranges_.selected(); }
    [[nodiscard]] Task<BenchResult<void>> select(std::string range) override {
        notebook_.note("select " + range);
        auto selected = co_await ranges_.select(std::move(range));
        co_return selected;
    }

private:
    instruments::RangeSwitch& ranges_;
    Notebook& notebook_;
};

}  // namespace

struct WatchingBench::Parts {
    Parts(std::unique_ptr<instruments::Bench> inner, std::shared_ptr<BenchLog> log, bool metered,
          bool switched_loads)
        : bench{std::move(inner)},
          notebook{dynamic_cast<SimulatedBench&>(*bench), std::move(log)},
          source{bench->source(), notebook, false},
          capture{bench->capture(), notebook},
          load{bench->load(), notebook, switched_loads},
          ranges{bench->range_switch(), notebook},
          with_meter{metered} {
        if (bench->generator() != nullptr) {
            generator.emplace(*bench->generator(), notebook, true);
        }
    }

    std::unique_ptr<instruments::Bench> bench;
    Notebook notebook;
    WatchedSource source;
    std::optional<WatchedSource> generator;
    WatchedCapture capture;
    WatchedLoad load;
    WatchedRangeSwitch ranges;
    bool with_meter;
};

WatchingBench::WatchingBench(std::unique_ptr<instruments::Bench> bench,
                             std::shared_ptr<BenchLog> log, bool with_meter,
                             bool with_switched_loads)
    : parts_{std::make_unique<Parts>(std::move(bench), std::move(log), with_meter,
                                     with_switched_loads)} {}
WatchingBench::~WatchingBench() = default;

instruments::Clock& WatchingBench::clock() {
    return parts_->bench->clock();
}
instruments::Source& WatchingBench::source() {
    return parts_->source;
}
instruments::Source* WatchingBench::generator() {
    return parts_->generator ? &*parts_->generator : nullptr;
}
instruments::Capture& WatchingBench::capture() {
    return parts_->capture;
}
instruments::Load& WatchingBench::load() {
    return parts_->load;
}
instruments::RangeSwitch& WatchingBench::range_switch() {
    return parts_->ranges;
}
instruments::Meter* WatchingBench::meter() {
    return parts_->with_meter ? parts_->bench->meter() : nullptr;
}
instruments::Hands* WatchingBench::hands() {
    return parts_->bench->hands();
}

}  // namespace afterload::test
