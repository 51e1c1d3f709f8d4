#include "sequences/bench_keys.hpp"
#include "sequences/rig_file.hpp"
#include "sequences/words.hpp"

#include <memory>
#include <utility>

namespace afterload::sequences {
namespace {

const KeyTable<MixerControl>& mixer_keys() {
    static const KeyTable<MixerControl> table{
        "a control of the mixer",
        {
            {"control", Need::required,
             [](Reading& reading, const Node& node, MixerControl& control) {
                 store(control.control, reading.words(node, "a control"));
             }},
            {"values", Need::required,
             [](Reading& reading, const Node& node, MixerControl& control) {
                 store(control.values, reading.words(node, "the values of a control"));
             }},
        }};
    return table;
}

const KeyTable<CalibratedRange>& calibrated_range_keys() {
    static const KeyTable<CalibratedRange> table{
        "a calibrated range",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, CalibratedRange& range) {
                 store(range.name, reading.words(node, "a name"));
             }},
            {"full_scale", Need::required,
             [](Reading& reading, const Node& node, CalibratedRange& range) {
                 store(range.full_scale, reading.quantity(node, Dimension::volts_peak,
                                                          "a full-scale peak", peak_range));
             }},
            {"level_uncertainty", Need::required,
             [](Reading& reading, const Node& node, CalibratedRange& range) {
                 store(range.level_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                          uncertainty_range));
             }},
            {"balance_uncertainty", Need::required,
             [](Reading& reading, const Node& node, CalibratedRange& range) {
                 store(range.balance_u_k1, reading.quantity(node, Dimension::ratio,
                                                            "an uncertainty", uncertainty_range));
             }},
        }};
    return table;
}

const KeyTable<CalibratedLoad>& calibrated_load_keys() {
    static const KeyTable<CalibratedLoad> table{
        "a calibrated load",
        {
            {"channel", Need::required,
             [](Reading& reading, const Node& node, CalibratedLoad& load) {
                 store(load.channel, read_channels(reading, node));
             }},
            {"resistance", Need::required,
             [](Reading& reading, const Node& node, CalibratedLoad& load) {
                 store(load.resistance,
                       reading.quantity(node, Dimension::ohms, "a load", load_range));
             }},
            {"uncertainty", Need::required,
             [](Reading& reading, const Node& node, CalibratedLoad& load) {
                 store(load.u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                   uncertainty_range));
             }},
        }};
    return table;
}

const KeyTable<CalibrationFound>& calibration_keys() {
    static const KeyTable<CalibrationFound> table{
        "a calibration",
        {
            {"made", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.made, reading.date(node, "a date"));
             }},
            {"meter", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.meter, reading.words(node, "a meter"));
             }},
            {"meter_uncertainty", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.meter_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                          uncertainty_range));
             }},
            {"ambient", Need::optional,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.ambient,
                       reading.quantity(node, Dimension::celsius, "a temperature", celsius_range));
             }},
            {"source_full_scale", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(
                     found.source_full_scale,
                     reading.quantity(node, Dimension::volts, "a full-scale level", {1e-3, 100.0}));
             }},
            {"source_uncertainty", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.source_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                           uncertainty_range));
             }},
            {"ranges", Need::required,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 read_each(reading, node, "a list of ranges", calibrated_range_keys(),
                           found.ranges);
             }},
            {"flatness", Need::optional,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 store(found.flatness_u_k1_db,
                       reading.quantity(node, Dimension::decibels, "a flatness", {0.0, 10.0}));
             }},
            {"loads", Need::optional,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 read_each(reading, node, "a list of loads", calibrated_load_keys(), found.loads);
             }},
            {"mixer", Need::optional,
             [](Reading& reading, const Node& node, CalibrationFound& found) {
                 read_each(reading, node, "a list of controls", mixer_keys(), found.mixer);
             }},
        }};
    return table;
}

const KeyTable<CheckedRange>& checked_range_keys() {
    static const KeyTable<CheckedRange> table{
        "a checked range",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 store(range.name, reading.words(node, "a name"));
             }},
            {"own_noise", Need::optional,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 store(range.own_noise,
                       reading.quantity(node, Dimension::volts, "a noise", volts_range));
             }},
            {"own_noise_a", Need::optional,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 store(range.own_noise_a,
                       reading.quantity(node, Dimension::volts, "a noise", volts_range));
             }},
            {"own_hum", Need::optional,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 store(range.own_hum,
                       reading.quantity(node, Dimension::volts, "a hum", volts_range));
             }},
            {"own_separation", Need::optional,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 range.own_separation = ratio_in(reading, node, "a leak");
             }},
            {"own_distortion", Need::optional,
             [](Reading& reading, const Node& node, CheckedRange& range) {
                 read_each(reading, node, "a list of findings", own_distortion_keys(),
                           range.own_distortion);
             }},
        }};
    return table;
}

const KeyTable<CheckFound>& check_keys() {
    static const KeyTable<CheckFound> table{
        "a rig check",
        {
            {"made", Need::required,
             [](Reading& reading, const Node& node, CheckFound& found) {
                 store(found.made, reading.words(node, "a time"));
             }},
            {"ranges", Need::required,
             [](Reading& reading, const Node& node, CheckFound& found) {
                 read_each(reading, node, "a list of ranges", checked_range_keys(), found.ranges);
             }},
            {"mixer", Need::optional,
             [](Reading& reading, const Node& node, CheckFound& found) {
                 read_each(reading, node, "a list of controls", mixer_keys(), found.mixer);
             }},
        }};
    return table;
}

const KeyTable<RigFile>& rig_file_keys() {
    static const KeyTable<RigFile> table{
        "a rig file",
        {
            {"afterload", Need::required, [](Reading&, const Node&, RigFile&) {}},
            {"bench", Need::required,
             [](Reading& reading, const Node& node, RigFile& rig) {
                 store(rig.bench, reading.words(node, "the name of a bench"));
             }},
            {"calibration", Need::optional,
             [](Reading& reading, const Node& node, RigFile& rig) {
                 CalibrationFound found;
                 if (read_mapping(reading, node, calibration_keys(), found)) {
                     rig.calibration = std::move(found);
                 }
             }},
            {"check", Need::optional,
             [](Reading& reading, const Node& node, RigFile& rig) {
                 CheckFound found;
                 if (read_mapping(reading, node, check_keys(), found)) {
                     rig.check = std::move(found);
                 }
             }},
        }};
    return table;
}

RangeEntry* range_of(BenchFile& bench, std::string_view name) {
    for (RangeEntry& range : bench.ranges) {
        if (range.name == name) {
            return &range;
        }
    }
    return nullptr;
}

}  // namespace

tl::expected<RigFile, Diagnostics> read_rig(std::string_view text, std::string path) {
    return read_file<RigFile>(text, std::move(path), "rig/1",
                              [](Reading& reading, const Node& root, RigFile& out) {
                                  read_mapping(reading, root, rig_file_keys(), out);
                              });
}

void lay_over(BenchFile& bench, const RigFile& rig) {
    if (!bench.written) {
        bench.written = std::make_shared<const BenchFile>(bench);
    }
    if (rig.calibration) {
        const CalibrationFound& found = *rig.calibration;
        bench.calibrated = found.made;
        bench.source.full_scale = found.source_full_scale;
        bench.source.level_u_k1 = found.source_u_k1;
        bench.source.calibration_id = "source " + found.made;
        bench.flatness_u_k1_db = found.flatness_u_k1_db.value_or(bench.flatness_u_k1_db);
        bench.mixer = found.mixer;
        for (const CalibratedRange& range : found.ranges) {
            if (RangeEntry* const entry = range_of(bench, range.name)) {
                entry->full_scale = range.full_scale;
                entry->level_u_k1 = range.level_u_k1;
                entry->balance_u_k1 = range.balance_u_k1;
                entry->calibrated = found.made;
            }
        }
        for (const CalibratedLoad& measured : found.loads) {
            for (LoadEntry& load : bench.loads) {
                // Measured where it was written: a load of another kind is a half or double.
                const double off = measured.resistance / load.resistance;
                if (load.channel == measured.channel && off < 1.25 && off > 1.0 / 1.25) {
                    load.resistance = measured.resistance;
                    load.u_k1 = measured.u_k1;
                    load.measured = found.made;
                }
            }
        }
    }
    if (rig.check) {
        bench.checked = rig.check->made;
        for (const CheckedRange& range : rig.check->ranges) {
            if (RangeEntry* const entry = range_of(bench, range.name)) {
                entry->own_noise = range.own_noise;
                entry->own_noise_a = range.own_noise_a;
                entry->own_hum = range.own_hum;
                entry->own_separation = range.own_separation;
                entry->own_distortion = range.own_distortion;
                entry->own_found = rig.check->made.substr(0, 10);
            }
        }
    }
}

std::vector<KeyList> rig_key_lists() {
    return {key_list("rig_file", rig_file_keys()),
            key_list("calibration", calibration_keys()),
            key_list("calibrated_range", calibrated_range_keys()),
            key_list("calibrated_load", calibrated_load_keys()),
            key_list("check", check_keys()),
            key_list("checked_range", checked_range_keys()),
            key_list("mixer", mixer_keys())};
}

}  // namespace afterload::sequences
