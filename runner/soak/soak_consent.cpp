#include "runner/soak/soak_consent.hpp"

#include "runner/wall_clock.hpp"
#include "sequences/sequence_reader.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::runner {

std::optional<std::string> cannot_be_left(const sequences::BenchFile& bench) {
    const bool sensor =
        std::any_of(bench.meters.begin(), bench.meters.end(), [&](const auto& meter) {
            // A meter that somebody has to read is no sensor when nobody is there.
            const bool by_itself =
                bench.simulated.has_value() || !meter.instrument.empty() || !meter.file.empty();
            return by_itself && std::find(meter.reads.begin(), meter.reads.end(), "heat_sink") !=
                                    meter.reads.end();
        });
    const bool cut_out = !bench.cut_out.empty() && bench.cut_out != "none";
    if (sensor && cut_out) {
        return std::nullopt;
    }
    return fmt::format("bench {}: {}{}{}", bench.name,
                       sensor ? "" : "no sensor on the unit (meters: with heat_sink)",
                       !sensor && !cut_out ? ", and " : "",
                       cut_out ? "" : "no independent cut-out (cut_out:)");
}

std::optional<SoakQuestion> soak_question(const RunPlan& plan) {
    SoakQuestion question;
    const auto add_cautions = [&](const std::vector<std::string>& cautions) {
        for (const std::string& caution : cautions) {
            std::string text{sequences::caution_text(caution)};
            auto& all = question.cautions;
            if (std::find(all.begin(), all.end(), text) == all.end()) {
                all.push_back(std::move(text));
            }
        }
    };
    for (const sequences::Step& step : plan.sequence.steps) {
        if (step.soak == nullptr) {
            continue;
        }
        question.duration += step.soak->duration;
        question.level = question.level.empty() ? text(step.soak->level) : question.level;
        add_cautions(step.cautions);
    }
    if (!(question.duration > Seconds{0.0})) {
        return std::nullopt;
    }
    add_cautions({"unattended", "hot_load", "mains", "local_code"});
    if (plan.sheet.unit) {
        question.unit = plan.sheet.unit->maker + " " + plan.sheet.unit->model;
    }
    if (!plan.serial.empty()) {
        question.unit += ", " + plan.serial;
    }
    if (auto why = cannot_be_left(plan.bench)) {
        question.must_stay = true;
        question.why = *std::move(why);
    }
    return question;
}

RunResult<SoakConsent> ask_for_soak(const SoakQuestion& question, Operator& person) {
    const auto yes = person.consent(question);
    if (!yes) {
        return trouble(Trouble::Kind::person,
                       question.must_stay
                           ? question.why + ": it is not left on load unless somebody stays"
                           : "nobody said yes to leaving the unit on load: nothing was driven");
    }
    if (question.must_stay && !yes->stays) {
        return trouble(Trouble::Kind::person,
                       question.why + ": it is not left on load unless somebody stays");
    }
    if (!yes->stays && yes->reachable.empty()) {
        return trouble(Trouble::Kind::person,
                       "nobody can be reached while it runs: nothing was driven");
    }
    SoakConsent consent;
    consent.stays = yes->stays;
    consent.reachable = yes->reachable;
    consent.duration = question.duration;
    consent.answered = wall_clock_stamp();
    consent.cautions = question.cautions;
    return consent;
}

}  // namespace afterload::runner
