#include "analysis/watch_event.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = WatchEvent::Kind;
using Blame = WatchEvent::Blame;

// Level and clipping are known to the millisecond, the rest to a part of its window.
double tolerance_s(Kind kind) {
    const bool by_sample = kind == Kind::level || kind == Kind::dropout || kind == Kind::clipping;
    return by_sample ? 0.005 : 0.06;
}

bool together(const WatchEvent& a, const WatchEvent& b) {
    return a.kind == b.kind && std::signbit(a.size) == std::signbit(b.size) &&
           std::abs((a.start - b.start).in<Seconds>()) <= tolerance_s(a.kind);
}

Blame blame_of(const WatchEvent& event) {
    switch (event.kind) {
        case Kind::clipping:
        case Kind::gap:
        case Kind::repeat:
        case Kind::frozen:
            return Blame::rig;
        default:
            return event.channel == 0 ? Blame::unit_or_mains : Blame::unit_or_lead;
    }
}

void join(WatchEvent& told, const WatchEvent& other) {
    const Seconds end = std::max(told.start + told.duration, other.start + other.duration);
    told.start = std::min(told.start, other.start);
    told.duration = end - told.start;
    if (told.kind == Kind::clipping) {
        told.size += other.size;
    } else if (std::abs(other.size) > std::abs(told.size)) {
        told.size = other.size;
    }
}

}  // namespace

std::string_view name(Kind kind) {
    switch (kind) {
        case Kind::level:
            return "level";
        case Kind::dropout:
            return "dropout";
        case Kind::clipping:
            return "clipping";
        case Kind::gap:
            return "gap";
        case Kind::repeat:
            return "repeat";
        case Kind::frozen:
            return "frozen";
        case Kind::offset:
            return "offset";
        case Kind::hum:
            return "hum";
        case Kind::noise:
            return "noise";
        case Kind::distortion:
            return "distortion";
    }
    return "";
}

std::string_view name(Blame blame) {
    switch (blame) {
        case Blame::unit:
            return "unit";
        case Blame::rig:
            return "rig";
        case Blame::unit_or_lead:
            return "unit_or_lead";
        case Blame::unit_or_mains:
            return "unit_or_mains";
    }
    return "";
}

std::string_view name(UnwatchedPart::Why why) {
    return why == UnwatchedPart::Why::silent ? "silent" : "unsettled";
}

std::string_view size_unit(Kind kind) {
    switch (kind) {
        case Kind::level:
        case Kind::dropout:
            return "dB";
        case Kind::clipping:
        case Kind::gap:
        case Kind::repeat:
        case Kind::frozen:
            return "samples";
        case Kind::offset:
        case Kind::hum:
        case Kind::noise:
            return "V";
        case Kind::distortion:
            return "1";
    }
    return "";
}

std::vector<WatchEvent> told_together(std::vector<WatchEvent> each, int channels) {
    std::stable_sort(each.begin(), each.end(),
                     [](const WatchEvent& a, const WatchEvent& b) { return a.start < b.start; });
    std::vector<WatchEvent> all;
    std::vector<bool> told(each.size(), false);
    for (std::size_t i = 0; i < each.size(); ++i) {
        if (told[i]) {
            continue;
        }
        std::vector<std::size_t> same{i};
        for (std::size_t k = i + 1; k < each.size() && each[i].channel > 0 && channels > 1 &&
                                    (each[k].start - each[i].start).in<Seconds>() < 0.06;
             ++k) {
            const bool another = std::none_of(same.begin(), same.end(), [&](std::size_t s) {
                return each[s].channel == each[k].channel;
            });
            if (!told[k] && each[k].channel > 0 && another && together(each[i], each[k])) {
                same.push_back(k);
            }
        }
        WatchEvent event = each[i];
        if (static_cast<int>(same.size()) == channels && channels > 1) {
            event.channel = 0;
            for (const std::size_t s : same) {
                told[s] = true;
                if (s != i) {
                    join(event, each[s]);
                }
            }
        }
        event.blame = blame_of(event);
        all.push_back(event);
    }
    std::stable_sort(all.begin(), all.end(),
                     [](const WatchEvent& a, const WatchEvent& b) { return a.start < b.start; });
    return all;
}

}  // namespace afterload::analysis
