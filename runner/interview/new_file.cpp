#include "runner/interview/new_file.hpp"

#include "runner/console.hpp"
#include "runner/durable_file.hpp"
#include "runner/exit_status.hpp"
#include "runner/mistakes.hpp"
#include "runner/papers/json_text.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <string_view>
#include <system_error>

namespace afterload::runner {
namespace {

constexpr std::string_view draft_mark = "# DRAFT: ";

}  // namespace

std::optional<bool> may_write(Questions& questions, const std::string& path) {
    std::error_code error;
    if (!std::filesystem::exists(path, error)) {
        return true;
    }
    questions.say(sequences::escaped(path) + " is there already.");
    return questions.yes("Write over it? What stands there is lost", false);
}

int refuse_to_overwrite(const OutputOptions& output, const std::string& path) {
    return refuse(output,
                  sequences::escaped(path) +
                      ": is there already; nothing was overwritten. Choose another name, or move "
                      "it away",
                  exit_cannot_write);
}

int write_new_file(const AskedFile& file, const std::string& path, const OutputOptions& output) {
    if (file.text.empty()) {
        return refuse(output, "the answers ended before anything was given: nothing was written",
                      exit_stopped);
    }
    if (const auto written = write_durably(path, file.text); !written) {
        return refuse(output, written.error(), exit_cannot_write);
    }
    const bool draft = !file.stopped_at.empty();
    const int status = draft ? exit_stopped : exit_pass;
    if (output.json) {
        Json document;
        document["schema"] = "afterload/new/1";
        document["file"] = path;
        document["draft"] = draft;
        document["stopped_at"] = file.stopped_at;
        document["holds"] = file.told;
        document["exit_status"] = status;
        print(json_line(document) + "\n");
        return status;
    }
    const std::string shown = sequences::escaped(path);
    print(draft ? fmt::format("{}: a draft with {}; the answers ended at “{}”\nnext: {}\n", shown,
                              file.told, sequences::escaped(file.stopped_at), file.next)
                : fmt::format("{}: {}\nnext: {}\n", shown, file.told, file.next));
    return status;
}

int keep_with_mistakes(const AskedFile& file, const std::string& path,
                       const sequences::Diagnostics& mistakes, const OutputOptions& output) {
    if (const auto written = write_durably(path, file.text); !written) {
        return refuse(output, written.error(), exit_cannot_write);
    }
    print_error(sequences::escaped(path) +
                ": written, with a mistake that the program made; mend it there\n");
    return show_mistakes(output, {mistakes}, exit_internal);
}

std::string draft_line(const std::string& stopped_at) {
    return std::string{draft_mark} +
           fmt::format("the answers ended at “{}”; what would have come behind it is missing\n",
                       sequences::escaped(stopped_at));
}

std::string without_draft_line(const std::string& text) {
    std::string out;
    std::string_view rest = text;
    while (!rest.empty()) {
        const std::size_t end = rest.find('\n');
        const std::string_view line =
            rest.substr(0, end == std::string_view::npos ? rest.size() : end + 1);
        if (!line.starts_with(draft_mark)) {
            out += line;
        }
        rest.remove_prefix(line.size());
    }
    return out;
}

}  // namespace afterload::runner
