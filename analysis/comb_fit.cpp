#include "analysis/comb_fit.hpp"

#include "analysis/normal_equations.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::analysis {

double CombLine::amplitude() const {
    return std::hypot(cosine, sine);
}

double CombLine::phase() const {
    return std::atan2(-sine, cosine);
}

CombFit::CombFit(const FoldedRecord& record, const CosineEnds& weight, int dc_degree)
    : record_{record}, weight_{weight} {
    for (int power = 0; power <= dc_degree; ++power) {
        // The sums of a straight line are closed forms: they need no samples.
        powers_.push_back(power < 2 ? FoldedRecord{} : folded_power(power, weight));
        power_sums_.push_back(power_sum(record, power));
    }
    dc_.assign(powers_.size(), 0.0);
}

std::size_t CombFit::add(Comb comb) {
    combs_.emplace_back();
    combs_.back().comb.omega = comb.omega;
    combs_.back().comb.free = comb.free;
    if (comb.ratios.empty()) {
        set_orders(combs_.size() - 1, std::move(comb.orders));
    } else {
        set_lines(combs_.back(), comb.orders, comb.ratios);
    }
    return combs_.size() - 1;
}

void CombFit::set_orders(std::size_t comb, std::vector<int> orders) {
    set_lines(combs_.at(comb), orders, {orders.begin(), orders.end()});
}

// Lines that stay keep what is known of them.
void CombFit::set_lines(Fitted& fitted, const std::vector<int>& orders,
                        const std::vector<double>& ratios) {
    std::vector<Tooth> teeth;
    for (std::size_t i = 0; i < orders.size(); ++i) {
        const int order = orders[i];
        const auto same = std::find_if(fitted.teeth.begin(), fitted.teeth.end(),
                                       [order](const Tooth& t) { return t.line.order == order; });
        if (same != fitted.teeth.end()) {
            teeth.push_back(*same);
        } else {
            teeth.emplace_back();
            teeth.back().line.order = order;
            teeth.back().line.ratio = ratios.at(i);
        }
    }
    fitted.teeth = std::move(teeth);
    fitted.comb.orders = orders;
}

void CombFit::set_free(std::size_t comb, bool free) {
    combs_.at(comb).comb.free = free;
}

double CombFit::omega(std::size_t comb) const {
    return combs_.at(comb).comb.omega + combs_[comb].pending;
}

const std::vector<CombLine>& CombFit::lines(std::size_t comb) const {
    return combs_.at(comb).lines;
}

double CombFit::omega_variance(std::size_t comb) const {
    return combs_.at(comb).omega_variance;
}

void CombFit::sum_up(Fitted& fitted) const {
    for (Tooth& tooth : fitted.teeth) {
        const bool timed = fitted.comb.free && tooth.strong;
        if (!tooth.known || (timed && !tooth.timed)) {
            const double omega = fitted.comb.omega * tooth.line.ratio;
            tooth.sums = timed ? line_sums_with_time(record_, omega) : line_sums(record_, omega);
            tooth.known = true;
            tooth.timed = timed;
        }
    }
}

void CombFit::find_strong(Fitted& fitted) {
    double largest = 0.0;
    for (const Tooth& tooth : fitted.teeth) {
        largest = std::max(largest, tooth.line.ratio * tooth.line.amplitude());
    }
    for (Tooth& tooth : fitted.teeth) {
        tooth.strong = largest > 0.0 && tooth.line.ratio * tooth.line.amplitude() > 0.01 * largest;
    }
}

bool CombFit::solve(bool frequencies) {
    const double n = static_cast<double>(record_.length);
    struct Column {
        double omega;
        const Tooth* tooth;
    };
    std::vector<Column> columns;
    std::vector<const Fitted*> moving;
    for (Fitted& fitted : combs_) {
        find_strong(fitted);
        sum_up(fitted);
        for (const Tooth& tooth : fitted.teeth) {
            columns.push_back({fitted.comb.omega * tooth.line.ratio, &tooth});
        }
        const bool moves = frequencies && fitted.comb.free &&
                           std::any_of(fitted.teeth.begin(), fitted.teeth.end(),
                                       [](const Tooth& t) { return t.strong; });
        moving.push_back(moves ? &fitted : nullptr);
    }

    // Unknowns: cosines, sines, DC, and the frequencies scaled by N.
    const std::size_t lines = columns.size();
    const std::size_t first_dc = 2 * lines;
    const std::size_t first_move = first_dc + powers_.size();
    std::size_t moves = 0;
    for (const Fitted* fitted : moving) {
        moves += fitted != nullptr ? 1U : 0U;
    }
    NormalEquations equations{first_move + moves};

    for (std::size_t i = 0; i < lines; ++i) {
        for (std::size_t j = 0; j <= i; ++j) {
            const double difference = weight_.sum_of_cosine(columns[i].omega - columns[j].omega);
            const double sum = weight_.sum_of_cosine(columns[i].omega + columns[j].omega);
            equations.at(i, j) = 0.5 * (difference + sum);
            equations.at(lines + i, lines + j) = 0.5 * (difference - sum);
        }
        equations.right(i) = columns[i].tooth->sums.cosine;
        equations.right(lines + i) = columns[i].tooth->sums.sine;
    }
    for (std::size_t p = 0; p < powers_.size(); ++p) {
        for (std::size_t j = 0; j < lines; ++j) {
            if (p == 0) {
                equations.at(first_dc, j) = weight_.sum_of_cosine(columns[j].omega);
            } else if (p == 1) {
                equations.at(first_dc + 1, lines + j) = weight_.sums(columns[j].omega).e / n;
            } else {
                const LineSums sums = line_sums(powers_[p], columns[j].omega);
                equations.at(first_dc + p, j) = sums.cosine;
                equations.at(first_dc + p, lines + j) = sums.sine;
            }
        }
        for (std::size_t q = 0; q <= p; ++q) {
            if ((p + q) % 2 == 0) {
                equations.at(first_dc + p, first_dc + q) =
                    p == 0   ? weight_.sum()
                    : p == 1 ? weight_.sums(0.0).f / (n * n)
                             : power_sum(powers_[p], static_cast<int>(q));
            }
        }
        equations.right(first_dc + p) = power_sums_[p];
    }
    // The column of a frequency: (1/N) Σ k t (sine · cos kωt - cosine · sin kωt) over strong lines.
    std::size_t row = first_move;
    std::vector<const Fitted*> rows;
    for (const Fitted* fitted : moving) {
        if (fitted == nullptr) {
            continue;
        }
        for (const Tooth& tooth : fitted->teeth) {
            if (!tooth.strong) {
                continue;
            }
            const double k = tooth.line.ratio;
            const double omega = fitted->comb.omega * k;
            const double c = k * tooth.line.cosine / n;
            const double s = k * tooth.line.sine / n;
            for (std::size_t j = 0; j < lines; ++j) {
                const double above = weight_.sums(omega + columns[j].omega).e;
                const double below = weight_.sums(omega - columns[j].omega).e;
                equations.at(row, j) -= 0.5 * c * (above + below);
                equations.at(row, lines + j) += 0.5 * s * (above - below);
            }
            for (std::size_t p = 0; p < powers_.size(); ++p) {
                LineSums sums;
                if (p == 0) {
                    sums.t_sine = weight_.sums(omega).e;
                } else if (p == 1) {
                    sums.t_cosine = weight_.sums(omega).f / n;
                } else {
                    sums = line_sums_with_time(powers_[p], omega);
                }
                equations.at(row, first_dc + p) += s * sums.t_cosine - c * sums.t_sine;
            }
            equations.right(row) += s * tooth.sums.t_cosine - c * tooth.sums.t_sine;
            rows.resize(moves, nullptr);
            rows[row - first_move] = fitted;
            for (std::size_t other = 0; other <= row - first_move; ++other) {
                for (const Tooth& with : rows[other]->teeth) {
                    if (!with.strong) {
                        continue;
                    }
                    const double l = with.line.ratio;
                    const double omega_l = rows[other]->comb.omega * l;
                    const double below = weight_.sums(omega - omega_l).f;
                    const double above = weight_.sums(omega + omega_l).f;
                    equations.at(row, first_move + other) +=
                        0.5 * l / n *
                        (c * with.line.cosine * (below - above) +
                         s * with.line.sine * (below + above));
                }
            }
        }
        ++row;
    }

    const std::optional<NormalEquations::Solution> solution = equations.solve();
    if (!solution) {
        return false;
    }
    const std::vector<double>& x = solution->values;
    explained_ = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        explained_ += x[i] * equations.right(i);
    }
    unknowns_ = x.size();
    const double noise = weight_.sum_of_squares() / weight_.sum();
    std::size_t i = 0;
    row = first_move;
    for (std::size_t g = 0; g < combs_.size(); ++g) {
        Fitted& fitted = combs_[g];
        fitted.lines.clear();
        for (Tooth& tooth : fitted.teeth) {
            tooth.line.cosine = x[i];
            tooth.line.sine = x[lines + i];
            const double cc = x[i] * x[i];
            const double ss = x[lines + i] * x[lines + i];
            const double whole = cc + ss;
            const double share = whole > 0.0 ? cc / whole : 0.5;
            tooth.line.variance = noise * (share * solution->inverse_diagonal[i] +
                                           (1.0 - share) * solution->inverse_diagonal[lines + i]);
            fitted.lines.push_back(tooth.line);
            ++i;
        }
        fitted.pending = 0.0;
        if (moving[g] != nullptr) {
            fitted.pending = x[row] / n;
            fitted.omega_variance =
                weight_.frequency_noise() * solution->inverse_diagonal[row] / (n * n);
            ++row;
        }
    }
    for (std::size_t p = 0; p < powers_.size(); ++p) {
        dc_[p] = x[first_dc + p];
    }
    return true;
}

bool CombFit::solve_amplitudes() {
    return solve(false);
}

std::optional<double> CombFit::step() {
    if (!solve(true)) {
        return std::nullopt;
    }
    double largest = 0.0;
    for (const Fitted& fitted : combs_) {
        largest =
            std::max(largest, 0.5 * std::abs(fitted.pending) * static_cast<double>(record_.length));
    }
    return largest;
}

bool CombFit::settle(double rest, int most) {
    const double half = 0.5 * static_cast<double>(record_.length);
    for (int pass = 0; pass < most; ++pass) {
        const std::optional<double> largest = step();
        if (!largest) {
            return false;
        }
        if (*largest < rest || pass + 1 == most) {
            return true;
        }
        for (Fitted& fitted : combs_) {
            if (half * std::abs(fitted.pending) < rest) {
                continue;
            }
            fitted.comb.omega += std::clamp(fitted.pending, -1.0 / half, 1.0 / half);
            fitted.pending = 0.0;
            for (Tooth& tooth : fitted.teeth) {
                tooth.known = false;
            }
        }
    }
    return true;
}

std::vector<Line> CombFit::all_lines() const {
    std::vector<Line> all;
    for (std::size_t g = 0; g < combs_.size(); ++g) {
        for (const CombLine& line : combs_[g].lines) {
            all.push_back({omega(g) * line.ratio, line.cosine, line.sine});
        }
    }
    return all;
}

}  // namespace afterload::analysis
