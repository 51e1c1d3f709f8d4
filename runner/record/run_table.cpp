#include "runner/record/run_table.hpp"

#include "runner/papers/json_place.hpp"
#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::runner {
namespace {

/// "2026-03-04 10:00", as stamped, in UTC.
std::string when(const IndexedRun& run) {
    std::string text = run.started.substr(0, 16);
    std::replace(text.begin(), text.end(), 'T', ' ');
    return text;
}

std::string how_it_ended(const IndexedRun& run) {
    return run.state == "done" ? run.verdict : run.state;
}

std::string failures(const IndexedRun& run) {
    const auto all = lines_of(run.failed);
    if (all.empty()) {
        return {};
    }
    return all.front() + (all.size() > 1 ? fmt::format(" and {} more", all.size() - 1) : "");
}

}  // namespace

std::string run_table(const std::vector<IndexedRun>& runs, const Terminal& terminal) {
    const bool said = std::any_of(runs.begin(), runs.end(),
                                  [](const IndexedRun& run) { return run.remarks > 0; });
    std::vector<std::vector<std::string>> rows{
        {"started, UTC", "serial", "model", "stage", "result", "failed", "run"}};
    for (const IndexedRun& run : runs) {
        rows.push_back({when(run), run.serial, run.model, run.stage, how_it_ended(run),
                        failures(run), run.id});
    }
    for (std::size_t i = 0; said && i < rows.size(); ++i) {
        const std::size_t count = i == 0 ? 0 : runs[i - 1].remarks;
        rows[i].insert(rows[i].end() - 1, i == 0      ? std::string{"notes"}
                                          : count > 0 ? fmt::format("{}", count)
                                                      : std::string{});
    }
    std::vector<std::size_t> widths(rows.front().size());
    for (auto& row : rows) {
        for (std::size_t column = 0; column < row.size(); ++column) {
            row[column] =
                for_terminal(sequences::escaped(row[column].empty() ? "-" : row[column]), terminal);
            widths[column] = std::max(widths[column], columns(row[column]));
        }
    }
    std::string text;
    for (const auto& row : rows) {
        TextLine line{terminal};
        std::size_t at = 0;
        for (std::size_t column = 0; column < row.size(); ++column) {
            line.to(at).put(row[column]);
            at += widths[column] + 2;
        }
        text += line.text();
    }
    return text;
}

Json runs_json(const std::vector<IndexedRun>& runs) {
    Json document;
    document["schema"] = "afterload/runs/1";
    document["runs"] = Json::array();
    for (const IndexedRun& run : runs) {
        document["runs"].push_back({{"id", run.id},
                                    {"folder", run.folder},
                                    {"job", run.job},
                                    {"stage", run.stage},
                                    {"state", run.state},
                                    {"verdict", run.verdict},
                                    {"started", run.started},
                                    {"ended", run.ended},
                                    {"maker", run.maker},
                                    {"model", run.model},
                                    {"serial", run.serial},
                                    {"sequence", run.sequence},
                                    {"bench", run.bench},
                                    {"failed", lines_of(run.failed)},
                                    {"words", lines_of(run.words)},
                                    {"remarks", run.remarks},
                                    {"sha256", run.sha256}});
    }
    return document;
}

tl::expected<std::vector<IndexedRun>, std::string> runs_of_json(const Json& document) {
    try {
        std::vector<IndexedRun> runs;
        for (const JsonPlace& place : JsonPlace{document}.at("runs").items()) {
            IndexedRun& run = runs.emplace_back();
            for (const auto& [key, into] :
                 {std::pair{"id", &run.id}, std::pair{"folder", &run.folder},
                  std::pair{"job", &run.job}, std::pair{"stage", &run.stage},
                  std::pair{"state", &run.state}, std::pair{"verdict", &run.verdict},
                  std::pair{"started", &run.started}, std::pair{"ended", &run.ended},
                  std::pair{"maker", &run.maker}, std::pair{"model", &run.model},
                  std::pair{"serial", &run.serial}, std::pair{"sequence", &run.sequence},
                  std::pair{"bench", &run.bench}, std::pair{"sha256", &run.sha256}}) {
                *into = place.text_or(key);
            }
            run.remarks = static_cast<std::size_t>(place.number_or("remarks", 0.0));
            for (const std::string& figure : place.at("failed").texts()) {
                add_line(run.failed, figure);
            }
            if (const auto words = place.find("words")) {
                for (const std::string& line : words->texts()) {
                    add_line(run.words, line);
                }
            }
        }
        return runs;
    } catch (const JsonMisfit& misfit) {
        return tl::unexpected(std::string{misfit.what()});
    }
}

}  // namespace afterload::runner
