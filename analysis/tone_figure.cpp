#include "analysis/tone_figure.hpp"

#include <cmath>
#include <limits>
#include <utility>

namespace afterload::analysis {

Figure begin(FigureKind kind, const ToneRecord& tone) {
    Figure figure;
    figure.kind = kind;
    figure.channel = tone.channel;
    figure.conditions = tone.conditions;
    figure.conditions.frequency = tone.fit.fundamental.frequency;
    if (!figure.conditions.load) {
        figure.conditions.load = tone.bench.load;
    }
    return figure;
}

Figure without_value(Figure figure, std::string why) {
    figure.unresolved = std::move(why);
    return figure;
}

double relative_noise(const ToneFit& fit) {
    const FittedLine& line = fit.fundamental;
    return line.amplitude > 0.0 ? line.sigma / line.amplitude
                                : std::numeric_limits<double>::infinity();
}

bool buried(const ToneFit& fit) {
    return fit.fundamental.amplitude <= 2.0 * fit.fundamental.sigma;
}

double largest_over_fitted(const ToneFit& fit) {
    return 1.0 + 2.0 * relative_noise(fit);
}

double noise_of(const Estimate& estimate) {
    return estimate.bound ? std::abs(estimate.bound->value - estimate.value) / 2.0 : estimate.u_k1;
}

void add_line(Budget& budget, BudgetLine::Kind kind, const std::string& source,
              const char* otherwise, double u_k1) {
    if (u_k1 > 0.0) {
        budget.push_back({source.empty() ? std::string{otherwise} : source, kind, u_k1});
    }
}

}  // namespace afterload::analysis
