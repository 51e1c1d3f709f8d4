#include "sequences/players.hpp"

#include "sequences/combinations.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::sequences {
namespace {

Place place_of(const Step& step, std::string_view key) {
    const auto found = step.places.find(key);
    return found == step.places.end() ? step.place : found->second;
}

/// Is it found with a level of its own for each channel?
bool levels_apart(const FigureRequest& request) {
    return request.figure == FigureKind::distortion_limited_power ||
           request.figure == FigureKind::short_term_power ||
           request.figure == FigureKind::overload_level ||
           request.figure == FigureKind::input_sensitivity ||
           (request.figure == FigureKind::output_power && request.scored);
}

}  // namespace

std::optional<NeedsCard> needs_card(const Step& step, const std::string& generator) {
    if (!step.signal || step.signal == Signal::silence) {
        return std::nullopt;
    }
    if (step.signal != Signal::tone) {
        return NeedsCard{
            place_of(step, "signal"),
            fmt::format("the source is the generator “{}”, which plays one sine", generator),
            "let the card play: leave instrument: out of source:"};
    }
    const std::vector<Combination> all = combinations(step);
    const bool alone = std::any_of(all.begin(), all.end(), [](const Combination& combination) {
        return combination.driven != Channels::both;
    });
    if (alone) {
        return NeedsCard{place_of(step, step.for_each.channels.empty() ? "driven" : "for_each"),
                         fmt::format("the generator “{}” plays both channels alike", generator),
                         "drive both, or let the card play"};
    }
    const auto apart = std::find_if(step.figures.begin(), step.figures.end(), levels_apart);
    if (apart != step.figures.end()) {
        return NeedsCard{
            apart->place,
            fmt::format("{} needs a level for each channel, and the generator “{}” plays both "
                        "alike",
                        name(apart->figure), generator),
            "let the card play, or ask for it with scored: false where it is power"};
    }
    return std::nullopt;
}

bool generator_plays(const BenchFile& bench, const Step& step) {
    return bench.generator && !step.soak && step.signal == Signal::tone &&
           !needs_card(step, bench.generator->instrument);
}

const SourceEntry& source_of(const BenchFile& bench, const Step& step) {
    return generator_plays(bench, step) ? *bench.generator : bench.source;
}

}  // namespace afterload::sequences
