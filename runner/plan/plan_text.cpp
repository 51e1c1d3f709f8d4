#include "runner/plan/plan_text.hpp"

#include "runner/acquire.hpp"
#include "runner/level_steps.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace afterload::runner {
namespace {

constexpr std::size_t name_start = 4;
constexpr std::size_t detail_start = 6;
constexpr std::size_t numbers_width = 29;  // "about", "at most", heat

std::string seconds_text(Seconds time) {
    return fixed(time.in<Seconds>(), 1);
}

std::string joules_text(double joules) {
    return joules >= 1000.0 ? fmt::format("{:.1f} kJ", 1e-3 * joules)
                            : fmt::format("{:.0f} J", joules);
}

/// Of the channel that gets more.
const PlannedHeat& hotter(const PlannedStep& step) {
    return step.heat[0].at_most >= step.heat[1].at_most ? step.heat[0] : step.heat[1];
}

class PlanText {
public:
    PlanText(const PlannedRun& plan, const Terminal& terminal) : plan_{plan}, terminal_{terminal} {}

    std::string written() {
        paragraph(fmt::format("{} on {}, bench {}: {} steps, {} prompts. Nothing is driven now.",
                              plan_.sequence, plan_.unit, plan_.bench, plan_.steps.size(),
                              plan_.prompts.size()));
        out_ += '\n';
        TextLine head{terminal_};
        const std::size_t end = terminal_.width;
        head.ending_at(end - 18, "about", Emphasis::faint)
            .ending_at(end - 9, "at most", Emphasis::faint)
            .ending_at(end, "heat", Emphasis::faint);
        out_ += head.text();
        int number = 0;
        for (const PlannedStep& step : plan_.steps) {
            add(step, ++number);
        }
        out_ += '\n';
        prompts();
        times();
        loads();
        return std::move(out_);
    }

private:
    void paragraph(const std::string& text, std::size_t indent = 0, std::size_t hanging = 0,
                   Emphasis emphasis = Emphasis::plain) {
        out_ += wrapped(text, indent, hanging, terminal_, emphasis);
    }

    void add(const PlannedStep& step, int number) {
        const std::size_t end = terminal_.width;
        TextLine line{terminal_};
        line.ending_at(name_start - 1, fmt::format("{}", number), Emphasis::faint)
            .to(name_start)
            .put(cut(step.name, end - name_start - numbers_width, terminal_), Emphasis::bold);
        if (step.records > 0) {
            line.ending_at(end - 18, seconds_text(step.about.total()) + " s")
                .ending_at(end - 9, seconds_text(step.at_most) + " s");
            if (hotter(step).at_most > 0.0) {
                line.ending_at(end, joules_text(hotter(step).at_most));
            }
        }
        out_ += line.text();
        if (!step.prompt.empty()) {
            paragraph("prompt: " + step.prompt, detail_start, detail_start, Emphasis::act);
        }
        if (!step.plays.empty()) {
            paragraph(step.plays, detail_start, detail_start, Emphasis::faint);
        }
        if (!step.answers.empty()) {
            paragraph(fmt::format("answers {}", fmt::join(step.answers, ", ")), detail_start,
                      detail_start + 2);
        }
    }

    void prompts() {
        if (plan_.prompts.empty()) {
            paragraph("No prompts.");
        }
        int number = 0;
        for (const std::string& prompt : plan_.prompts) {
            paragraph(fmt::format("prompt {}: {}", ++number, prompt), 0, 10);
        }
    }

    void times() {
        const BenchTime& time = plan_.about;
        paragraph(fmt::format("Bench time about {}: recording {} s, settling {} s, level finding "
                              "{} s, dwell {} s; prompts and switching come on top.",
                              duration_words(time.total()), seconds_text(time.recording),
                              seconds_text(time.settling), seconds_text(time.level_finding),
                              seconds_text(time.dwell)),
                  0, 2);
        paragraph(fmt::format("Never more than {}: every record taken {} times, every further "
                              "record at its longest, every level found at the last of {} tries. "
                              "The heat of each step is what a load gets then.",
                              duration_words(plan_.at_most), most_captures, most_level_steps),
                  0, 2);
    }

    void loads() {
        if (plan_.loads.empty()) {
            paragraph("The bench has no loads.");
        }
        for (const PlannedLoad& load : plan_.loads) {
            if (load.heat.highest <= 0.0) {
                paragraph(fmt::format("Load {}: nothing goes into it.", load.channel), 0, 2);
                continue;
            }
            paragraph(
                fmt::format("Load {} ({}, {} continuous): about {}, never more than {}, at most {} "
                            "at a time.",
                            load.channel, quantity_text(load.resistance.in<Ohms>(), "Ω", 4),
                            quantity_text(load.continuous.in<Watts>(), "W", 3),
                            joules_text(load.heat.about), joules_text(load.heat.at_most),
                            quantity_text(load.heat.highest, "W", 3)),
                0, 2);
        }
    }

    const PlannedRun& plan_;
    const Terminal& terminal_;
    std::string out_;
};

Json heat_json(const PlannedHeat& heat) {
    Json out;
    out["about_j"] = heat.about;
    out["at_most_j"] = heat.at_most;
    out["highest_w"] = heat.highest;
    return out;
}

Json time_json(const BenchTime& about, Seconds at_most) {
    Json out;
    out["recording_s"] = about.recording.in<Seconds>();
    out["settling_s"] = about.settling.in<Seconds>();
    out["level_finding_s"] = about.level_finding.in<Seconds>();
    out["dwell_s"] = about.dwell.in<Seconds>();
    out["about_s"] = about.total().in<Seconds>();
    out["at_most_s"] = at_most.in<Seconds>();
    return out;
}

}  // namespace

std::string plan_text(const PlannedRun& plan, const Terminal& terminal) {
    return PlanText{plan, terminal}.written();
}

Json plan_json(const PlannedRun& plan) {
    Json out;
    out["schema"] = "afterload/plan/1";
    out["unit"] = plan.unit;
    out["sequence"] = plan.sequence;
    out["bench"] = plan.bench;
    out["steps"] = Json::array();
    for (const PlannedStep& step : plan.steps) {
        Json entry;
        entry["name"] = step.name;
        entry["prompt"] = step.prompt;
        entry["plays"] = step.plays;
        entry["answers"] = step.answers;
        entry["records"] = step.records;
        entry["bench_time"] = time_json(step.about, step.at_most);
        entry["heat"]["left"] = heat_json(step.heat[0]);
        entry["heat"]["right"] = heat_json(step.heat[1]);
        out["steps"].push_back(std::move(entry));
    }
    out["prompts"] = plan.prompts;
    out["bench_time"] = time_json(plan.about, plan.at_most);
    out["loads"] = Json::array();
    for (const PlannedLoad& load : plan.loads) {
        Json entry = heat_json(load.heat);
        entry["channel"] = load.channel;
        entry["resistance_ohm"] = load.resistance.in<Ohms>();
        entry["continuous_w"] = load.continuous.in<Watts>();
        out["loads"].push_back(std::move(entry));
    }
    return out;
}

}  // namespace afterload::runner
