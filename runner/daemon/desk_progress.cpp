#include "runner/daemon/desk_progress.hpp"

#include "analysis/verdict.hpp"

#include <map>

namespace afterload::runner {

Json run_position_json(const RunPosition& position) {
    Json document;
    document["queue"] = position.queue_id;
    document["run"] = position.run;
    document["step"] = position.step;
    document["steps"] = position.steps;
    document["step_name"] = position.step_name;
    document["doing"] = position.doing;
    return document;
}

void DeskProgress::named(const std::string& id, const std::string& folder) {
    at_.run = id;
    at_.folder = folder;
    moved_(at_);
    events_.tell("run_begins", Json{{"queue", at_.queue_id}, {"run", id}});
}

void DeskProgress::begins(int number, int count, const std::string& step) {
    at_.step = number;
    at_.steps = count;
    at_.step_name = step;
    at_.doing.clear();
    moved_(at_);
    events_.tell("step_begins", run_position_json(at_));
}

void DeskProgress::doing(const std::string& what) {
    at_.doing = what;
    moved_(at_);
    events_.mention("doing", run_position_json(at_));
}

void DeskProgress::ended(int number, int count, const StepResult& step) {
    std::map<std::string, int> verdicts;
    for (const ScoredFigure& figure : step.figures) {
        if (figure.verdict) {
            ++verdicts[std::string{analysis::name(figure.verdict->kind)}];
        }
    }
    Json told{{"queue", at_.queue_id}, {"run", at_.run},         {"step", number},
              {"steps", count},        {"step_name", step.name}, {"skipped", step.skipped}};
    told["verdicts"] = Json::object();
    for (const auto& [verdict, times] : verdicts) {
        told["verdicts"][verdict] = times;
    }
    told["retakes"] = step.retakes.size();
    events_.tell("step_ended", std::move(told));
}

}  // namespace afterload::runner
