#include "runner/mistakes.hpp"

#include "runner/console.hpp"

#include <utility>

namespace afterload::runner {

Json mistakes_json(const std::vector<sequences::Diagnostics>& files) {
    Json list = Json::array();
    for (const auto& file : files) {
        for (const auto& mistake : file.mistakes) {
            Json one;
            one["file"] = file.path;
            one["line"] = mistake.place.line;
            one["column"] = mistake.place.column;
            one["what"] = mistake.what;
            one["advice"] = mistake.advice;
            list.push_back(std::move(one));
        }
    }
    return list;
}

Json mistakes_document(Json list, int exit_status) {
    Json document;
    document["schema"] = "afterload/mistakes/1";
    document["exit_status"] = exit_status;
    document["mistakes"] = std::move(list);
    return document;
}

int show_mistakes(const OutputOptions& options, const std::vector<sequences::Diagnostics>& files,
                  int exit_status) {
    std::size_t mistakes = 0;
    for (const auto& file : files) {
        mistakes += file.count();
    }
    if (options.json) {
        print(json_line(mistakes_document(mistakes_json(files), exit_status)) + "\n");
        return exit_status;
    }
    const Terminal terminal = error_terminal(options);
    for (const auto& file : files) {
        print_error(sequences::text(file, {terminal.utf8, terminal.styled}));
    }
    print_error(sequences::count_line(mistakes, files.size(), exit_status) + "\n");
    return exit_status;
}

}  // namespace afterload::runner
