#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/input_file.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/rescore/rescore.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

/// "fail, ≤ 0.03 %" of a figure as it was held against its rating; "not measured" without one.
std::string held(const ScoredFigure* entry) {
    if (entry == nullptr) {
        return "not measured so";
    }
    if (!entry->verdict || !entry->rating) {
        return "not scored";
    }
    FigureRow row;
    row.kind = entry->figure.kind;
    row.left = entry;
    row.single = true;
    const WrittenRow numbers = written(row);
    return fmt::format("{}, {}{}{}", analysis::in_words(entry->verdict->kind), numbers.limit,
                       numbers.unit.symbol.empty() ? "" : " ", numbers.unit.symbol);
}

std::string changes_text(const RunDocument& before, const RunDocument& after,
                         const std::string& sheet_path, const Terminal& terminal) {
    std::string text = wrapped(
        fmt::format("Scored again against {}, from the stored records. The run itself said {}, and "
                    "keeps saying it.",
                    sheet_path, name(before.verdict)),
        0, 0, terminal);
    const std::vector<Rescored> all = changes(before, after);
    for (const Rescored& one : all) {
        const ScoredFigure& named = one.after != nullptr ? *one.after : *one.before;
        const std::string channel = channel_words(named.figure);
        text += wrapped(
            fmt::format("{}{}: was {}; is {}", cut(named.label, 60, terminal),
                        channel.empty() ? "" : ", " + channel, held(one.before), held(one.after)),
            2, 4, terminal);
    }
    if (all.empty()) {
        text += wrapped("Nothing changed by it.", 2, 2, terminal);
    }
    return text + "\n";
}

/// A name that no file of the folder has: "rescored-20260304T100000Z", then "...-2".
std::string free_name(const RunFolder& folder, const std::string& stamp) {
    const std::string stem = "rescored-" + short_stamp(stamp);
    std::string name = stem;
    for (int i = 2; std::filesystem::exists(folder.path() + "/" + name + ".json"); ++i) {
        name = fmt::format("{}-{}", stem, i);
    }
    return name;
}

}  // namespace

int rescore(const RescoreOptions& command, const OutputOptions& output) {
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    std::vector<InputText> sheets;
    for (const auto& [role, path] :
         {std::pair{"rating", command.unit}, std::pair{"house", command.house}}) {
        if (path.empty()) {
            continue;
        }
        auto text = read_input(path);
        if (!text) {
            return refuse(output, text.error(), exit_no_input);
        }
        sheets.push_back({role, path, *std::move(text)});
    }
    auto again = rescored(run->folder, run->document, sheets);
    if (!again) {
        return refuse(output, again.error(), exit_bad_input);
    }
    const std::string made = wall_clock_stamp();
    const std::string name = free_name(run->folder, made);
    for (const InputText& sheet : sheets) {
        const auto stored =
            run->folder.write_input(name + "-" + sheet.role, sheet.path, sheet.text);
        if (!stored) {
            return refuse(output, stored.error(), exit_cannot_write);
        }
        std::erase_if(again->files, [&](const UsedFile& file) { return file.role == sheet.role; });
        again->files.push_back({sheet.role, stored->path, stored->sha256});
    }
    const Json document = rescore_json(run->document, *again, made);
    if (const auto kept = run->folder.write(name + ".json", pretty_json(document)); !kept) {
        return refuse(output, kept.error(), exit_cannot_write);
    }
    if (output.json) {
        print(json_line(document) + "\n");
    } else {
        const Terminal terminal = output_terminal(output);
        print(changes_text(run->document, *again, command.unit, terminal) +
              sheet(*again, run->folder.path() + "/" + name + ".json", terminal));
    }
    return exit_status(*again);
}

}  // namespace afterload::runner
