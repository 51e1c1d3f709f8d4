#include "runner/evaluation/bench_share.hpp"

#include "runner/evaluation/scorer.hpp"

#include <algorithm>

namespace afterload::runner {
namespace {}  // namespace

double largest_output(const sequences::BenchFile& bench, Ohms load, const std::string& range) {
    double largest = std::numeric_limits<double>::infinity();
    if (bench.limits.largest_output) {
        largest = voltage_for(*bench.limits.largest_output, load).in<VoltsRms>();
    }
    if (const auto* entry = find_range(bench, range)) {
        largest = std::min(largest, rms_of_sine(entry->safe).in<VoltsRms>());
    }
    return largest;
}

const sequences::LoadEntry* load_of(const sequences::BenchFile& bench, int channel,
                                    std::optional<Ohms> resistance) {
    return sequences::find_load(bench, channel == 1 ? Channels::left : Channels::right, resistance);
}

const sequences::SourceEntry& source_that_played(const sequences::BenchFile& bench,
                                                 const DrivenAs& driven) {
    return driven.from_generator && bench.generator ? *bench.generator : bench.source;
}

analysis::BenchShare bench_share(const sequences::BenchFile& bench,
                                 const sequences::SourceEntry& source,
                                 const sequences::RangeEntry& range, int channel,
                                 std::optional<Ohms> resistance) {
    analysis::BenchShare share;
    share.present = true;
    share.level_source = "range " + range.name + ", " + side(channel) + ", " + range.calibrated;
    share.level_u_k1 = range.level_u_k1;
    share.balance_u_k1 = range.balance_u_k1;
    share.balance_source = "range " + range.name + ", left against right, " + range.calibrated;
    share.drive_source = "source level, " + source.calibration_id;
    share.drive_u_k1 = source.level_u_k1;
    if (const auto* load = load_of(bench, channel, resistance)) {
        share.load = load->resistance;
        share.load_source = std::string{"load "} + side(channel) + ", " + load->measured;
        share.load_u_k1 = load->u_k1;
        share.load_heat_u_k1 = load->heat_u_k1;
    }
    // The rig check knows the card's half: that of a generator is its own, or not known.
    const bool from_card = &source == &bench.source;
    if (from_card || source.distortion) {
        for (const auto& own : range.own_distortion) {
            share.distortion.push_back(
                {own.at, from_card ? own.source : *source.distortion, own.input});
        }
    }
    share.own_noise = range.own_noise;
    share.own_noise_a = range.own_noise_a;
    share.own_hum = range.own_hum;
    share.own_separation = range.own_separation;
    return share;
}

const sequences::RangeEntry* find_range(const sequences::BenchFile& bench,
                                        const std::string& name) {
    const auto found = std::find_if(bench.ranges.begin(), bench.ranges.end(),
                                    [&](const auto& range) { return range.name == name; });
    return found == bench.ranges.end() ? nullptr : &*found;
}

const sequences::RangeEntry* range_for(const sequences::BenchFile& bench, VoltsPeak peak) {
    const sequences::RangeEntry* best = nullptr;
    for (const auto& range : bench.ranges) {
        const bool holds = range.full_scale >= 1.25 * peak && range.safe >= 2.0 * peak;
        if (holds && (best == nullptr || range.full_scale < best->full_scale)) {
            best = &range;
        }
    }
    return best;
}

const sequences::RangeEntry& resting_range(const sequences::BenchFile& bench) {
    return *std::max_element(bench.ranges.begin(), bench.ranges.end(),
                             [](const auto& a, const auto& b) { return a.safe < b.safe; });
}

}  // namespace afterload::runner
