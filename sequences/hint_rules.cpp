#include "sequences/hint_rules.hpp"

#include <algorithm>

namespace afterload::sequences {

namespace {

template <class T>
void lay(std::vector<T>& under, const std::vector<T>& own) {
    for (const T& one : own) {
        const auto same = std::find_if(under.begin(), under.end(),
                                       [&one](const T& below) { return below.name == one.name; });
        if (same != under.end()) {
            *same = one;
        } else {
            under.push_back(one);
        }
    }
}

}  // namespace

std::string_view name(HintAbout about) {
    switch (about) {
        case HintAbout::rig:
            return "rig";
        case HintAbout::control:
            return "control";
        case HintAbout::unit:
            return "unit";
    }
    return "";
}

std::string_view name(HintConfidence confidence) {
    switch (confidence) {
        case HintConfidence::low:
            return "low";
        case HintConfidence::medium:
            return "medium";
        case HintConfidence::high:
            return "high";
        case HintConfidence::certain:
            return "certain";
    }
    return "";
}

const HintFact* HintRules::find_fact(std::string_view name) const {
    const auto found = std::find_if(facts.begin(), facts.end(),
                                    [name](const HintFact& fact) { return fact.name == name; });
    return found == facts.end() ? nullptr : &*found;
}

HintRules laid_over(const HintRules& own, const HintRules& under) {
    HintRules both = under;
    if (!own.title.empty()) {
        both.title = own.title;
    }
    lay(both.facts, own.facts);
    lay(both.hints, own.hints);
    return both;
}

}  // namespace afterload::sequences
