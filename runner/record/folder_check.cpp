#include "runner/record/folder_check.hpp"

#include "runner/checksum.hpp"

#include <filesystem>
#include <system_error>

namespace afterload::runner {
namespace {

/// What is wrong with one file; empty when nothing is.
std::string fault_of(const std::string& path, const std::string& wanted, const char* changed) {
    std::error_code error;
    if (!std::filesystem::exists(path, error)) {
        return "is missing";
    }
    const auto sum = sha256_of_file(path);
    if (!sum) {
        return "cannot be read";
    }
    return *sum == wanted ? std::string{} : std::string{changed};
}

}  // namespace

std::vector<FolderFault> faults_of_folder(const RunFolder& folder, const RunDocument& run) {
    std::vector<FolderFault> faults;
    const std::string root = folder.path() + "/";
    for (const UsedFile& file : run.files) {
        std::string what = fault_of(root + file.path, file.sha256,
                                    "is not the file that was used: its checksum differs");
        if (!what.empty()) {
            faults.push_back({file.path, std::move(what), std::nullopt});
        }
    }
    for (std::size_t step = 0; step < run.steps.size() && run.records_kept; ++step) {
        for (const StoredRecord& record : run.steps[step].records) {
            std::string what =
                fault_of(root + record.path, record.sha256,
                         "is not the record that was measured: its checksum differs");
            if (!what.empty()) {
                faults.push_back({record.path, std::move(what), step});
            }
        }
    }
    return faults;
}

}  // namespace afterload::runner
