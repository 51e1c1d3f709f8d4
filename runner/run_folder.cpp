#include "runner/run_folder.hpp"

#include "instruments/recording.hpp"
#include "runner/checksum.hpp"
#include "runner/durable_file.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>
#include <system_error>

namespace afterload::runner {
namespace {

namespace fs = std::filesystem;

}  // namespace

tl::expected<RunFolder, std::string> RunFolder::make(const std::string& parent,
                                                     const std::string& name) {
    std::error_code error;
    const fs::path path = fs::path{parent} / name;
    fs::create_directories(parent, error);
    if (error) {
        return tl::unexpected(parent + ": cannot be made: " + error.message());
    }
    if (!fs::create_directory(path, error)) {
        return tl::unexpected(path.string() +
                              (error ? ": cannot be made: " + error.message()
                                     : std::string{": exists already; nothing was overwritten"}));
    }
    auto folder = RunFolder{path.string()}.held();
    if (!folder) {
        fs::remove(path, error);
        return folder;
    }
    for (const char* sub : {"records", "inputs"}) {
        if (!fs::create_directory(path / sub, error)) {
            return tl::unexpected((path / sub).string() + ": cannot be made: " + error.message());
        }
    }
    return folder;
}

tl::expected<RunFolder, std::string> RunFolder::open(const std::string& path) {
    std::error_code error;
    if (!fs::exists(path, error)) {
        return tl::unexpected(path +
                              ": is not there: give the folder of a run, or its name as list "
                              "shows it");
    }
    if (!fs::exists(fs::path{path} / "run.json", error)) {
        return tl::unexpected(path + ": is not the folder of a run: it holds no run.json");
    }
    return RunFolder{path};
}

tl::expected<RunFolder, std::string> RunFolder::take_up(const std::string& path) {
    auto folder = open(path);
    return folder ? folder->held() : folder;
}

tl::expected<RunFolder, std::string> RunFolder::held() const {
    auto lock = FileLock::of_folder(path_);
    if (!lock) {
        return tl::unexpected(path_ + (FileLock::is_held(lock.error())
                                           ? ": its run is being carried out"
                                           : ": cannot be locked: " + lock.error().message() +
                                                 "; give a folder on another disk with --runs"));
    }
    RunFolder folder{*this};
    folder.held_ = *std::move(lock);
    return folder;
}

tl::expected<void, std::string> RunFolder::write(const std::string& name,
                                                 std::string_view bytes) const {
    return write_durably(path_ + "/" + name, bytes);
}

tl::expected<std::string, std::string> RunFolder::read(const std::string& name) const {
    std::ifstream file{path_ + "/" + name, std::ios::binary};
    if (!file) {
        return tl::unexpected(path_ + "/" + name + ": is missing from the run's folder");
    }
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

tl::expected<RunFolder::Stored, std::string> RunFolder::write_input(
    const std::string& role, const std::string& original_path, std::string_view text) const {
    std::string name = fs::path{original_path}.filename().string();
    if (name.empty() || name == "-") {
        name = role + ".yaml";
    }
    const std::string path = "inputs/" + role + "-" + name;
    if (auto written = write(path, text); !written) {
        return tl::unexpected(written.error());
    }
    return Stored{path, sha256(text)};
}

tl::expected<RunFolder::Stored, std::string> RunFolder::store(const std::string& stem,
                                                              const Record& record) const {
    const std::string name = "records/" + stem + instruments::record_ending(record.bits);
    const std::string final_path = path_ + "/" + name;
    const std::string temporary = final_path + ".part";
    if (const auto written = instruments::write_record(temporary, record); !written) {
        return tl::unexpected(written.error().path + ": " + written.error().what);
    }
    if (auto settled = settle(temporary, final_path); !settled) {
        return tl::unexpected(settled.error());
    }
    auto sum = sha256_of_file(final_path);
    if (!sum) {
        return tl::unexpected(sum.error());
    }
    return Stored{name, *sum};
}

tl::expected<std::string, std::string> RunFolder::read_used(const UsedFile& file) const {
    auto text = read(file.path);
    if (text && sha256(*text) != file.sha256) {
        return tl::unexpected(path_ + "/" + file.path +
                              ": is not the file that was used: its checksum differs");
    }
    return text;
}

tl::expected<Record, std::string> RunFolder::load(const StoredRecord& stored) const {
    const std::string path = path_ + "/" + stored.path;
    const auto sum = sha256_of_file(path);
    if (!sum) {
        return tl::unexpected(path + ": is missing from the run's folder");
    }
    if (*sum != stored.sha256) {
        return tl::unexpected(path + ": is not the record that was measured: its checksum differs");
    }
    auto record = instruments::read_record(path);
    if (!record) {
        return tl::unexpected(record.error().path + ": " + record.error().what);
    }
    if (record->channels.size() != stored.full_scale.size()) {
        return tl::unexpected(path + ": has " + std::to_string(record->channels.size()) +
                              " channels, run.json has calibration for " +
                              std::to_string(stored.full_scale.size()));
    }
    record->bits = stored.bits;
    record->rate = stored.rate;
    for (std::size_t channel = 0; channel < stored.full_scale.size(); ++channel) {
        record->calibration.push_back(
            {channel == 0 ? "left" : "right", stored.full_scale[channel]});
    }
    return *std::move(record);
}

}  // namespace afterload::runner
