#include "tests/scenarios/scenario.hpp"

#include "runner/hints/hints.hpp"
#include "sequences/hint_reader.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/yaml.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace afterload::test {
namespace {

using sequences::Node;

std::string text_of(const Node& root, const std::string& key, const std::string& otherwise = "") {
    const Node* node = root.find(key);
    return node == nullptr ? otherwise : node->text;
}

std::vector<FigurePattern> patterns(const Node& root, const std::string& key) {
    std::vector<FigurePattern> all;
    if (const Node* list = root.find(key)) {
        for (const Node& item : list->items) {
            all.push_back({item.text});
        }
    }
    return all;
}

Channels channel_named(const std::string& word) {
    return word == "left" ? Channels::left : word == "right" ? Channels::right : Channels::both;
}

std::vector<sequences::FaultEntry> faults(const Node& root) {
    std::vector<sequences::FaultEntry> all;
    const Node* list = root.find("faults");
    if (list == nullptr) {
        return all;
    }
    for (const Node& item : list->items) {
        sequences::FaultEntry fault;
        fault.fault = text_of(item, "fault");
        fault.channel = channel_named(text_of(item, "channel", "both"));
        fault.severity = std::stod(text_of(item, "severity", "0.5"));
        all.push_back(std::move(fault));
    }
    return all;
}

bool failed(const runner::ScoredFigure& scored) {
    return scored.verdict && scored.verdict->kind == analysis::VerdictKind::fail;
}

bool bad(const runner::ScoredFigure& scored) {
    return failed(scored) ||
           (scored.verdict && scored.verdict->kind == analysis::VerdictKind::conditional_fail);
}

}  // namespace

bool FigurePattern::matches(const runner::StepResult& step,
                            const runner::ScoredFigure& scored) const {
    std::istringstream words{text};
    std::string word;
    words >> word;
    if (word != name(scored.figure.kind)) {
        return false;
    }
    while (words >> word) {
        if (word == "left" || word == "right") {
            const int channel = word == "left" ? 1 : 2;
            if (scored.figure.channel != channel) {
                return false;
            }
        } else if (word == "at") {
            std::string number;
            std::string unit;
            words >> number >> unit;
            const auto level =
                sequences::read_level(number + " " + unit, sequences::LevelUse::step, "a level");
            if (!level || scored.figure.conditions.output_level != *level) {
                return false;
            }
        } else if (word == "near") {
            std::string number;
            std::string unit;
            words >> number >> unit;
            const auto wanted = sequences::read_quantity(
                number + " " + unit, sequences::Dimension::hertz, "a frequency");
            const auto& has = scored.figure.conditions.frequency;
            if (!wanted || !has || std::abs(has->in<Hertz>() / *wanted - 1.0) > 0.03) {
                return false;
            }
        } else if (word == "in") {
            std::string group;
            std::getline(words, group);
            if (" " + step.group != group) {
                return false;
            }
        } else {
            throw std::runtime_error("a scenario's figure has a word that means nothing: " + word);
        }
    }
    return true;
}

Scenario read_scenario(const std::string& path) {
    std::ifstream file{path};
    std::ostringstream text;
    text << file.rdbuf();
    const std::string held = text.str();
    const sequences::SourceText source{held};
    sequences::Diagnostics mistakes;
    mistakes.path = path;
    const auto document = sequences::read_yaml(held, source, mistakes);
    if (!mistakes.empty()) {
        throw std::runtime_error(sequences::text(mistakes));
    }
    const Node& root = document.root;
    Scenario scenario;
    scenario.file = path;
    scenario.name = text_of(root, "scenario");
    scenario.run.sequence = text_of(root, "sequence", "final-verification");
    scenario.run.unit = text_of(root, "unit", scenario.run.unit);
    // The card at 48 kHz and a short dwell unless the scenario says otherwise: the same figures
    // sooner.
    scenario.run.bench = text_of(root, "bench", "benches/north-48k.bench.yaml");
    if (const auto stage = runner::stage(text_of(root, "stage", "repaired"))) {
        scenario.run.stage = *stage;
    }
    if (scenario.run.sequence == "final-verification" && root.find("bench") == nullptr) {
        scenario.run.set = {{"top", "5997 Hz"}, {"dwell", "1 s"}, {"quiet_record", "2 s"}};
    }
    if (const Node* set = root.find("set")) {
        for (const auto& entry : set->entries) {
            scenario.run.set.emplace_back(entry.key, entry.value.text);
        }
    }
    scenario.faults = faults(root);
    const std::string headroom = text_of(root, "headroom");
    scenario.run.change = [all = scenario.faults, headroom](runner::RunPlan& plan) {
        plan.bench.simulated->faults = all;
        if (!headroom.empty()) {
            plan.bench.simulated->headroom =
                Gain{sequences::read_quantity(headroom, sequences::Dimension::decibels, "headroom")
                         .value()};
        }
    };
    scenario.verdict = text_of(root, "verdict");
    scenario.hint = text_of(root, "hint");
    scenario.stop_reason = text_of(root, "stop_reason");
    scenario.fails = patterns(root, "fails");
    scenario.in_doubt = patterns(root, "in_doubt");
    scenario.stays_good = patterns(root, "stays_good");
    return scenario;
}

std::vector<std::string> scenario_files() {
    std::vector<std::string> files;
    for (const auto& entry : std::filesystem::directory_iterator(std::string{AFTERLOAD_SOURCE_DIR} +
                                                                 "/fixtures/scenarios")) {
        if (entry.path().string().ends_with(".scenario.yaml")) {
            files.push_back(entry.path().string());
        }
    }
    std::sort(files.begin(), files.end());
    return files;
}

std::vector<std::string> objections(const Scenario& scenario, const runner::RunDocument& run) {
    std::vector<std::string> lines;
    const auto each = [&](const FigurePattern& pattern, auto&& look) {
        for (const auto& step : run.steps) {
            for (const auto& scored : step.figures) {
                if (scored.verdict && pattern.matches(step, scored)) {
                    look(scored);
                }
            }
        }
    };
    const auto one_must = [&](const FigurePattern& pattern, std::string_view what, auto&& is_so) {
        bool any = false;
        std::string seen;
        each(pattern, [&](const runner::ScoredFigure& scored) {
            any = any || is_so(scored);
            seen += fmt::format(" [{} {:.4g}: {}]", scored.id, scored.figure.value.value_or(NAN),
                                name(scored.verdict->kind));
        });
        if (!any) {
            lines.push_back(fmt::format("must {} and does not: {}{}", what, pattern.text, seen));
        }
    };
    for (const auto& pattern : scenario.fails) {
        one_must(pattern, "fail", failed);
    }
    for (const auto& pattern : scenario.in_doubt) {
        one_must(pattern, "fail conditionally", [](const runner::ScoredFigure& scored) {
            return scored.verdict->kind == analysis::VerdictKind::conditional_fail;
        });
    }
    for (const auto& pattern : scenario.stays_good) {
        bool any = false;
        each(pattern, [&](const runner::ScoredFigure& scored) {
            any = true;
            if (bad(scored)) {
                lines.push_back(fmt::format("must not fail: {} ({:.4g}, {}: {})", scored.id,
                                            scored.figure.value.value_or(NAN),
                                            name(scored.verdict->kind), scored.verdict->reason));
            }
        });
        if (!any) {
            lines.push_back("is not there: " + pattern.text);
        }
    }
    if (name(run.verdict) != scenario.verdict) {
        lines.push_back("the run's verdict is " + std::string{name(run.verdict)} + ", not " +
                        scenario.verdict + (run.stop_reason.empty() ? "" : ": " + run.stop_reason));
    }
    const runner::Hints hints = runner::hints_for(run, sequences::shipped_hints());
    const std::string first = hints.hints.empty() ? "none" : hints.hints.front().family;
    if (!scenario.hint.empty() && first != scenario.hint) {
        lines.push_back("the hint that comes first is " + first + ", not " + scenario.hint);
    }
    if (run.stop_reason.find(scenario.stop_reason) == std::string::npos) {
        lines.push_back("the reason to stop is: " + run.stop_reason);
    }
    return lines;
}

}  // namespace afterload::test
