#include "runner/level_steps.hpp"

#include "analysis/level.hpp"

#include <algorithm>

namespace afterload::runner {
namespace {

constexpr double aim_db = -0.05;  // the middle of -0.1 … 0

}  // namespace

double ratio(double decibels) {
    return amplitude_ratio(Gain{decibels}).in<AmplitudeRatio>();
}

double decibels(double amplitude) {
    return gain_of(AmplitudeRatio{amplitude}).decibels();
}

Seconds look_length(Hertz frequency, Seconds at_least) {
    constexpr double periods = 8.0;
    return std::max(at_least, Seconds{periods / frequency.in<Hertz>()});
}

double first_drive_unknown(double target, Ohms load) {
    return std::min(voltage_for(first_output, load).in<VoltsRms>(), target) /
           ratio(assumed_gain_db);
}

double aimed_output(double target) {
    return target * ratio(aim_db);
}

double next_output(double output, double target) {
    const double missing = decibels(target / output);
    if (missing <= last_step_db) {
        return aimed_output(target);
    }
    return output * ratio(std::min(approach_step_db, missing - 0.9 * last_step_db));
}

double known_first_output(double target, double highest, bool same_frequency) {
    const double below = same_frequency ? -last_step_db : -search_step_db - last_step_db;
    return std::min(target * ratio(below), highest);
}

double other_way_first_output(double target, double highest) {
    return std::min(target * ratio(-last_step_db), highest) / ratio(other_way_db);
}

bool is_last_step(double output, double target) {
    return output >= 0.99 * target * ratio(-last_step_db);
}

std::vector<double> outputs_to(double target, double first) {
    std::vector<double> outputs{first};
    while (decibels(outputs.back() / target) < reached_db &&
           outputs.size() < static_cast<std::size_t>(most_level_steps)) {
        outputs.push_back(next_output(outputs.back(), target));
    }
    return outputs;
}

}  // namespace afterload::runner
