#include "runner/hints/hint_json.hpp"

namespace afterload::runner {

namespace {

Json one_json(const Hint& hint) {
    Json out;
    out["hint"] = hint.name;
    out["about"] = name(hint.about);
    out["family"] = hint.family;
    out["where"] = hint.where;
    out["confidence"] = name(hint.confidence);
    out["usually"] = hint.usually;
    out["look"] = hint.look;
    out["separates"] = hint.separates;
    out["cautions"] = hint.cautions;
    out["evidence"] = hint.evidence;
    out["counter_evidence"] = hint.counter_evidence;
    out["figures"] = hint.figures;
    return out;
}

}  // namespace

Json hints_json(const RunDocument& run, const Hints& hints) {
    Json out;
    out["schema"] = "afterload/hints/1";
    out["run"] = run.id;
    out["hints"] = Json::array();
    for (const Hint& hint : hints.hints) {
        out["hints"].push_back(one_json(hint));
    }
    out["set_aside"] = Json::array();
    for (const Hint& hint : hints.set_aside) {
        out["set_aside"].push_back(one_json(hint));
    }
    return out;
}

}  // namespace afterload::runner
