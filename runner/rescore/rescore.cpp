#include "runner/rescore/rescore.hpp"

#include "runner/papers/run_json.hpp"
#include "runner/record/folder_check.hpp"
#include "runner/replay.hpp"
#include "sequences/rating_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <utility>

namespace afterload::runner {
namespace {

using Failure = tl::unexpected<std::string>;

const InputText* sheet_of(const std::vector<InputText>& sheets, std::string_view role) {
    const auto found = std::find_if(sheets.begin(), sheets.end(),
                                    [&](const InputText& one) { return one.role == role; });
    return found == sheets.end() ? nullptr : &*found;
}

tl::expected<std::optional<RatingSheet>, std::string> read_sheet(
    const std::vector<InputText>& sheets, std::string_view role) {
    const InputText* text = sheet_of(sheets, role);
    if (text == nullptr) {
        return std::optional<RatingSheet>{};
    }
    auto sheet = sequences::read_rating(text->text, text->path);
    if (!sheet) {
        return Failure(sequences::text(sheet.error()));
    }
    return std::optional{*std::move(sheet)};
}

Json side_json(const ScoredFigure* entry) {
    if (entry == nullptr) {
        return nullptr;
    }
    const Json whole = scored_figure_json(*entry);
    Json out;
    for (const char* key : {"value", "bound", "bound_is", "u_k1", "verdict", "margin", "reason"}) {
        if (whole.contains(key)) {
            out[key] = whole[key];
        }
    }
    out["rating"] = whole.contains("rating") ? whole["rating"] : Json(nullptr);
    return out;
}

std::string comparable(const ScoredFigure& entry) {
    return side_json(&entry).dump();
}

}  // namespace

tl::expected<RunDocument, std::string> rescored(const RunFolder& folder, const RunDocument& run,
                                                const std::vector<InputText>& sheets) {
    const auto faults = faults_of_folder(folder, run);
    if (!faults.empty()) {
        std::string text = fmt::format("{}: is not whole, nothing was scored:", folder.path());
        for (const FolderFault& fault : faults) {
            text += "\n  " + fault.text();
        }
        return Failure(text);
    }
    if (!run.records_kept) {
        return Failure(folder.path() + ": keeps no records; there is nothing to score again");
    }
    auto unit = read_sheet(sheets, "rating");
    auto house = read_sheet(sheets, "house");
    for (const auto* one : {&unit, &house}) {
        if (!*one) {
            return Failure(one->error());
        }
    }
    if (!*unit || !(*unit)->unit) {
        return Failure(
            fmt::format("{}: is a house sheet and names no unit; give it with --house",
                        *unit ? sheet_of(sheets, "rating")->path : std::string{"--unit"}));
    }
    const UnitDescription& described = *(*unit)->unit;
    if (described.maker != run.unit.maker || described.model != run.unit.model) {
        return Failure(fmt::format("{}: is the sheet of {} {}, the run is of {} {}",
                                   sheet_of(sheets, "rating")->path, described.maker,
                                   described.model, run.unit.maker, run.unit.model));
    }
    const OtherSheets other{**unit, *std::move(house)};
    return replay(folder, run, &other);
}

std::vector<Rescored> changes(const RunDocument& before, const RunDocument& after) {
    std::vector<Rescored> all;
    std::map<std::string, const ScoredFigure*> was;
    for (const StepResult& step : before.steps) {
        for (const ScoredFigure& entry : step.figures) {
            was.emplace(entry.id, &entry);
        }
    }
    for (const StepResult& step : after.steps) {
        for (const ScoredFigure& entry : step.figures) {
            const auto found = was.find(entry.id);
            const ScoredFigure* earlier = found == was.end() ? nullptr : found->second;
            if (found != was.end()) {
                was.erase(found);
            }
            if (earlier == nullptr || comparable(*earlier) != comparable(entry)) {
                all.push_back({earlier, &entry});
            }
        }
    }
    for (const StepResult& step : before.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (was.contains(entry.id)) {
                all.push_back({&entry, nullptr});
            }
        }
    }
    return all;
}

Json rescore_json(const RunDocument& before, const RunDocument& after, const std::string& made) {
    Json out;
    out["schema"] = "afterload/rescore/1";
    out["run"] = before.id;
    out["made"] = made;
    out["verdict_before"] = name(before.verdict);
    out["verdict"] = name(after.verdict);
    Json& changed = out["changed"] = Json::array();
    for (const Rescored& one : changes(before, after)) {
        const ScoredFigure& named = one.after != nullptr ? *one.after : *one.before;
        Json entry;
        entry["id"] = named.id;
        entry["label"] = named.label;
        entry["before"] = side_json(one.before);
        entry["after"] = side_json(one.after);
        changed.push_back(std::move(entry));
    }
    out["document"] = run_json(after);
    return out;
}

}  // namespace afterload::runner
