#include "runner/run.hpp"

#include "analysis/verdict.hpp"
#include "runner/disk_room.hpp"
#include "runner/evaluation/evaluate.hpp"
#include "runner/evaluation/further_record.hpp"
#include "runner/evaluation/judgement.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/evaluation/step_path.hpp"
#include "runner/papers.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/safe_state.hpp"
#include "runner/soak/soak_consent.hpp"
#include "runner/soak/soak_file.hpp"
#include "runner/soak/soak_run.hpp"
#include "runner/step_levels.hpp"
#include "runner/step_recorder.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/players.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace afterload::runner {

using instruments::Bench;
using instruments::MeterQuantity;
using instruments::Task;
using sequences::Step;

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

std::optional<MeterQuantity> meter_quantity(const std::string& wanted) {
    for (const auto quantity :
         {MeterQuantity::dc_offset, MeterQuantity::mains_voltage, MeterQuantity::ambient,
          MeterQuantity::heat_sink, MeterQuantity::load_temperature, MeterQuantity::emitter_voltage,
          MeterQuantity::main_rail, MeterQuantity::mains_power, MeterQuantity::tone_rail}) {
        if (instruments::name(quantity) == wanted) {
            return quantity;
        }
    }
    return std::nullopt;
}

bool by_channel(MeterQuantity quantity) {
    return quantity == MeterQuantity::dc_offset || quantity == MeterQuantity::emitter_voltage ||
           quantity == MeterQuantity::main_rail;
}

/// The limit a gate holds an offset against: the unit's own, else the house's.
const RatedFigure* offset_limit(const RatingSheet& sheet) {
    const auto found = std::find_if(
        sheet.figures.begin(), sheet.figures.end(),
        [](const RatedFigure& rated) { return rated.figure == FigureKind::dc_offset; });
    return found == sheet.figures.end() ? nullptr : &*found;
}

/// Durable as far as it goes: after a power cut this is what is left of the run.
RunResult<void> keep(const RunDocument& document, const RunFolder& folder) {
    const auto written = folder.write("run.json", run_json_text(document));
    if (!written) {
        return trouble(Trouble::Kind::disk, written.error());
    }
    return {};
}

/// Carries one run out. Lives as long as the coroutine that made it.
class Run {
public:
    Run(const RunPlan& plan, Bench& bench, Operator& person, Progress& progress,
        const RunFolder& folder, const std::atomic<bool>& stop, RunDocument& document)
        : plan_{plan},
          bench_{bench},
          person_{person},
          progress_{progress},
          folder_{folder},
          document_{document},
          driver_{bench, plan.bench, stop},
          began_{bench.clock().now() - document.lasted},
          recorder_{plan, driver_, person, progress, folder, document, began_} {}

    Task<RunResult<void>> steps() {
        if (const auto question = soak_question(plan_)) {
            auto consent = ask_for_soak(*question, person_);
            if (!consent) {
                co_return tl::unexpected(consent.error());
            }
            consent_ = *std::move(consent);
        }
        const int count = static_cast<int>(plan_.sequence.steps.size());
        for (int i = plan_.begins_at; i < count; ++i) {
            const Step& step = plan_.sequence.steps[static_cast<std::size_t>(i)];
            const std::size_t at = begin_result(step, i);
            if (ended_early_) {
                document_.steps[at].ended = document_.steps[at].started;
                document_.steps[at].skipped = "a figure that ends the run failed before";
                continue;
            }
            progress_.begins(i + 1, count, step.name);
            RunResult<void> done;
            if (step.soak) {
                done = co_await soak(step, at);
            } else {
                done = co_await carry_out_step(step, document_.steps[at]);
            }
            // A soak appends results of its own: the place of this one may have moved.
            StepResult& result = document_.steps[at];
            result.ended = since_start();
            result.bench_time.other =
                std::max(Seconds{0.0}, result.ended - result.started - result.bench_time.total());
            // What is told as ended is on the disk.
            auto kept = keep(document_, folder_);
            if (kept) {
                progress_.ended(i + 1, count, result);
            }
            if (!done) {
                co_return done;
            }
            if (!kept) {
                co_return kept;
            }
            if (auto room = room_to_go_on(folder_.path()); !room) {
                co_return trouble(Trouble::Kind::disk, std::move(room.error()));
            }
            const bool failed =
                std::any_of(result.figures.begin(), result.figures.end(), [](const auto& scored) {
                    return scored.verdict && scored.verdict->kind == analysis::VerdictKind::fail;
                });
            ended_early_ = step.stop_on_fail && failed;
        }
        co_return RunResult<void>{};
    }

    [[nodiscard]] Seconds since_start() const { return bench_.clock().now() - began_; }

private:
    /// Index of the step's result: a new one, or that of the soak that goes on.
    [[nodiscard]] std::size_t begin_result(const Step& step, int index) {
        if (index == plan_.begins_at && step.soak) {
            for (std::size_t i = document_.steps.size(); i-- > 0;) {
                if (document_.steps[i].soak && document_.steps[i].name == step.name) {
                    return i;
                }
            }
        }
        document_.steps.emplace_back();
        document_.steps.back().name = step.name;
        document_.steps.back().started = since_start();
        return document_.steps.size() - 1;
    }

    Task<RunResult<void>> soak(const Step& step, std::size_t at) {
        const auto prepared = co_await prepare(step, document_.steps[at]);
        if (!prepared || !document_.steps[at].skipped.empty()) {
            co_return prepared;
        }
        const auto handed = co_await driver_.hand_over(false);
        if (!handed) {
            co_return handed;
        }
        auto loop = soak_file_loop(step, plan_, folder_);
        if (!loop) {
            co_return tl::unexpected(loop.error());
        }
        SoakAtWork work{step,
                        plan_,
                        driver_,
                        progress_,
                        folder_,
                        document_,
                        at,
                        began_,
                        key_of(path_),
                        terminals_of(path_),
                        consent_,
                        *std::move(loop),
                        [this, &step](const Step& nested, std::string moment) {
                            return measure_within(nested, step.name, std::move(moment));
                        },
                        [this] { return keep(document_, folder_); }};
        const auto ended = co_await carry_out_soak(std::move(work));
        co_return ended;
    }

    /// A step within a soak: its result stands behind that of the soak.
    Task<RunResult<void>> measure_within(const Step& nested, std::string soak, std::string moment) {
        Step step = nested;
        step.name = fmt::format("{}, {}: {}", soak, moment, nested.name);
        document_.steps.emplace_back();
        const std::size_t at = document_.steps.size() - 1;
        document_.steps[at].name = step.name;
        document_.steps[at].started = since_start();
        document_.steps[at].within = soak;
        document_.steps[at].moment = moment;
        const auto done = co_await carry_out_step(step, document_.steps[at]);
        StepResult& result = document_.steps[at];
        result.group = fmt::format("{}, {}", soak,
                                   moment == "start" ? "before it"
                                   : moment == "end" ? "at its end"
                                                     : "after " + moment);
        result.ended = since_start();
        result.bench_time.other =
            std::max(Seconds{0.0}, result.ended - result.started - result.bench_time.total());
        if (!done) {
            co_return done;
        }
        const auto kept = keep(document_, folder_);
        co_return kept;
    }

    /// What comes before a step's signal: the person, the path, the meters.
    Task<RunResult<void>> prepare(const Step& step, StepResult& result) {
        if (step.prompt) {
            const auto answered = co_await ask(step, result);
            if (!answered) {
                co_return answered;
            }
            if (!result.skipped.empty()) {
                co_return RunResult<void>{};
            }
        }
        const auto set = co_await set_path(step);
        if (!set) {
            co_return set;
        }
        result.group = group_of(path_);
        result.group_conditions = group_conditions(path_, plan_.bench, step.load);
        const auto read = co_await read_meters(step, result);
        co_return read;
    }

    Task<RunResult<void>> carry_out_step(const Step& step, StepResult& result) {
        const auto prepared = co_await prepare(step, result);
        if (!prepared || !result.skipped.empty()) {
            co_return prepared;
        }
        std::vector<MeasuredRecord> records;
        StepPath left_at = path_;
        if (step.signal) {
            const auto connected =
                co_await driver_.connect_load(sequences::load_on(plan_.bench, step.load));
            if (!connected) {
                co_return connected;
            }
            // Within a soak the card plays on; all else comes from whoever can.
            const bool generator =
                result.within.empty() && sequences::generator_plays(plan_.bench, step);
            const auto handed = co_await driver_.hand_over(generator);
            if (!handed) {
                co_return handed;
            }
            StepAtWork work{step, path_, slow_, result, records};
            const auto recorded = co_await recorder_.record(work);
            left_at = work.path;
            if (!recorded) {
                co_return recorded;
            }
        }
        const std::size_t spectra = document_.spectra.size();
        judge(step, result, records);
        std::vector<std::string> paths;
        paths.reserve(records.size());
        for (const MeasuredRecord& record : records) {
            paths.push_back(record.stored.path);
        }
        const auto wanted =
            may_record_again(step)
                ? further_records(result.figures, paths, step.record, step.further_record)
                : std::vector<FurtherRecord>{};
        for (const FurtherRecord& further : wanted) {
            StepAtWork work{step, path_, slow_, result, records};
            const auto recorded = co_await recorder_.record_again(work, further);
            if (!recorded) {
                co_return recorded;
            }
            document_.notes.push_back(fmt::format(
                "{}: one further record of {:.3g} s, for its noise alone left “{}” open", step.name,
                further.length.in<Seconds>(), further.figure));
        }
        if (!wanted.empty()) {
            result.figures.clear();
            document_.spectra.resize(spectra);
            judge(step, result, records);
        }
        path_ = left_at;
        co_return RunResult<void>{};
    }

    /// Asks the person; the output is muted while the prompt waits unless the person listens.
    Task<RunResult<void>> ask(const Step& step, StepResult& result) {
        if (!step.prompt->listens) {
            const auto muted = co_await driver_.mute();
            if (!muted) {
                co_return muted;
            }
        }
        const auto prompts =
            std::count_if(plan_.sequence.steps.begin(), plan_.sequence.steps.end(),
                          [](const Step& other) { return other.prompt.has_value(); });
        const Answer answer = person_.ask(*step.prompt, ++asked_, static_cast<int>(prompts));
        if (answer == Answer::stop) {
            co_return trouble(Trouble::Kind::person,
                              "stopped at the prompt of step “" + step.name + "”");
        }
        if (answer == Answer::skip) {
            result.skipped = "skipped at its prompt";
            co_return RunResult<void>{};
        }
        if (bench_.hands() != nullptr) {
            for (const auto& [control, position] : step.prompt->controls) {
                const auto done = co_await bench_.hands()->set(control, position);
                if (!done) {
                    co_return trouble(done.error());
                }
            }
        }
        co_return RunResult<void>{};
    }

    /// Takes over the path that prompt and step state; where everything is simulated, sets it.
    Task<RunResult<void>> set_path(const Step& step) {
        const StepPath before = path_;
        path_ = path_after(path_, step);
        if (bench_.hands() == nullptr) {
            co_return RunResult<void>{};
        }
        const std::vector<std::pair<std::string, std::string>> wanted{{"input", path_.input},
                                                                      {"output", path_.output},
                                                                      {"path", path_.path},
                                                                      {"volume", path_.volume}};
        if (key_of(before) == key_of(path_)) {
            co_return RunResult<void>{};
        }
        if (driver_.driving()) {
            const auto muted = co_await driver_.mute();
            if (!muted) {
                co_return muted;
            }
        }
        for (const auto& [control, position] : wanted) {
            const auto done = co_await bench_.hands()->set(control, position);
            if (!done) {
                co_return trouble(done.error());
            }
        }
        co_return RunResult<void>{};
    }

    Task<RunResult<void>> read_meters(const Step& step, StepResult& result) {
        for (const auto& request : step.meters) {
            const auto quantity = meter_quantity(request.quantity);
            if (!quantity) {
                continue;
            }
            const std::vector<Channels> channels =
                by_channel(*quantity) ? std::vector{Channels::left, Channels::right}
                                      : std::vector{Channels::both};
            for (const Channels channel : channels) {
                const auto read = co_await read_one(*quantity, channel, request, result);
                if (!read) {
                    co_return read;
                }
            }
        }
        // Mains and temperatures travel with every figure, asked for or not.
        slow_.mains_volts = co_await quiet_reading(MeterQuantity::mains_voltage, 0.0);
        slow_.ambient = co_await quiet_reading(MeterQuantity::ambient, not_a_number);
        slow_.heat_sink = co_await quiet_reading(MeterQuantity::heat_sink, not_a_number);
        co_return RunResult<void>{};
    }

    Task<double> quiet_reading(MeterQuantity quantity, double otherwise) {
        instruments::Meter* meter = bench_.meter();
        if (meter == nullptr || !meter->can_read(quantity)) {
            co_return otherwise;
        }
        const auto reading = co_await meter->read(quantity, Channels::both);
        co_return reading ? reading->value : otherwise;
    }

    Task<RunResult<void>> read_one(MeterQuantity quantity, Channels channel,
                                   const sequences::MeterRequest& request, StepResult& result) {
        SlowReading reading;
        reading.quantity = request.quantity;
        reading.channel = channel;
        reading.gate = request.gate;
        bool answered = false;
        instruments::Meter* meter = bench_.meter();
        if (meter != nullptr && meter->can_read(quantity)) {
            const auto got = co_await meter->read(quantity, channel);
            if (!got && request.gate) {
                co_return trouble(Trouble::Kind::gate,
                                  request.quantity + " could not be read, nothing was driven: " +
                                      instruments::text(got.error()));
            }
            if (got) {
                reading.value = got->value;
                reading.u_k1 = got->u_k1;
                reading.source = got->source;
                answered = true;
            }
        } else if (request.gate) {
            const std::string typed = person_.type_in(fmt::format(
                "DC offset at the speaker terminals, {}, as your meter shows it, such as 12 mV",
                name(channel)));
            const auto value =
                sequences::read_quantity(typed, sequences::Dimension::volts_dc, "an offset");
            if (value) {
                reading.value = *value;
                reading.u_k1 = 0.005 * std::abs(*value) + 0.001;
                reading.source = "typed in";
                answered = true;
            }
        }
        if (!answered) {
            if (request.gate) {
                co_return trouble(Trouble::Kind::gate,
                                  fmt::format("{} of {} was not answered: nothing is driven before "
                                              "the offset is known to be good",
                                              request.quantity, name(channel)));
            }
            co_return RunResult<void>{};
        }
        RunResult<void> passed;
        if (request.gate) {
            passed = pass_gate(reading);
        }
        result.readings.push_back(reading);
        co_return passed;
    }

    [[nodiscard]] RunResult<void> pass_gate(SlowReading& reading) const {
        const RatedFigure* limit = offset_limit(plan_.sheet);
        if (limit == nullptr) {
            return trouble(Trouble::Kind::gate,
                           "no sheet states a limit for the DC offset: add dc_offset to the house "
                           "sheet; nothing was driven");
        }
        const double low = limit->limit.at_least.value_or(-limit->limit.at_most.value_or(0.0));
        const double high = limit->limit.at_most.value_or(-low);
        if (reading.value < low || reading.value > high) {
            reading.outcome = "out of its limit";
            return trouble(
                Trouble::Kind::gate,
                fmt::format("DC offset {} is {:.1f} mV, its limit is {:.0f} to {:.0f} mV "
                            "({}): nothing was driven; find the offset first, a load or a "
                            "speaker turns it into heat",
                            name(reading.channel), 1e3 * reading.value, 1e3 * low, 1e3 * high,
                            limit->source));
        }
        reading.outcome = fmt::format("within {:.0f} to {:.0f} mV", 1e3 * low, 1e3 * high);
        return {};
    }

    void judge(const Step& step, StepResult& result, const std::vector<MeasuredRecord>& records) {
        const auto before = std::span{document_.steps}.first(document_.steps.size() - 1);
        const EvaluationContext context{plan_.sheet, plan_.bench, mains_frequency(plan_.sheet),
                                        before};
        evaluate_step(step, path_, records, context, result, document_.spectra);
    }

    const RunPlan& plan_;
    Bench& bench_;
    Operator& person_;
    Progress& progress_;
    const RunFolder& folder_;
    RunDocument& document_;
    Driver driver_;
    Seconds began_;
    StepRecorder recorder_;
    StepPath path_;
    int asked_ = 0;
    bool ended_early_ = false;
    SlowConditions slow_;
    SoakConsent consent_;
};

/// What stands in the document before the first step.
RunDocument opening(const RunPlan& plan) {
    RunDocument document;
    document.id = plan.id;
    document.job = plan.job;
    document.stage = plan.stage;
    document.state = RunState::running;
    document.started = plan.started;
    document.notes = plan.notes;
    document.build = AFTERLOAD_BUILD;
    document.simulation = plan.bench.simulated;
    if (plan.sheet.unit) {
        document.unit = *plan.sheet.unit;
    }
    document.serial = plan.serial;
    document.bench = plan.bench;
    document.sequence_name = plan.sequence.name;
    document.sequence_title = plan.sequence.title;
    document.parameters = plan.parameters;
    document.decision_rule = std::string{decision_rule()};
    document.retest = plan.retest;
    return document;
}

RunResult<void> store_inputs(const RunPlan& plan, const RunFolder& folder, RunDocument& document) {
    for (const InputText& input : plan.inputs) {
        auto stored = folder.write_input(input.role, input.path, input.text);
        if (!stored) {
            return trouble(Trouble::Kind::disk, stored.error());
        }
        document.files.push_back({input.role, stored->path, stored->sha256});
    }
    return {};
}

/// Runs the steps; an exception from anywhere below becomes trouble like any other.
Task<RunResult<void>> guarded_steps(Run& run) {
    std::string what;
    try {
        const auto ended = co_await run.steps();
        co_return ended;
    } catch (const std::exception& error) {
        what = error.what();
    }
    co_return trouble(Trouble::Kind::bench_failed, "the program itself failed: " + what);
}

}  // namespace

Task<RunDocument> carry_out(RunPlan plan, Bench& bench, Operator& person, Progress& progress,
                            const RunFolder& folder, const std::atomic<bool>& stop) {
    RunDocument document = plan.continues ? *plan.continues : opening(plan);
    RunResult<void> ended;
    if (plan.continues) {
        document.state = RunState::running;
        document.stop_reason.clear();
    } else {
        ended = store_inputs(plan, folder, document);
    }
    if (ended) {
        ended = keep(document, folder);
    }
    Run run{plan, bench, person, progress, folder, stop, document};
    if (ended) {
        ended = co_await guarded_steps(run);
    }
    const SafeState safe = co_await make_safe(bench);
    document.lasted = run.since_start();
    document.ended = wall_clock_stamp();
    document.state = ended && safe.safe() ? RunState::done : RunState::stopped;
    if (!ended) {
        document.stop_reason = ended.error().what;
    }
    for (const std::string& failure : safe.failures) {
        document.notes.push_back("making safe: " + failure);
    }
    if (!safe.safe()) {
        document.stop_reason += (document.stop_reason.empty() ? "" : "; ") +
                                std::string{
                                    "the source did not confirm that it is silent: switch "
                                    "the unit off at its mains switch now"};
    }
    for (const std::string& note : person.notes()) {
        document.notes.push_back("note: " + note);
    }
    complete(document, plan.sheet);
    if (const auto kept = keep(document, folder); !kept) {
        document.state = RunState::stopped;
        document.stop_reason += (document.stop_reason.empty() ? "" : "; ") + kept.error().what;
        conclude(document);
    } else if (const auto papers = write_papers(document, folder); !papers) {
        document.notes.push_back(papers.error());
    }
    co_return document;
}

}  // namespace afterload::runner
