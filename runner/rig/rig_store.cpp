#include "runner/rig/rig_store.hpp"

#include "instruments/card/mixer.hpp"
#include "runner/durable_file.hpp"
#include "runner/input_file.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <utility>

namespace afterload::runner {
namespace {

namespace fs = std::filesystem;
constexpr double check_hours = 12.0;
constexpr double calibration_hours = 365.0 * 24.0;

/// A mistake of the whole file, not of a line.
sequences::Diagnostics whole_file(const std::string& path, std::string what) {
    sequences::Diagnostics all;
    all.path = path;
    sequences::Mistake mistake;
    mistake.what = std::move(what);
    all.add(std::move(mistake));
    return all;
}

}  // namespace

std::string rig_path(const sequences::BenchFile& bench) {
    const fs::path file{bench.path};
    if (!bench.rig.empty()) {
        return (file.parent_path() / bench.rig).string();
    }
    std::string name = file.filename().string();
    for (const std::string_view ending : {".yaml", ".yml", ".bench"}) {
        if (name.ends_with(ending)) {
            name.erase(name.size() - ending.size());
        }
    }
    return (file.parent_path() / (name + ".rig.yaml")).string();
}

tl::expected<std::optional<StoredRig>, sequences::Diagnostics> stored_rig(
    const sequences::BenchFile& bench) {
    StoredRig stored;
    stored.path = rig_path(bench);
    if (!fs::exists(stored.path)) {
        return std::optional<StoredRig>{};
    }
    const auto text = read_input(stored.path);
    if (!text) {
        return tl::unexpected(whole_file(stored.path, text.error()));
    }
    stored.text = *text;
    auto rig = sequences::read_rig(*text, stored.path);
    if (!rig) {
        return tl::unexpected(std::move(rig.error()));
    }
    if (rig->bench != bench.name) {
        return tl::unexpected(whole_file(
            stored.path,
            fmt::format("it is of the bench “{}”, and this one is “{}”", rig->bench, bench.name)));
    }
    stored.rig = *std::move(rig);
    return std::optional{std::move(stored)};
}

tl::expected<void, std::string> store_rig(const std::string& path, const sequences::RigFile& rig) {
    return write_durably(path, sequences::rig_text(rig));
}

std::vector<sequences::MixerControl> mixer_now(const sequences::BenchFile& bench) {
    std::vector<sequences::MixerControl> controls;
    if (bench.card.driver == sequences::CardEntry::Driver::sound_card) {
        for (const instruments::MixerState& state : instruments::mixer_of(bench.card.device)) {
            controls.push_back({state.control, state.values});
        }
    }
    return controls;
}

std::vector<std::string> age_notes(const sequences::BenchFile& bench, const std::string& now) {
    std::vector<std::string> notes;
    const auto check = hours_between(bench.checked, now);
    if (check && *check > check_hours) {
        notes.push_back(
            fmt::format("the rig check is {:.0f} h old: what the rig adds is taken "
                        "from it all the same; afterload rig-check renews it",
                        *check));
    }
    const auto calibration = hours_between(bench.calibrated + "T00:00:00Z", now);
    if (calibration && *calibration > calibration_hours) {
        notes.push_back(
            fmt::format("the calibration of {} is more than a year old", bench.calibrated));
    }
    return notes;
}

}  // namespace afterload::runner
