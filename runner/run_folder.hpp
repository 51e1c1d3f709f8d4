/// The folder of a run: the input files as used, the records, run.json, figures.csv, report.html.
///
/// A file appears whole or not at all: written beside, flushed to the disk, renamed, and the folder
/// flushed.
#pragma once

#include "analysis/waveform.hpp"
#include "runner/file_lock.hpp"
#include "runner/papers/run_document.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <string_view>

namespace afterload::runner {

class RunFolder {
public:
    /// Makes `parent`/`name` with its subfolders, and locks it until the last copy of this is gone.
    /// Fails when it exists, or cannot be made or locked: without its lock a run that goes on would
    /// be taken for one that was interrupted. The error is one line.
    [[nodiscard]] static tl::expected<RunFolder, std::string> make(const std::string& parent,
                                                                   const std::string& name);
    /// A folder that exists, locked like one that was made: somebody goes on with its run. Fails
    /// when it holds no run.json, or another process writes there.
    [[nodiscard]] static tl::expected<RunFolder, std::string> take_up(const std::string& path);
    /// A folder that exists. Fails when it holds no run.json.
    [[nodiscard]] static tl::expected<RunFolder, std::string> open(const std::string& path);

    [[nodiscard]] const std::string& path() const { return path_; }

    /// Writes `bytes` as `name` (within the folder), durable when it returns.
    [[nodiscard]] tl::expected<void, std::string> write(const std::string& name,
                                                        std::string_view bytes) const;
    [[nodiscard]] tl::expected<std::string, std::string> read(const std::string& name) const;

    /// What was stored: its path within the folder and its checksum.
    struct Stored {
        std::string path;
        std::string sha256;
    };
    /// Keeps an input file as it was used, under inputs/, named by its role and its own name.
    [[nodiscard]] tl::expected<Stored, std::string> write_input(const std::string& role,
                                                                const std::string& original_path,
                                                                std::string_view text) const;
    /// Reads an input file back. Fails when it is missing, or not the file whose checksum was
    /// written down.
    [[nodiscard]] tl::expected<std::string, std::string> read_used(const UsedFile& file) const;
    /// Stores a record durably.
    [[nodiscard]] tl::expected<Stored, std::string> store(const std::string& stem,
                                                          const Record& record) const;
    /// Reads a stored record back, with the calibration that run.json keeps for it. Fails when it
    /// is missing, damaged, or not the file whose checksum was written down.
    [[nodiscard]] tl::expected<Record, std::string> load(const StoredRecord& stored) const;

private:
    explicit RunFolder(std::string path) : path_{std::move(path)} {}
    /// This folder with its lock taken.
    [[nodiscard]] tl::expected<RunFolder, std::string> held() const;
    std::string path_;
    std::optional<FileLock> held_;  ///< of a folder that was made: says that it is in use
};

}  // namespace afterload::runner
