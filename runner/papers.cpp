#include "runner/papers.hpp"

#include "runner/papers/figures_csv.hpp"
#include "runner/papers/report.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/remarks/remark_file.hpp"
#include "sequences/hint_reader.hpp"

#include <utility>

namespace afterload::runner {

StoredBeside stored_beside(const RunFolder& folder, const RunDocument& run) {
    StoredBeside found;
    ReadRemarks said = read_remarks(folder);
    found.remarks = std::move(said.remarks);
    found.wrong = std::move(said.unreadable);
    for (const UsedFile& file : run.files) {
        if (file.role != role_before && file.role != role_hints) {
            continue;
        }
        const auto text = folder.read_used(file);
        if (!text) {
            found.wrong.push_back(text.error());
            continue;
        }
        if (file.role == role_hints) {
            const auto rules = sequences::read_hints(*text, file.path, &sequences::shipped_hints());
            if (rules) {
                found.hints = hints_for(run, *rules);
            } else {
                found.wrong.push_back(sequences::text(rules.error()));
            }
            continue;
        }
        auto document = read_run_json(*text);
        if (!document) {
            found.wrong.push_back(folder.path() + "/" + file.path + ": " + document.error());
            continue;
        }
        found.before = *std::move(document);
    }
    if (const auto text = folder.read(before_file_name)) {
        if (auto document = read_run_json(*text)) {
            found.before = *std::move(document);
        } else {
            found.wrong.push_back(folder.path() + "/" + before_file_name + ": " + document.error());
        }
    }
    return found;
}

tl::expected<void, std::string> write_papers(const RunDocument& run, const RunFolder& folder,
                                             const RunDocument* before, const Hints* hints) {
    if (auto written = folder.write("figures.csv", figures_csv(run)); !written) {
        return written;
    }
    const StoredBeside stored = stored_beside(folder, run);
    Beside beside = stored.shown();
    if (before != nullptr) {
        beside.before = before;
    }
    if (hints != nullptr) {
        beside.hints = *hints;
    }
    return folder.write("report.html", report_html(run, beside));
}

}  // namespace afterload::runner
