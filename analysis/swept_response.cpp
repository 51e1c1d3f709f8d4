#include "analysis/swept_response.hpp"

#include "analysis/debiased_power.hpp"
#include "analysis/minimum_phase.hpp"
#include "analysis/resampling.hpp"
#include "analysis/rotor.hpp"
#include "analysis/sweep_arrival.hpp"
#include "analysis/transform.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <numeric>
#include <span>
#include <string>
#include <utility>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
using Complex = std::complex<double>;

constexpr double highest_share = 0.45;  // of the rate: what a card's own filters leave alone
constexpr double least_density = 0.2;   // of the sweep's own, in power: where it is still a sweep
constexpr double rest_density =
    0.1;  // below this, re the weakest power inside, the sweep is given up
constexpr Seconds longest_lead{0.05};  // of the record kept before the sweep
constexpr Seconds longest_tail{2.0};   // and after it
constexpr double noisy = 0.5;          // relative uncertainty above which there is no reading
constexpr double well_known = 0.01;    // of which the delay is found
constexpr double full_strength = 0.7;  // of the usual power: outside the fades, as harmonics want
constexpr double phase_drift = 0.02;   // radians at the upper end over the sweep, from the clock
constexpr double whole_sample = 0.05;

tl::unexpected<FigureFailure> failure(FigureFailure::Kind kind, std::string what) {
    return tl::unexpected(FigureFailure{kind, std::move(what)});
}

bool all_finite(std::span<const double> x) {
    return std::all_of(x.begin(), x.end(), [](double v) { return std::isfinite(v); });
}

/// A window in time about a centre: flat between the inner ends, half a cosine to the outer ones.
/// All in samples from the centre.
struct WindowEnds {
    double before = 0.0;  ///< outer, positive
    double flat_before = 0.0;
    double flat_after = 0.0;
    double after = 0.0;  ///< outer

    [[nodiscard]] double at(double t) const {
        const double size = t < 0.0 ? -t : t;
        const double flat = t < 0.0 ? flat_before : flat_after;
        const double end = t < 0.0 ? before : after;
        if (size <= flat) {
            return 1.0;
        }
        return size >= end ? 0.0
                           : 0.5 + 0.5 * std::cos(std::numbers::pi * (size - flat) / (end - flat));
    }
};

/// The part of an impulse response under a window.
class Cut {
public:
    /// `impulse` goes round; `centre` may lie anywhere.
    Cut(std::span<const double> impulse, double centre, const WindowEnds& ends)
        : first_{std::ceil(centre - ends.before) - centre} {
        const auto length = static_cast<std::int64_t>(impulse.size());
        const auto from = static_cast<std::int64_t>(std::ceil(centre - ends.before));
        const auto to = static_cast<std::int64_t>(std::floor(centre + ends.after));
        for (std::int64_t n = from; n <= to; ++n) {
            const double weight = ends.at(static_cast<double>(n) - centre);
            const std::int64_t round = ((n % length) + length) % length;
            samples_.push_back(weight * impulse[static_cast<std::size_t>(round)]);
            square_weight_ += weight * weight;
        }
    }

    [[nodiscard]] double square_weight() const { return square_weight_; }

    /// Σ w h e^{-jωt} and Σ t w h e^{-jωt}, t from the centre.
    struct Value {
        Complex sum;
        Complex moment;
    };
    [[nodiscard]] Value at(double omega) const {
        constexpr std::size_t restart = 1024;
        Rotor rotor{omega};
        Value value;
        const std::size_t even = samples_.size() - samples_.size() % Rotor::lanes;
        for (std::size_t block = 0; block < even; block += restart) {
            rotor.start(first_ + static_cast<double>(block));
            std::array<Pair, 4> sums{};
            for (std::size_t n = block; n < std::min(block + restart, even); n += Rotor::lanes) {
                for (std::size_t i = 0; i < Rotor::pairs; ++i) {
                    const Pair x = load(&samples_[n + 2 * i]);
                    const double t = first_ + static_cast<double>(n + 2 * i);
                    const Pair tx = x * Pair{t, t + 1.0};
                    sums[0] += x * rotor.cosine[i];
                    sums[1] += x * rotor.sine[i];
                    sums[2] += tx * rotor.cosine[i];
                    sums[3] += tx * rotor.sine[i];
                }
                rotor.turn();
            }
            value.sum += Complex{sums[0][0] + sums[0][1], -(sums[1][0] + sums[1][1])};
            value.moment += Complex{sums[2][0] + sums[2][1], -(sums[3][0] + sums[3][1])};
        }
        for (std::size_t n = even; n < samples_.size(); ++n) {
            const double t = first_ + static_cast<double>(n);
            const Complex term = samples_[n] * std::polar(1.0, -omega * t);
            value.sum += term;
            value.moment += t * term;
        }
        return value;
    }

private:
    double first_;
    double square_weight_ = 0.0;
    std::vector<double> samples_;
};

/// What is measured, in samples and radians a sample of the record.
class Measurement {
public:
    Measurement(WaveformView record, WaveformView stimulus, const SweepPlan& plan,
                const SweptSettings& settings)
        : record_{record},
          stimulus_{stimulus},
          plan_{plan},
          settings_{settings},
          rate_{record.rate.frequency().in<Hertz>()} {}

    Expected<SweptResponse> carry_out();

private:
    [[nodiscard]] bool exponential() const { return plan_.growth > Seconds{0.0}; }
    /// Frames of the stimulus to frames of the record.
    [[nodiscard]] double frames(Seconds stimulus_time) const {
        return stimulus_time.in<Seconds>() * rate_ / ratio_;
    }
    [[nodiscard]] double omega(double hertz) const { return two_pi * hertz * ratio_ / rate_; }
    [[nodiscard]] double power_at(double hertz) const;
    /// When the sweep passes a frequency, in samples from the start of its reference.
    [[nodiscard]] double passes(double hertz) const;

    Expected<void> find();
    void divide();
    Expected<void> choose_frequencies();
    void find_noise();
    [[nodiscard]] double noise_variance(double hertz) const;
    [[nodiscard]] WindowEnds window_of(double hertz) const;
    void linear(SweptResponse& result);
    void take_delay_out(SweptResponse& result) const;
    void harmonics(SweptResponse& result) const;
    void order(int k, const SweptResponse& linear, SweptOrder& out) const;
    static void distortion(SweptResponse& result, double highest, int highest_order);

    WaveformView record_;
    WaveformView stimulus_;
    const SweepPlan& plan_;
    SweptSettings settings_;
    double rate_;

    std::int64_t arrival_ = 0;  // of the stimulus' first sample, to a millisecond
    std::optional<SweepClock> clock_;
    double ratio_ = 1.0;        // seconds of the stimulus in a second of the record
    std::int64_t begin_ = 0;    // of the sweep in the stimulus
    std::int64_t segment_ = 0;  // of the record, where it begins
    std::size_t segment_length_ = 0;
    std::size_t reference_length_ = 0;
    double peak_ = 0.0;  // place of the linear response in impulse_
    std::vector<Complex> quotient_;
    std::vector<double> impulse_;
    std::vector<double> power_;  // |X|² of the reference
    std::vector<double> hertz_;
    double full_from_ = std::numeric_limits<double>::infinity();  // Hz
    double cut_before_ = 0.0;  // what is cut out before noise is looked at, samples from the peak
    double cut_after_ = 0.0;
    std::vector<double> noise_sums_;  // running sum of the residual's periodogram
};

double Measurement::power_at(double hertz) const {
    const double bin = omega(hertz) / two_pi * static_cast<double>(2 * (power_.size() - 1));
    const auto below = std::min(static_cast<std::size_t>(bin), power_.size() - 2);
    const double part = bin - static_cast<double>(below);
    return (1.0 - part) * power_[below] + part * power_[below + 1];
}

double Measurement::passes(double hertz) const {
    const double last = static_cast<double>(reference_length_);
    return exponential() ? std::clamp(frames(plan_.passes(Hertz{hertz}) - plan_.begin), 0.0, last)
                         : last;
}

Expected<void> Measurement::find() {
    using Kind = FigureFailure::Kind;
    begin_ = static_cast<std::int64_t>(std::floor(plan_.begin.in<Seconds>() * rate_));
    const auto end =
        std::min(static_cast<std::int64_t>(std::ceil(plan_.end.in<Seconds>() * rate_)) + 1,
                 static_cast<std::int64_t>(stimulus_.volts.size()));
    if (end - begin_ < 64) {
        return failure(Kind::record_too_short, "the stimulus is too short for a sweep");
    }
    const auto sweep = stimulus_.volts.subspan(static_cast<std::size_t>(begin_),
                                               static_cast<std::size_t>(end - begin_));
    const auto place = arrival_of(sweep, record_.volts);
    if (!place) {
        return failure(Kind::no_tone, "nothing like the stimulus stands out of the record");
    }
    arrival_ = *place - begin_;
    clock_ = sweep_clock(record_, stimulus_, plan_, arrival_);
    constexpr double most_offset = 2e-3;  // no crystal is that far off: something else was read
    if (clock_ && std::abs(clock_->offset) > most_offset) {
        clock_.reset();
    }
    if (clock_) {
        ratio_ = 1.0 + clock_->offset;
    }
    reference_length_ =
        static_cast<std::size_t>(std::ceil(static_cast<double>(end - begin_) / ratio_));

    // From the pause before the sweep to the pause after it, as far as the record goes.
    double lead = longest_lead.in<Seconds>() * rate_;
    double tail = longest_tail.in<Seconds>() * rate_;
    for (const SweepPilot& pilot : plan_.pilots) {
        const double first = pilot.start.in<Seconds>() * rate_;
        const double last = first + pilot.length.in<Seconds>() * rate_;
        if (pilot.start < plan_.begin) {
            lead = std::min(lead, std::max(0.0, 0.5 * (static_cast<double>(begin_) - last)));
        } else {
            const double fade = 0.025 * rate_;
            tail = std::min(tail, std::max(0.0, std::max(plan_.tail.in<Seconds>() * rate_,
                                                         first - static_cast<double>(end) - fade)));
        }
    }
    const std::int64_t place_in_record = *place;
    const auto size = static_cast<std::int64_t>(record_.volts.size());
    segment_ = place_in_record - static_cast<std::int64_t>(lead);
    const std::int64_t closes =
        std::min(size, place_in_record + static_cast<std::int64_t>(reference_length_) +
                           static_cast<std::int64_t>(tail));
    if (closes - place_in_record < static_cast<std::int64_t>(reference_length_ / 2)) {
        return failure(Kind::record_too_short,
                       fmt::format("the record ends {:.3g} s into a sweep of {:.3g} s",
                                   static_cast<double>(closes - place_in_record) / rate_,
                                   static_cast<double>(reference_length_) / rate_));
    }
    segment_length_ = static_cast<std::size_t>(closes - segment_);
    return {};
}

/// The mean of what was recorded before the stimulus came, or after it was over: the card's offset.
double offset_of(std::span<const double> volts, std::int64_t arrival, std::int64_t ends,
                 double rate) {
    const auto size = static_cast<std::int64_t>(volts.size());
    const auto guard = static_cast<std::int64_t>(0.005 * rate);
    const auto settled = static_cast<std::int64_t>(0.5 * rate);
    const auto quiet_before = std::clamp<std::int64_t>(arrival - guard, 0, size);
    const auto quiet_after = std::clamp<std::int64_t>(ends + settled, 0, size);
    const auto least = static_cast<std::int64_t>(0.01 * rate);
    if (quiet_before + (size - quiet_after) < least) {
        return 0.0;
    }
    const auto front = volts.first(static_cast<std::size_t>(quiet_before));
    const auto back = volts.subspan(static_cast<std::size_t>(quiet_after));
    return (std::accumulate(front.begin(), front.end(), 0.0) +
            std::accumulate(back.begin(), back.end(), 0.0)) /
           static_cast<double>(front.size() + back.size());
}

void Measurement::divide() {
    const double ends = static_cast<double>(arrival_) + frames(plan_.length);
    const double dc = offset_of(record_.volts, arrival_, static_cast<std::int64_t>(ends), rate_);
    const std::size_t length = good_length_at_least(segment_length_ + reference_length_);
    const RealTransform transform{length};
    std::vector<double> padded(length, 0.0);
    // The sweep alone, without its pilots, on the card's time scale.
    const auto stop =
        std::min(static_cast<std::int64_t>(stimulus_.volts.size()),
                 static_cast<std::int64_t>(std::ceil(plan_.end.in<Seconds>() * rate_)) + 1);
    const auto alone = stimulus_.volts.subspan(static_cast<std::size_t>(begin_),
                                               static_cast<std::size_t>(stop - begin_));
    const std::vector<double> reference = resampled(alone, 0.0, ratio_, reference_length_);
    std::copy(reference.begin(), reference.end(), padded.begin());
    const std::vector<Complex> played = transform.forward(padded);
    std::fill(padded.begin(), padded.end(), 0.0);
    for (std::size_t n = 0; n < segment_length_; ++n) {
        const std::int64_t at = segment_ + static_cast<std::int64_t>(n);
        padded[n] = at >= 0 ? record_.volts[static_cast<std::size_t>(at)] - dc : 0.0;
    }
    quotient_ = transform.forward(padded);
    power_.resize(played.size());
    for (std::size_t k = 0; k < played.size(); ++k) {
        power_[k] = std::norm(played[k]);
        quotient_[k] *= std::conj(played[k]);
    }
}

Expected<void> Measurement::choose_frequencies() {
    const double low = std::max(plan_.band.low.in<Hertz>(), 1.0);
    const double high = std::min(plan_.band.high.in<Hertz>(), highest_share * rate_ / ratio_);
    std::vector<double> grid;
    if (low < high) {
        const double step = std::numbers::ln2 / settings_.points_an_octave;
        grid.push_back(low);
        const auto first = static_cast<int>(std::ceil(std::log(low / 1000.0) / step));
        for (int i = first; 1000.0 * std::exp(i * step) < high; ++i) {
            const double hertz = 1000.0 * std::exp(i * step);
            if (hertz > low * 1.0001 && hertz < high * 0.9999) {
                grid.push_back(i == 0 ? 1000.0 : hertz);
            }
        }
        grid.push_back(high);
    }
    // An exponential sweep has the same strength an octave everywhere between its fades.
    std::vector<double> strength;
    strength.reserve(grid.size());
    for (const double hertz : grid) {
        strength.push_back(power_at(hertz) * (exponential() ? hertz : 1.0));
    }
    std::vector<double> sorted = strength;
    std::sort(sorted.begin(), sorted.end());
    const double usual = sorted.empty() ? 0.0 : sorted[sorted.size() / 2];
    for (std::size_t i = 0; i < grid.size(); ++i) {
        if (strength[i] > least_density * usual) {
            hertz_.push_back(grid[i]);
        }
        if (strength[i] > full_strength * usual) {
            full_from_ = std::min(full_from_, grid[i]);
        }
    }
    if (hertz_.size() < 2) {
        return failure(FigureFailure::Kind::out_of_range,
                       "the stimulus has no strength at the frequencies wanted");
    }
    return {};
}

double Measurement::noise_variance(double hertz) const {
    const double length = static_cast<double>(impulse_.size());
    const double bin = length / two_pi * omega(hertz);
    // Where noise of this frequency stands in the impulse response, and how much of it was cut out.
    const double earliest = -passes(hertz) - peak_;
    const double latest = static_cast<double>(segment_length_) - peak_ - passes(hertz);
    const double from = std::max(earliest, -cut_before_);
    const double to = std::min(latest, cut_after_);
    const double left = latest - earliest - std::max(0.0, to - from);
    if (left < 0.05 * rate_ && left < 0.1 * static_cast<double>(segment_length_)) {
        return -1.0;
    }
    // A tenth of an octave either way, and at least two dozen independent values.
    const double reach = std::max(0.07 * bin, 24.0 * 0.5 * length / left);
    const double lowest = length / two_pi * omega(hertz_.front());
    const double highest = length / two_pi * omega(hertz_.back());
    const double centre =
        std::clamp(bin, std::min(lowest + reach, highest), std::max(highest - reach, lowest));
    const auto first = static_cast<std::size_t>(std::max(lowest, centre - reach));
    const auto last = std::min(static_cast<std::size_t>(std::min(highest, centre + reach)) + 1,
                               noise_sums_.size() - 1);
    if (last <= first) {
        return -1.0;
    }
    return (noise_sums_[last] - noise_sums_[first]) / static_cast<double>(last - first) / left;
}

void Measurement::find_noise() {
    // Everything from the tenth harmonic to the end of the longest window belongs to the unit.
    const double longest = rate_;
    cut_after_ = longest;
    cut_before_ = exponential() ? frames(plan_.lead(10)) + 0.01 * rate_ : 0.2 * rate_;
    const double taper = 0.01 * rate_;
    const WindowEnds cut{cut_before_ + taper, cut_before_, cut_after_, cut_after_ + taper};
    std::vector<double> rest = impulse_;
    const auto length = static_cast<std::int64_t>(rest.size());
    const auto from = static_cast<std::int64_t>(std::ceil(peak_ - cut.before));
    const auto to = static_cast<std::int64_t>(std::floor(peak_ + cut.after));
    for (std::int64_t n = from; n <= to; ++n) {
        const std::int64_t round = ((n % length) + length) % length;
        rest[static_cast<std::size_t>(round)] *= 1.0 - cut.at(static_cast<double>(n) - peak_);
    }
    const std::vector<Complex> spectrum = RealTransform{rest.size()}.forward(rest);
    noise_sums_.assign(spectrum.size() + 1, 0.0);
    for (std::size_t k = 0; k < spectrum.size(); ++k) {
        noise_sums_[k + 1] = noise_sums_[k] + std::norm(spectrum[k]) * power_[k];
    }
}

WindowEnds Measurement::window_of(double hertz) const {
    const double available =
        static_cast<double>(segment_length_) - peak_ - passes(hertz) + 0.002 * rate_;
    const double wanted = (hertz < 100.0 ? 1.0 : 0.5) * rate_;
    const double shortest = 0.01 * rate_;
    // In steps, so that neighbouring frequencies share one cut.
    double after = wanted;
    while (after > shortest && after > available) {
        after *= std::numbers::sqrt2 / 2.0;
    }
    const double gap = exponential() ? frames(plan_.lead(2)) : 0.1 * rate_;
    return {0.95 * gap, 0.4 * gap, 0.6 * after, after};
}

void Measurement::linear(SweptResponse& result) {
    std::map<double, Cut> cuts;
    double last_variance = 0.0;
    std::vector<double> missing;
    for (const double hertz : hertz_) {
        const WindowEnds ends = window_of(hertz);
        const auto found = cuts.try_emplace(ends.after, impulse_, peak_, ends).first;
        const Cut& cut = found->second;
        const Cut::Value value = cut.at(omega(hertz));
        const double size = std::abs(value.sum);
        const double variance = noise_variance(hertz);
        last_variance = variance >= 0.0 ? variance : last_variance;
        const double sigma = std::sqrt(0.5 * last_variance * cut.square_weight() / power_at(hertz));
        if (!(size > 0.0) || sigma > noisy * size) {
            ++result.in_noise;
            continue;
        }
        const double delay = (value.moment / value.sum).real() / rate_;
        result.linear.push_back({Hertz{hertz}, value.sum, Seconds{delay}, sigma / size});
    }
}

void Measurement::take_delay_out(SweptResponse& result) const {
    std::vector<double> hertz;
    std::vector<Complex> response;
    for (const SweptPoint& point : result.linear) {
        if (point.u_relative < well_known) {
            hertz.push_back(point.frequency.in<Hertz>());
            response.push_back(point.response);
        }
    }
    const auto beyond = excess_delay(hertz, response, rate_ / ratio_);
    const double sweep = static_cast<double>(segment_) + peak_ + (beyond ? beyond->samples : 0.0);
    double arrival = sweep - static_cast<double>(begin_) / ratio_;
    if (std::abs(arrival - std::round(arrival)) < whole_sample) {
        arrival = std::round(arrival);
    }
    const double shift =
        arrival + static_cast<double>(begin_) / ratio_ - static_cast<double>(segment_) - peak_;
    for (SweptPoint& point : result.linear) {
        point.response *= std::polar(1.0, omega(point.frequency.in<Hertz>()) * shift);
        point.group_delay -= Seconds{shift / rate_};
    }
    result.inverted = beyond && beyond->inverted;
    result.delay = Seconds{arrival / rate_};
}

void Measurement::order(int k, const SweptResponse& linear, SweptOrder& out) const {
    const double lead = frames(plan_.lead(k));
    const double centre = peak_ - lead;
    const double before = frames(plan_.lead(k + 1)) - lead;
    const double after = lead - frames(plan_.lead(k - 1));
    const WindowEnds ends{0.85 * before, 0.3 * before, 0.3 * after, 0.85 * after};
    const Cut cut{impulse_, centre, ends};
    const double shift = (linear.delay.in<Seconds>() * rate_) +
                         static_cast<double>(begin_) / ratio_ - static_cast<double>(segment_) -
                         peak_;
    const double least = 3.0 / (std::min(ends.before, ends.after) / rate_);
    for (const SweptPoint& point : linear.linear) {
        const double fundamental = point.frequency.in<Hertz>();
        const double hertz = k * fundamental;
        if (hertz < least || fundamental < full_from_ || hertz > hertz_.back()) {
            continue;
        }
        const double variance = noise_variance(hertz);
        const Complex start = std::polar(1.0, -(k - 1) * plan_.phase.in<Radians>());
        const Complex response =
            cut.at(omega(hertz)).sum * std::polar(1.0, omega(hertz) * shift) * start;
        const double size = std::abs(point.response);
        const double sigma =
            std::sqrt(0.5 * std::max(variance, 0.0) * cut.square_weight() / power_at(hertz));
        const double phase =
            std::arg(response) - k * std::arg(point.response) + (k - 1) * std::numbers::pi / 2.0;
        out.points.push_back({point.frequency, std::abs(response) / size,
                              std::remainder(phase, two_pi), sigma / size});
    }
}

void Measurement::harmonics(SweptResponse& result) const {
    for (int k = 2; k <= settings_.highest_order; ++k) {
        SweptOrder out{k, {}};
        order(k, result, out);
        result.harmonics.push_back(std::move(out));
    }
}

void Measurement::distortion(SweptResponse& result, double highest, int highest_order) {
    for (const SweptPoint& point : result.linear) {
        DebiasedPower power;
        int counted = 1;
        for (const SweptOrder& order : result.harmonics) {
            const auto at = std::find_if(
                order.points.begin(), order.points.end(),
                [&](const SweptHarmonic& h) { return h.fundamental == point.frequency; });
            if (at != order.points.end() && order.order == counted + 1) {
                power.add(at->ratio, at->sigma);
                counted = order.order;
            }
        }
        const double hertz = point.frequency.in<Hertz>();
        const int possible = std::min(highest_order, static_cast<int>(highest / hertz));
        if (counted >= 3 && counted == possible) {
            result.distortion.push_back({point.frequency, power.root(1.0), counted});
        }
    }
}

Expected<SweptResponse> Measurement::carry_out() {
    if (auto found = find(); !found) {
        return tl::unexpected(found.error());
    }
    divide();
    if (auto chosen = choose_frequencies(); !chosen) {
        return tl::unexpected(chosen.error());
    }
    // Divided exactly where the sweep is strong, well into its fades; held back beyond, where a
    // little noise would drown it.
    double weakest = power_at(hertz_.front());
    for (const double hertz : hertz_) {
        weakest = std::min(weakest, power_at(hertz));
    }
    for (std::size_t k = 0; k < quotient_.size(); ++k) {
        quotient_[k] /= std::max(power_[k], rest_density * weakest);
    }
    const std::size_t length = 2 * (power_.size() - 1);
    impulse_ = RealTransform{length}.inverse(std::move(quotient_));

    // The unit's own delay is behind the arrival that was found, by a few milliseconds at most.
    const auto expected = -segment_ + arrival_ + begin_;
    const auto near = static_cast<std::int64_t>(0.02 * rate_);
    std::int64_t highest = expected;
    const auto size_at = [&](std::int64_t n) {
        const auto round = static_cast<std::int64_t>(impulse_.size());
        return std::abs(impulse_[static_cast<std::size_t>(((n % round) + round) % round)]);
    };
    for (std::int64_t n = expected - near; n <= expected + near; ++n) {
        highest = size_at(n) > size_at(highest) ? n : highest;
    }
    peak_ = static_cast<double>(highest);
    find_noise();

    SweptResponse result;
    linear(result);
    if (result.linear.size() < 2) {
        return failure(FigureFailure::Kind::no_tone,
                       "the sweep does not stand out of the record's noise");
    }
    result.clock = clock_;
    const double drift =
        clock_ ? clock_->u_k1 * two_pi * hertz_.back() * (plan_.end - plan_.begin).in<Seconds>()
               : 1.0;
    const bool slipped = clock_ && clock_->slipped();
    result.phase_known = clock_ && !slipped && drift < phase_drift && exponential();
    take_delay_out(result);
    result.sweep_ends =
        Seconds{result.delay.in<Seconds>() +
                (exponential() ? frames(plan_.passes(plan_.high)) : frames(plan_.end)) / rate_};
    if (exponential()) {
        harmonics(result);
        distortion(result, hertz_.back(), settings_.highest_order);
    }
    return result;
}

}  // namespace

Expected<SweptResponse> swept_response(WaveformView record, WaveformView stimulus,
                                       const SweepPlan& plan, const SweptSettings& settings) {
    using Kind = FigureFailure::Kind;
    if (!(record.rate == stimulus.rate)) {
        return failure(Kind::out_of_range,
                       fmt::format("the stimulus has {:g} samples a second and the record {:g}: "
                                   "record at the stimulus' rate",
                                   stimulus.rate.frequency().in<Hertz>(),
                                   record.rate.frequency().in<Hertz>()));
    }
    if (!all_finite(record.volts) || !all_finite(stimulus.volts)) {
        return failure(Kind::out_of_range, "there are samples that are not finite");
    }
    return Measurement{record, stimulus, plan, settings}.carry_out();
}

}  // namespace afterload::analysis
