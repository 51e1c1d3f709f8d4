#include "analysis/budget_advice.hpp"

#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace afterload::analysis {

namespace {

struct Cure {
    std::string_view part;  ///< of the line's source
    std::string_view cure;
};

// The first that matches counts: a load's own heat is named before the load.
constexpr std::array cures{
    Cure{", its own heat", "measure the load hot, at the end of the drive, or let it cool between"},
    Cure{"stated load", "measure the load with four wires and put it in a bench file"},
    Cure{"load", "measure the load with four wires"},
    Cure{"gain between the two records",
         "take the two records in turns, several times, close together"},
    Cure{"gain over the last step", "set the level nearer to the rated output"},
    Cure{"step to the distortion limit", "set the level nearer to the distortion limit"},
    Cure{"straight line between", "put the points closer together there"},
    Cure{"flatness of the rig", "calibrate source and input against each other over frequency"},
    Cure{"linearity", "check source and input against each other at both levels"},
    Cure{"left against right", "feed one tone into both inputs and calibrate their balance"},
    Cure{"balance of the inputs", "feed one tone into both inputs and calibrate their balance"},
    Cure{"source level", "calibrate the source's level against the meter"},
    Cure{"drive", "calibrate the source's level against the meter"},
};

std::string cure_of(const BudgetLine& line) {
    for (const Cure& known : cures) {
        if (line.source.find(known.part) != std::string::npos) {
            return std::string{known.cure};
        }
    }
    if (line.source.starts_with("range ")) {
        return fmt::format("calibrate {} against the meter",
                           line.source.substr(0, line.source.find(',')));
    }
    return "calibrate it, or use a better one";
}

// Noise falls as the root of the time. So many times as long, and it is as large as all the rest;
// four times halves it where there is no rest to speak of.
std::string longer_record(const BudgetLine& line, double rest) {
    constexpr double most_times = 100.0;
    const double times = rest > 0.0 ? (line.u_k1 / rest) * (line.u_k1 / rest) : most_times;
    if (times <= 1.5 || times >= most_times) {
        return "a record four times as long halves it";
    }
    return fmt::format("a record {:.2g} times as long brings it down to the size of all the rest",
                       times);
}

}  // namespace

std::string what_would_shrink(const Figure& figure) {
    const auto largest = std::ranges::max_element(figure.budget, {}, &BudgetLine::u_k1);
    const double total = combined(figure.budget);
    if (largest == figure.budget.end() || !(total > 0.0) || !std::isfinite(total)) {
        return "";
    }
    double rest_squared = 0.0;
    for (const BudgetLine& line : figure.budget) {
        rest_squared += &line == &*largest ? 0.0 : line.u_k1 * line.u_k1;
    }
    const double rest = std::sqrt(rest_squared);
    const double share = largest->u_k1 / total * (largest->u_k1 / total);
    const std::string cure = largest->kind == BudgetLine::Kind::noise
                                 ? longer_record(*largest, rest)
                                 : cure_of(*largest);
    if (!(rest > 0.0)) {
        return fmt::format("All of the variance is {}: {}.", largest->source, cure);
    }
    return fmt::format(
        "{:.0f} % of the variance is {}: {}. Without it U would be {} instead of {}.",
        100.0 * share, largest->source, cure, in_words(2.0 * rest, figure.kind, 2),
        in_words(2.0 * total, figure.kind, 2));
}

}  // namespace afterload::analysis
