#include "runner/replay.hpp"

#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/figure_families.hpp"
#include "runner/evaluation/judgement.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/evaluation/step_path.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/retest/retest_steps.hpp"
#include "sequences/bench_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/sequence_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>

namespace afterload::runner {
namespace {

using Failure = tl::unexpected<std::string>;

std::string first_mistake(const sequences::Diagnostics& mistakes) {
    return sequences::text(mistakes);
}

struct Inputs {
    std::optional<RatingSheet> unit;
    std::optional<RatingSheet> house;
    std::optional<sequences::Sequence> sequence;
};

tl::expected<Inputs, std::string> read_inputs(const RunFolder& folder, const RunDocument& stored) {
    Inputs inputs;
    for (const UsedFile& file : stored.files) {
        auto text = folder.read_used(file);
        if (!text) {
            return Failure(text.error());
        }
        if (file.role == "rating" || file.role == "house") {
            auto sheet = sequences::read_rating(*text, file.path);
            if (!sheet) {
                return Failure(first_mistake(sheet.error()));
            }
            (file.role == "rating" ? inputs.unit : inputs.house) = *std::move(sheet);
        } else if (file.role == "sequence") {
            const sequences::Overrides overrides{stored.parameters.begin(),
                                                 stored.parameters.end()};
            auto sequence = sequences::read_sequence(*text, file.path, overrides);
            if (!sequence) {
                return Failure(first_mistake(sequence.error()));
            }
            inputs.sequence = *std::move(sequence);
            if (stored.retest) {
                auto fewer = reduced(*std::move(inputs.sequence), *stored.retest);
                if (!fewer) {
                    return Failure(fewer.error());
                }
                inputs.sequence = *std::move(fewer);
            }
        }
    }
    if (!inputs.unit || !inputs.sequence) {
        return Failure(folder.path() + ": the run names no rating sheet or no sequence of its own");
    }
    return inputs;
}

/// A level that was driven as `rated` is so many watts of the sheet of then. Under a sheet that
/// rates another power it is that output, and no longer the rated one.
void hold_to_what_was_driven(std::vector<MeasuredRecord>& records, const RatingSheet& then,
                             const RatingSheet& now, const sequences::BenchFile& bench) {
    for (MeasuredRecord& record : records) {
        DrivenAs& driven = record.stored.driven;
        const auto* entry = load_of(bench, 1, driven.load);
        const Ohms load = entry != nullptr ? entry->resistance : usual_load;
        if (!driven.target || driven.target->kind != LevelTarget::Kind::rated_fraction) {
            continue;
        }
        const Channels channels = driven.drive_left_volts > 0.0 && driven.drive_right_volts > 0.0
                                      ? Channels::both
                                  : driven.drive_left_volts > 0.0 ? Channels::left
                                                                  : Channels::right;
        const auto was = watts_of(*driven.target, then, load, channels);
        const auto is = watts_of(*driven.target, now, load, channels);
        const bool same = was && is && std::abs(*is / *was - 1.0) <= 0.01;
        if (was && !same) {
            driven.target = LevelTarget{LevelTarget::Kind::output_power, was->in<Watts>()};
        }
    }
}

tl::expected<std::vector<MeasuredRecord>, std::string> read_records(const RunFolder& folder,
                                                                    const StepResult& step) {
    std::vector<MeasuredRecord> records;
    // A further record gives the figures in the place of the one that it supersedes.
    std::vector<StoredRecord> counting;
    std::vector<StoredRecord> further;
    for (const StoredRecord& stored : step.records) {
        (stored.supersedes.empty() ? counting : further).push_back(stored);
    }
    for (StoredRecord& stored : counting) {
        const auto in_place = std::find_if(
            further.begin(), further.end(),
            [&](const StoredRecord& other) { return other.supersedes == stored.path; });
        if (in_place != further.end()) {
            stored = *in_place;
        }
    }
    for (const StoredRecord& stored : counting) {
        auto record = folder.load(stored);
        if (!record) {
            return Failure(record.error());
        }
        records.push_back({*std::move(record), stored});
    }
    return records;
}

}  // namespace

tl::expected<RunDocument, std::string> replay(const RunFolder& folder, const RunDocument& stored,
                                              const OtherSheets* other) {
    const auto inputs = read_inputs(folder, stored);
    if (!inputs) {
        return Failure(inputs.error());
    }
    const auto laid = [](const RatingSheet& unit, const std::optional<RatingSheet>& house) {
        return house ? laid_under(unit, *house) : unit;
    };
    const RatingSheet own = laid(*inputs->unit, inputs->house);
    const RatingSheet sheet =
        other != nullptr ? laid(other->unit, other->house ? other->house : inputs->house) : own;
    const auto mains = mains_frequency(sheet);
    RunDocument again = stored;
    again.spectra.clear();
    StepPath path;
    for (std::size_t i = 0; i < again.steps.size() && i < inputs->sequence->steps.size(); ++i) {
        const sequences::Step& step = inputs->sequence->steps[i];
        StepResult& result = again.steps[i];
        if (!result.skipped.empty()) {
            continue;
        }
        path = path_after(path, step);
        auto records = read_records(folder, result);
        if (!records) {
            return Failure(records.error());
        }
        if (other != nullptr) {
            hold_to_what_was_driven(*records, own, sheet, stored.bench);
        }
        result.figures.clear();
        const EvaluationContext context{sheet, stored.bench, mains,
                                        std::span{again.steps}.first(i)};
        evaluate_step(step, path, *records, context, result, again.spectra);
    }
    complete(again, sheet);
    return again;
}

std::vector<std::string> differences(const RunDocument& stored, const RunDocument& again) {
    std::vector<std::string> lines;
    for (std::size_t i = 0; i < std::max(stored.steps.size(), again.steps.size()); ++i) {
        if (i >= stored.steps.size() || i >= again.steps.size()) {
            lines.push_back("a step is missing");
            break;
        }
        const auto& before = stored.steps[i].figures;
        const auto& after = again.steps[i].figures;
        if (before.size() != after.size()) {
            lines.push_back(stored.steps[i].name + ": another number of figures");
            continue;
        }
        for (std::size_t f = 0; f < before.size(); ++f) {
            const std::string was = scored_figure_json(before[f]).dump();
            const std::string is = scored_figure_json(after[f]).dump();
            if (was != is) {
                lines.push_back(fmt::format("{}: {} was {}", before[f].id, is, was));
            }
        }
    }
    return lines;
}

}  // namespace afterload::runner
