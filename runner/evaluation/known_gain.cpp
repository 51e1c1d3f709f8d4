#include "runner/evaluation/known_gain.hpp"

namespace afterload::runner {
namespace {

bool same_path(const Conditions& one, const Conditions& other) {
    return one.input == other.input && one.output == other.output && one.path == other.path &&
           one.volume == other.volume && one.tone_controls == other.tone_controls;
}

bool near_1_khz(const Conditions& conditions) {
    return conditions.frequency && *conditions.frequency > Hertz{900.0} &&
           *conditions.frequency < Hertz{1100.0};
}

}  // namespace

std::optional<Figure> known_gain(std::span<const StepResult> done, int channel,
                                 const Conditions& conditions) {
    std::optional<Figure> last;
    for (const StepResult& step : done) {
        for (const ScoredFigure& scored : step.figures) {
            const Figure& figure = scored.figure;
            if (figure.kind == FigureKind::gain && figure.channel == channel && figure.value &&
                figure.unresolved.empty() && near_1_khz(figure.conditions) &&
                same_path(figure.conditions, conditions)) {
                last = figure;
            }
        }
    }
    return last;
}

}  // namespace afterload::runner
