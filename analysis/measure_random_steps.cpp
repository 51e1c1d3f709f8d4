#include "analysis/measure_quiet.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr std::size_t most_listed = 20;

void list(Figure& figure, const char* name, const std::vector<RandomEvent>& events,
          double watched) {
    figure.details.emplace_back(fmt::format("{}s_per_second", name),
                                static_cast<double>(events.size()) / watched);
    std::vector<double> sizes;
    sizes.reserve(events.size());
    for (const RandomEvent& event : events) {
        sizes.push_back(std::abs(event.volts));
    }
    if (sizes.empty()) {
        return;
    }
    std::sort(sizes.begin(), sizes.end());
    figure.details.emplace_back(fmt::format("{}_size", name), sizes[sizes.size() / 2]);
    figure.details.emplace_back(fmt::format("largest_{}", name), sizes.back());
    for (std::size_t i = 0; i < std::min(most_listed, events.size()); ++i) {
        figure.details.emplace_back(fmt::format("{}_{}_at", name, i + 1),
                                    events[i].at.in<Seconds>());
        figure.details.emplace_back(fmt::format("{}_{}", name, i + 1), events[i].volts);
    }
}

}  // namespace

Figure random_steps(const QuietRecord& record, int channel, const BenchShare& bench,
                    Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::random_steps;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    const Expected<RandomSteps> found = random_steps(record);
    if (!found) {
        return without_value(std::move(figure), found.error().what);
    }
    const double watched = found->watched.in<Seconds>();
    const double count = static_cast<double>(found->steps.size() + found->clicks.size());
    figure.details = {{"watched", watched},
                      {"threshold", random_step_threshold},
                      {"smallest_step", found->smallest_step},
                      {"smallest_click", found->smallest_click}};
    list(figure, "step", found->steps, watched);
    list(figure, "click", found->clicks, watched);
    // A rig that steps is a fault of the rig; nobody has found how often a sound one does.
    figure.rig_cancelled = bench.present ? std::optional{0.0} : std::nullopt;
    if (found->crowded) {
        figure.bound = Bound{count / watched, Bound::Side::at_least};
        return figure;
    }
    if (count == 0.0) {
        // Of a Poisson process that is seen to give nothing: 1 - e^-3 = 95 %.
        figure.bound = Bound{3.0 / watched, Bound::Side::at_most};
        add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "", 1.5 / watched);
        return figure;
    }
    figure.value = count / watched;
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "", std::sqrt(count) / watched);
    return figure;
}

}  // namespace afterload::analysis
