#include "sequences/rig_file.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <cmath>

namespace afterload::sequences {
namespace {

std::string per_cent(double ratio) {
    return fmt::format("{:.4g} %", 100.0 * ratio);
}

std::string in_decibels(AmplitudeRatio ratio) {
    return fmt::format("{:.2f} dB", 20.0 * std::log10(ratio.in<AmplitudeRatio>()));
}

std::string mixer_text(const std::vector<MixerControl>& mixer) {
    std::string out;
    for (const MixerControl& control : mixer) {
        out += fmt::format("    - {{control: {}, values: {}}}\n", yaml_quoted(control.control),
                           yaml_quoted(control.values));
    }
    return out.empty() ? out : "  mixer:\n" + out;
}

std::string calibration_text(const CalibrationFound& found) {
    std::string out =
        fmt::format("calibration:\n  made: {}\n  meter: {}\n  meter_uncertainty: {}\n", found.made,
                    yaml_quoted(found.meter), per_cent(found.meter_u_k1));
    if (found.ambient) {
        out += fmt::format("  ambient: {:.1f} degC\n", found.ambient->in<Celsius>());
    }
    out += fmt::format("  source_full_scale: {:.9g} V\n  source_uncertainty: {}\n  ranges:\n",
                       found.source_full_scale.in<VoltsRms>(), per_cent(found.source_u_k1));
    for (const CalibratedRange& range : found.ranges) {
        out += fmt::format(
            "    - {{name: {}, full_scale: {:.9g} V peak, level_uncertainty: {}, "
            "balance_uncertainty: {}}}\n",
            yaml_quoted(range.name), range.full_scale.in<VoltsPeak>(), per_cent(range.level_u_k1),
            per_cent(range.balance_u_k1));
    }
    if (found.flatness_u_k1_db) {
        out += fmt::format("  flatness: {:.4g} dB\n", *found.flatness_u_k1_db);
    }
    out += found.loads.empty() ? "" : "  loads:\n";
    for (const CalibratedLoad& load : found.loads) {
        out += fmt::format("    - {{channel: {}, resistance: {:.6g} ohm, uncertainty: {}}}\n",
                           name(load.channel), load.resistance.in<Ohms>(), per_cent(load.u_k1));
    }
    return out + mixer_text(found.mixer);
}

std::string check_text(const CheckFound& found) {
    std::string out = fmt::format("check:\n  made: {}\n  ranges:\n", yaml_quoted(found.made));
    const auto volts = [&out](const char* key, const std::optional<VoltsRms>& value) {
        if (value) {
            out += fmt::format("      {}: {:.4g} uV\n", key, 1e6 * value->in<VoltsRms>());
        }
    };
    for (const CheckedRange& range : found.ranges) {
        out += fmt::format("    - name: {}\n", yaml_quoted(range.name));
        volts("own_noise", range.own_noise);
        volts("own_noise_a", range.own_noise_a);
        volts("own_hum", range.own_hum);
        if (range.own_separation) {
            out += "      own_separation: " + in_decibels(*range.own_separation) + "\n";
        }
        if (!range.own_distortion.empty()) {
            out += "      own_distortion:\n";
        }
        for (const OwnDistortion& own : range.own_distortion) {
            out +=
                fmt::format("        - {{at: {:.4g} V, source: {}, input: {}}}\n",
                            own.at.in<VoltsRms>(), in_decibels(own.source), in_decibels(own.input));
        }
    }
    return out + mixer_text(found.mixer);
}

}  // namespace

std::string rig_text(const RigFile& rig) {
    std::string out =
        "# Written by afterload calibrate and afterload rig-check; they write it anew.\n"
        "afterload: rig/1\n";
    out += "bench: " + yaml_quoted(rig.bench) + "\n";
    if (rig.calibration) {
        out += calibration_text(*rig.calibration);
    }
    if (rig.check) {
        out += check_text(*rig.check);
    }
    return out;
}

}  // namespace afterload::sequences
