#include "runner/job_label.hpp"

#include "runner/input_file.hpp"
#include "sequences/job_reader.hpp"

#include <filesystem>
#include <string_view>

namespace afterload::runner {
namespace {

std::string name_of(const std::string& path) {
    std::string name = std::filesystem::path{path}.filename().string();
    for (const std::string_view ending : {".yaml", ".yml", ".job"}) {
        if (name.ends_with(ending)) {
            name.resize(name.size() - ending.size());
        }
    }
    return name;
}

}  // namespace

bool is_job_file(const std::string& word) {
    return word.ends_with(".yaml") || word.ends_with(".yml");
}

std::string job_label(const sequences::Job& job) {
    return job.ticket.empty() ? name_of(job.path) : job.ticket;
}

std::string job_label(const std::string& word) {
    if (!is_job_file(word)) {
        return word;
    }
    const auto text = read_input(word);
    const auto job =
        text ? sequences::read_job(*text, word) : tl::unexpected(sequences::Diagnostics{});
    return job ? job_label(*job) : name_of(word);
}

}  // namespace afterload::runner
