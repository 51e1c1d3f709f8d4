#include "runner/papers/soak_json.hpp"

#include "runner/papers/json_list.hpp"

#include <utility>

namespace afterload::runner {

namespace {

Seconds get_seconds(const JsonPlace& place, std::string_view key) {
    return Seconds{place.at(key).number()};
}

Json segment_json(const SoakSegment& segment) {
    Json out;
    out["started"] = segment.started;
    out["ended"] = segment.ended;
    out["from_s"] = segment.from.in<Seconds>();
    out["to_s"] = segment.to.in<Seconds>();
    out["end"] = segment.end;
    out["why"] = segment.why;
    Json& consent = out["consent"];
    consent["stays"] = segment.consent.stays;
    consent["reachable"] = segment.consent.reachable;
    consent["duration_s"] = segment.consent.duration.in<Seconds>();
    consent["answered"] = segment.consent.answered;
    consent["cautions"] = segment.consent.cautions;
    return out;
}

SoakSegment get_segment(const JsonPlace& place) {
    SoakSegment segment;
    segment.started = place.text_or("started");
    segment.ended = place.text_or("ended");
    segment.from = get_seconds(place, "from_s");
    segment.to = get_seconds(place, "to_s");
    segment.end = place.at("end").text();
    segment.why = place.text_or("why");
    const JsonPlace consent = place.at("consent");
    segment.consent.stays = consent.boolean_or("stays", false);
    segment.consent.reachable = consent.text_or("reachable");
    segment.consent.duration = get_seconds(consent, "duration_s");
    segment.consent.answered = consent.text_or("answered");
    segment.consent.cautions = consent.at("cautions").texts();
    return segment;
}

Json regulation_json(const SoakRegulation& moved) {
    Json out;
    out["at_s"] = moved.at.in<Seconds>();
    out["change_db"] = moved.change_db;
    out["drive_left_v"] = moved.drive_left_volts;
    out["drive_right_v"] = moved.drive_right_volts;
    out["why"] = moved.why;
    return out;
}

SoakRegulation get_regulation(const JsonPlace& place) {
    SoakRegulation moved;
    moved.at = get_seconds(place, "at_s");
    moved.change_db = place.at("change_db").number();
    moved.drive_left_volts = place.at("drive_left_v").number();
    moved.drive_right_volts = place.at("drive_right_v").number();
    moved.why = place.text_or("why");
    return moved;
}

Json trend_json(const SoakTrend& trend) {
    Json out;
    out["quantity"] = trend.quantity;
    out["channel"] = trend.channel;
    out["unit"] = trend.unit;
    if (trend.flag) {
        out["flag"] = *trend.flag;
    }
    if (trend.flag_low) {
        out["flag_low"] = *trend.flag_low;
    }
    out["verdict"] = trend.verdict;
    out["what"] = trend.what;
    Json at = Json::array();
    Json mean = Json::array();
    Json low = Json::array();
    Json high = Json::array();
    for (const SoakTrendPoint& point : trend.points) {
        at.push_back(point.at.in<Seconds>());
        mean.push_back(point.mean);
        low.push_back(point.low);
        high.push_back(point.high);
    }
    // A member that is added moves the others: no reference to one is kept.
    out["at_s"] = std::move(at);
    out["mean"] = std::move(mean);
    out["low"] = std::move(low);
    out["high"] = std::move(high);
    return out;
}

SoakTrend get_trend(const JsonPlace& place) {
    SoakTrend trend;
    trend.quantity = place.at("quantity").text();
    trend.channel = place.at("channel").whole();
    trend.unit = place.text_or("unit");
    trend.flag = place.maybe_number("flag");
    trend.flag_low = place.maybe_number("flag_low");
    trend.verdict = place.text_or("verdict");
    trend.what = place.text_or("what");
    const auto at = place.at("at_s").numbers();
    const auto mean = place.at("mean").numbers();
    const auto low = place.at("low").numbers();
    const auto high = place.at("high").numbers();
    if (mean.size() != at.size() || low.size() != at.size() || high.size() != at.size()) {
        place.misfit("at_s, mean, low and high differ in length");
    }
    for (std::size_t i = 0; i < at.size(); ++i) {
        trend.points.push_back({Seconds{at[i]}, mean[i], low[i], high[i]});
    }
    return trend;
}

Json decision_json(const SoakDecision& decision) {
    Json out;
    out["at_s"] = decision.at.in<Seconds>();
    out["what"] = decision.what;
    out["reaction"] = decision.reaction;
    out["because"] = decision.because;
    out["event"] = decision.event;
    out["took_s"] = decision.took.in<Seconds>();
    out["done"] = decision.done;
    return out;
}

SoakDecision get_decision(const JsonPlace& place) {
    SoakDecision decision;
    decision.at = get_seconds(place, "at_s");
    decision.what = place.at("what").text();
    decision.reaction = place.text_or("reaction");
    decision.because = place.text_or("because");
    decision.event = place.at("event").whole();
    decision.took = Seconds{place.number_or("took_s", 0.0)};
    decision.done = place.text_or("done");
    return decision;
}

}  // namespace

Json soak_json(const SoakResult& soak) {
    Json out;
    out["level"] = soak.level;
    out["signal"] = soak.signal;
    out["planned_s"] = soak.planned.in<Seconds>();
    out["lasted_s"] = soak.lasted.in<Seconds>();
    out["watched_s"] = soak.watched.in<Seconds>();
    out["state"] = soak.state;
    out["why"] = soak.why;
    out["killed"] = soak.killed;
    out["cause"] = soak.cause;
    out["cause_by"] = soak.cause_by;
    out["segments"] = list(soak.segments, segment_json);
    out["decisions"] = list(soak.decisions, decision_json);
    out["patterns"] = soak.patterns;
    out["not_watched"] = soak.not_watched;
    out["regulations"] = list(soak.regulations, regulation_json);
    out["trends"] = list(soak.trends, trend_json);
    return out;
}

SoakResult get_soak(const JsonPlace& place) {
    SoakResult soak;
    soak.level = place.text_or("level");
    soak.signal = place.text_or("signal");
    soak.planned = get_seconds(place, "planned_s");
    soak.lasted = get_seconds(place, "lasted_s");
    soak.watched = Seconds{place.number_or("watched_s", 0.0)};
    soak.state = place.at("state").text();
    soak.why = place.text_or("why");
    soak.killed = place.boolean_or("killed", false);
    soak.cause = place.text_or("cause");
    soak.cause_by = place.text_or("cause_by");
    soak.segments = get_list(place, "segments", get_segment);
    soak.decisions = get_list(place, "decisions", get_decision);
    soak.patterns = place.at("patterns").texts();
    soak.not_watched = place.at("not_watched").texts();
    soak.regulations = get_list(place, "regulations", get_regulation);
    soak.trends = get_list(place, "trends", get_trend);
    return soak;
}

}  // namespace afterload::runner
