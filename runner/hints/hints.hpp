/// First hints: from the figures of a run, where to look first. Rules held against facts.
///
/// A hint says what a pattern usually means and which test tells it from what looks alike, with
/// what speaks for it and against it. It never says what to replace. The rig comes first: what it
/// explains is not laid to the unit. Controls come next: a knob in the wrong place costs nothing to
/// put right.
#pragma once

#include "runner/papers/run_document.hpp"
#include "sequences/hint_rules.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

struct Hint {
    std::string name;
    sequences::HintAbout about = sequences::HintAbout::unit;
    std::string family;
    std::string where;  ///< "left", "right", "both channels"; empty for none
    sequences::HintConfidence confidence = sequences::HintConfidence::medium;
    std::string usually;
    std::string look;
    std::string separates;
    std::vector<std::string> cautions;  ///< in words
    std::vector<std::string> evidence;  ///< "response at 20 Hz, left: -2.4 dB (at most -1 dB)"
    std::vector<std::string> counter_evidence;
    std::vector<std::string> figures;  ///< ids of the failed figures that it may be behind
};

struct Hints {
    std::vector<Hint> hints;      ///< the one to look at first comes first
    std::vector<Hint> set_aside;  ///< what rig or control explain as well: measure again first
};

/// What `rules` say of a run. A run that a healthy unit passed gives none.
[[nodiscard]] Hints hints_for(const RunDocument& run, const sequences::HintRules& rules);

}  // namespace afterload::runner
