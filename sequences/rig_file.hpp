/// A rig file (`afterload: rig/1`): what calibration and rig check found of a bench. The program
/// writes it, and reads it with the bench file that names it.
#pragma once

#include "sequences/bench_file.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/key_lists.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// A range as calibration found it. Both channels carry one full scale; half of what they are apart
/// is in `balance_u_k1`.
struct CalibratedRange {
    std::string name;
    VoltsPeak full_scale;
    double level_u_k1 = 0.0;    ///< relative, the meter's among it
    double balance_u_k1 = 0.0;  ///< relative
};

/// A load as the meter read it, off the unit.
struct CalibratedLoad {
    Channels channel = Channels::both;
    Ohms resistance;
    double u_k1 = 0.005;  ///< relative
};

struct CalibrationFound {
    std::string made;  ///< 2026-03-02
    std::string meter;
    double meter_u_k1 = 0.005;  ///< relative
    std::optional<Celsius> ambient;
    VoltsRms source_full_scale;
    double source_u_k1 = 0.0;  ///< relative
    std::vector<CalibratedRange> ranges;
    std::optional<double> flatness_u_k1_db;
    std::vector<CalibratedLoad> loads;  ///< those that were measured
    std::vector<MixerControl> mixer;
};

/// A range as the rig check found it: what the rig itself adds, the worse channel.
struct CheckedRange {
    std::string name;
    std::optional<VoltsRms> own_noise;
    std::optional<VoltsRms> own_noise_a;
    std::optional<VoltsRms> own_hum;
    std::optional<AmplitudeRatio> own_separation;
    std::vector<OwnDistortion> own_distortion;  ///< empty: the halves could not be told apart
};

struct CheckFound {
    std::string made;  ///< RFC 3339, UTC
    std::vector<CheckedRange> ranges;
    std::vector<MixerControl> mixer;
};

struct RigFile {
    std::string bench;  ///< name of the bench
    std::optional<CalibrationFound> calibration;
    std::optional<CheckFound> check;
};

/// Fails   with every mistake of the file; never throws.
[[nodiscard]] tl::expected<RigFile, Diagnostics> read_rig(std::string_view text, std::string path);

/// `rig` as a file of its own, that read_rig() reads back to the same values, to nine digits.
[[nodiscard]] std::string rig_text(const RigFile& rig);

/// Lays what was found over what the bench file says: it is newer. Ranges go by their names; one
/// that the bench has not is left.
void lay_over(BenchFile& bench, const RigFile& rig);

[[nodiscard]] std::vector<KeyList> rig_key_lists();

}  // namespace afterload::sequences
