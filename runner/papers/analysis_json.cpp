#include "runner/papers/analysis_json.hpp"

#include "runner/papers/figure_json.hpp"

#include <utility>

namespace afterload::runner {

namespace {

Json figures_json(const std::vector<Figure>& figures) {
    Json list = Json::array();
    for (const Figure& figure : figures) {
        Json entry;
        put_figure(entry, figure);
        // The list they stand in says which channel they are of.
        entry.erase("channel");
        entry.erase("pair");
        list.push_back(std::move(entry));
    }
    return list;
}

void put_events(const CaptureEvents& watched, Json& out) {
    Json& events = out["events"] = Json::array();
    for (const analysis::WatchEvent& event : watched.events) {
        Json entry;
        entry["class"] = name(event.kind);
        entry["channel"] = event.channel;
        entry["start_s"] = event.start.in<Seconds>();
        entry["duration_s"] = event.duration.in<Seconds>();
        entry["size"] = event.size;
        entry["unit"] = size_unit(event.kind);
        entry["timeline_intact"] = event.timeline_intact;
        entry["blame"] = name(event.blame);
        events.push_back(std::move(entry));
    }
    out["events_left_out"] = watched.left_out;
    Json& unwatched = out["unwatched"] = Json::array();
    for (const analysis::UnwatchedPart& part : watched.unwatched) {
        Json entry;
        entry["why"] = name(part.why);
        entry["start_s"] = part.start.in<Seconds>();
        entry["duration_s"] = part.duration.in<Seconds>();
        unwatched.push_back(std::move(entry));
    }
}

}  // namespace

Json analysis_json(const CaptureAnalysis& analysis) {
    Json out;
    out["schema"] = "afterload/analysis/1";
    out["uncertainty"] = "fit_only";
    Json& capture = out["capture"];
    capture["file"] = analysis.file;
    capture["rate_hz"] = analysis.rate.frequency().in<Hertz>();
    capture["frames"] = analysis.frames.count();
    capture["sound"] = analysis.sound();
    capture["faults"] = faults_json(analysis.faults);
    if (!analysis.notes.empty()) {
        capture["notes"] = analysis.notes;
    }
    Json& channels = out["channels"] = Json::array();
    for (const CaptureChannel& channel : analysis.channels) {
        Json entry;
        entry["channel"] = channel.channel;
        entry["figures"] = figures_json(channel.figures);
        channels.push_back(std::move(entry));
    }
    Json& pairs = out["pairs"] = Json::array();
    for (const CapturePair& pair : analysis.pairs) {
        Json entry;
        entry["from"] = pair.from;
        entry["to"] = pair.to;
        entry["figures"] = figures_json(pair.figures);
        pairs.push_back(std::move(entry));
    }
    if (analysis.watched) {
        put_events(*analysis.watched, out);
    }
    return out;
}

}  // namespace afterload::runner
