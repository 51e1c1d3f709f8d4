#include "tests/soak/soak_bench.hpp"

#include "runner/open_bench.hpp"
#include "runner/run_to_end.hpp"
#include "tests/support/simulated_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <stdexcept>
#include <utility>

namespace afterload::test {

namespace {

/// The simulated bench, which tells what it suffered when it goes, and stops a run at its time.
class ToldBench final : public instruments::Bench {
public:
    ToldBench(std::unique_ptr<instruments::Bench> bench, instruments::Strain& strain)
        : bench_{std::move(bench)}, strain_{strain} {}
    ~ToldBench() override {
        if (auto* simulated = dynamic_cast<instruments::SimulatedBench*>(bench_.get())) {
            strain_ = simulated->strain();
        }
    }

    instruments::Clock& clock() override { return bench_->clock(); }
    instruments::Source& source() override { return bench_->source(); }
    instruments::Capture& capture() override { return bench_->capture(); }
    instruments::Load& load() override { return bench_->load(); }
    instruments::RangeSwitch& range_switch() override { return bench_->range_switch(); }
    instruments::Meter* meter() override { return bench_->meter(); }
    instruments::Hands* hands() override { return bench_->hands(); }
    instruments::MainsSwitch* mains_switch() override { return bench_->mains_switch(); }

private:
    std::unique_ptr<instruments::Bench> bench_;
    instruments::Strain& strain_;
};

/// Sets the stop flag when the soak has told of so many minutes: progress comes once a minute.
class StoppingProgress final : public runner::Progress {
public:
    StoppingProgress(std::atomic<bool>& stop, instruments::Clock& clock,
                     std::optional<Seconds> after)
        : stop_{stop}, clock_{clock}, after_{after} {}
    void begins(int, int, const std::string&) override {}
    void doing(const std::string&) override {
        if (after_ && clock_.now() >= *after_) {
            stop_.store(true);
        }
    }
    void ended(int, int, const runner::StepResult&) override {}

private:
    std::atomic<bool>& stop_;
    instruments::Clock& clock_;
    std::optional<Seconds> after_;
};

}  // namespace

const runner::StepResult& Soaked::step() const {
    const auto found = std::find_if(document.steps.begin(), document.steps.end(),
                                    [](const auto& one) { return bool{one.soak}; });
    if (found == document.steps.end()) {
        throw std::runtime_error("no soak was begun: " + document.stop_reason);
    }
    return *found;
}

std::vector<runner::RunEvent> Soaked::of_kind(const std::vector<std::string>& kinds) const {
    std::vector<runner::RunEvent> found;
    std::copy_if(events().begin(), events().end(), std::back_inserter(found),
                 [&](const runner::RunEvent& event) {
                     return std::find(kinds.begin(), kinds.end(), event.kind) != kinds.end();
                 });
    return found;
}

std::string Soaked::told() const {
    std::string text = fmt::format("{} after {:.3f} s: {}\n", soak().state,
                                   soak().lasted.in<Seconds>(), soak().why);
    for (const runner::RunEvent& event : events()) {
        text += fmt::format("{:.6f} {} {} {:.9g} {} {} {} {} {}\n", event.since_start.in<Seconds>(),
                            event.kind, event.channel, event.size, event.unit,
                            event.duration.in<Seconds>(), runner::name(event.blame), event.reaction,
                            event.note);
    }
    for (const runner::SoakDecision& decision : soak().decisions) {
        text += fmt::format("  {:.3f} {} {} {} {}\n", decision.at.in<Seconds>(), decision.what,
                            decision.reaction, decision.event, decision.because);
    }
    return text;
}

Soaked soaked(const WantedSoak& wanted, const std::string& parent, const std::string& name) {
    SimulatedRun run;
    run.sequence = wanted.sequence;
    run.bench = "benches/north-48k.bench.yaml";
    run.set = {{"duration", fmt::format("{} s", 60.0 * wanted.minutes)},
               {"signal", wanted.signal},
               {"every", fmt::format("{} s", std::max(10.0, 30.0 * wanted.minutes))}};
    runner::RunPlan plan = plan_of(run);
    plan.id = name;
    plan.started = "2026-03-14T21:05:00.000Z";
    plan.bench.card.rate = SampleRate{wanted.rate};
    plan.bench.simulated->faults = wanted.faults;
    if (wanted.run_seed) {
        plan.bench.simulated->run_seed = *wanted.run_seed;
    }
    for (int i = 1; i < wanted.sink_sensors; ++i) {
        plan.bench.meters.push_back(
            {fmt::format("sensor {}", i + 1), {"heat_sink"}, {}, {}, 0.005});
    }
    for (sequences::Step& step : plan.sequence.steps) {
        if (step.soak == nullptr) {
            continue;
        }
        auto soak = std::make_shared<sequences::Soak>(*step.soak);
        if (!wanted.remeasure) {
            soak->remeasure.clear();
        }
        if (wanted.change) {
            wanted.change(*soak);
        }
        step.soak = std::move(soak);
    }
    if (wanted.change_plan) {
        wanted.change_plan(plan);
    }
    const auto folder = runner::RunFolder::make(parent, name);
    if (!folder) {
        throw std::runtime_error(folder.error());
    }
    runner::AssumedOperator person;
    auto opened = runner::run_to_end(runner::open_bench(plan.bench, plan.sheet.unit->mains_voltage,
                                                        plan.sheet.unit->mains_frequency, person));
    if (!opened) {
        throw std::runtime_error(opened.error());
    }
    Soaked done;
    done.folder = folder->path();
    {
        ToldBench bench{std::move(opened->bench), done.strain};
        std::atomic<bool> stop{false};
        StoppingProgress progress{stop, bench.clock(), wanted.stop_after};
        done.document = runner::run_to_end(
            runner::carry_out(std::move(plan), bench, person, progress, *folder, stop));
    }
    return done;
}

sequences::FaultEntry fault(std::string name, Channels channel, double severity,
                            std::optional<double> begins, std::optional<double> above) {
    sequences::FaultEntry entry;
    entry.fault = std::move(name);
    entry.channel = channel;
    entry.severity = severity;
    if (begins) {
        entry.begins = Seconds{*begins};
    }
    if (above) {
        entry.above = Celsius{*above};
    }
    return entry;
}

}  // namespace afterload::test
