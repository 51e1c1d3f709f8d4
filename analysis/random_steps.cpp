#include "analysis/random_steps.hpp"

#include "analysis/median.hpp"
#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <optional>
#include <string>

namespace afterload::analysis {

namespace {

using Spectrum = std::vector<std::complex<double>>;

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double threshold = random_step_threshold;
constexpr double lowest = 30.0;   // Hz: below, coupling capacitors have made slopes of steps
constexpr double highest = 0.45;  // of the rate
constexpr double click_deviation = 50e-6;  // seconds, of the Gaussian pulse a click is held against
constexpr double reach = 0.2;              // seconds after which a template has died away
constexpr std::size_t block = 4096;
constexpr double unresolved = 0.5e-3;   // seconds within which two events are one
constexpr double neighbourhood = 5e-3;  // seconds around an event in which small ones are its own

// One shape: the record seen through its matched filter, and that filter's answer to itself.
struct Template {
    std::vector<double> seen;
    double gain = 0.0;       // the answer to a unit event
    double deviation = 0.0;  // of `seen` where nothing happens
};

// As if normal, whatever a few values do. A quarter of the values tells it as well.
double robust_deviation(std::span<const double> values) {
    std::vector<double> magnitudes;
    magnitudes.reserve(values.size() / 4 + 1);
    for (std::size_t n = 0; n < values.size(); n += 4) {
        magnitudes.push_back(std::abs(values[n]));
    }
    return 1.4826 * median_of(std::move(magnitudes));
}

class Search {
public:
    // `quiet` says what the noise of `record` is like without its events, as far as they are known.
    Search(const Periodogram& record, const Periodogram& quiet, double rate)
        : length_{record.length()}, rate_{rate}, inverse_{length_} {
        const std::size_t count = record.bins().size();
        step_.resize(count);
        click_.resize(count);
        weight_.assign(count, 0.0);
        const double bin = rate_ / static_cast<double>(length_);
        for (std::size_t k = 1; k + 1 < count; ++k) {
            const double f = static_cast<double>(k) * bin;
            const double noise = quiet.noise(k);
            // A line tells nothing of a step and would drown it.
            const bool line = quiet.power(k) > 12.0 * noise;
            if (f > highest * rate_ || line || !(noise > 0.0)) {
                continue;
            }
            const double rise = std::pow(f / lowest, 4);
            weight_[k] = rise / (1.0 + rise) / noise;
            step_[k] = 1.0 / (1.0 - std::polar(1.0, -two_pi * f / rate_));
            const double turn = two_pi * f * click_deviation;
            click_[k] = std::sqrt(two_pi) * click_deviation * rate_ * std::exp(-0.5 * turn * turn);
        }
        from_ = length_ / 20 + 1;
        to_ = length_ - from_;
        steps_ = through(record.bins(), step_);
        clicks_ = through(record.bins(), click_);
        steps_.gain = gain_of(step_);
        clicks_.gain = gain_of(click_);
        find_deviations();
    }

    struct Event {
        bool step = true;
        std::size_t at = 0;
        double volts = 0.0;
        double significance = 0.0;
    };

    // Finds all events; false when there are more than are counted.
    bool run() {
        while (true) {
            const std::optional<Event> event = strongest();
            if (event && known_.size() == most_random_events) {
                return false;
            }
            if (event) {
                take_off(*event);
            } else if (known_.empty() || !find_deviations()) {
                break;  // else many events hid how quiet the rest is, and it is looked at again
            }
        }
        size_anew();
        return true;
    }

    [[nodiscard]] const std::vector<Event>& known() const { return known_; }

    // The strongest event above the threshold that is not another one's skirt.
    [[nodiscard]] std::optional<Event> strongest() const {
        std::optional<Event> best;
        for (const std::optional<Event>& event : of_block_) {
            if (event && (!best || event->significance > best->significance)) {
                best = event;
            }
        }
        return best;
    }

    void take_off(const Event& event) {
        if (!answers_) {
            answers_ = Answers{answer(step_, step_), answer(step_, click_), answer(click_, click_)};
        }
        spread(event);
        known_.push_back(event);
        const std::size_t far = static_cast<std::size_t>(reach * rate_) + 1;
        const std::size_t last = std::min((event.at + far) / block, of_block_.size() - 1);
        for (std::size_t b = (event.at - std::min(event.at, far)) / block; b <= last; ++b) {
            look_through(b);
        }
    }

    // Gives whether what is left has become quieter by more than its scatter.
    bool find_deviations() {
        const double before = steps_.deviation;
        const std::size_t size = to_ - from_;
        steps_.deviation = robust_deviation(std::span{steps_.seen}.subspan(from_, size));
        clicks_.deviation = robust_deviation(std::span{clicks_.seen}.subspan(from_, size));
        of_block_.resize(length_ / block + 1);
        for (std::size_t b = 0; b < of_block_.size(); ++b) {
            look_through(b);
        }
        return steps_.deviation < 0.95 * before;
    }

    // Each event was sized while its neighbours still stood around it: what they left is shared out
    // anew, one event after the other, until little moves.
    void size_anew() {
        constexpr int rounds = 4;
        for (int round = 0; round < rounds; ++round) {
            for (Event& event : known_) {
                const Template& shape = event.step ? steps_ : clicks_;
                Event change = event;
                change.volts = shape.seen[event.at] / shape.gain;
                spread(change);
                event.volts += change.volts;
            }
        }
    }

    // Two deviations above the threshold 39 of 40 would be found, were the noise known. An event
    // also stands in the noise it is measured against: four leave 19 of 20.
    [[nodiscard]] double smallest(bool step) const {
        const Template& shape = step ? steps_ : clicks_;
        return shape.gain > 0.0 ? (threshold + 4.0) * shape.deviation / shape.gain : 0.0;
    }
    [[nodiscard]] Seconds watched() const {
        return Seconds{static_cast<double>(to_ - from_) / rate_};
    }

private:
    struct Answers {
        std::vector<double> step_step;
        std::vector<double> step_click;  // of the step's filter to a click; mirrored the other way
        std::vector<double> click_click;
    };

    [[nodiscard]] Template through(const Spectrum& bins, const Spectrum& shape) const {
        Spectrum product(bins.size());
        for (std::size_t k = 0; k < bins.size(); ++k) {
            product[k] = weight_[k] * bins[k] * std::conj(shape[k]);
        }
        Template result;
        result.seen = inverse_.inverse(std::move(product));
        return result;
    }
    [[nodiscard]] std::vector<double> answer(const Spectrum& filter, const Spectrum& event) const {
        Spectrum product(filter.size());
        for (std::size_t k = 0; k < filter.size(); ++k) {
            product[k] = weight_[k] * event[k] * std::conj(filter[k]);
        }
        return inverse_.inverse(std::move(product));
    }
    [[nodiscard]] double gain_of(const Spectrum& shape) const {
        double sum = 0.0;
        for (std::size_t k = 0; k < shape.size(); ++k) {
            sum += 2.0 * weight_[k] * std::norm(shape[k]);
        }
        return sum / static_cast<double>(length_);
    }
    // An event of one shape is seen by both filters: through its own, and crosswise.
    void spread(const Event& event) {
        add(steps_.seen, event.step ? answers_->step_step : answers_->step_click, event, false);
        add(clicks_.seen, event.step ? answers_->step_click : answers_->click_click, event,
            event.step);
    }
    void add(std::vector<double>& seen, const std::vector<double>& answer, const Event& event,
             bool mirrored) const {
        const auto far = static_cast<std::ptrdiff_t>(reach * rate_);
        const auto size = static_cast<std::ptrdiff_t>(length_);
        const auto at = static_cast<std::ptrdiff_t>(event.at);
        const std::ptrdiff_t most = std::min(far, size / 2 - 1);
        for (std::ptrdiff_t lag = -most; lag <= most; ++lag) {
            const std::ptrdiff_t n = at + lag;
            if (n >= 0 && n < size) {
                const std::ptrdiff_t place = mirrored ? -lag : lag;
                seen[static_cast<std::size_t>(n)] -=
                    event.volts * answer[static_cast<std::size_t>((place + size) % size)];
            }
        }
    }
    // The strongest event of one block; blocks away from a new event keep theirs.
    void look_through(std::size_t b) {
        std::optional<Event>& best = of_block_[b];
        best.reset();
        const std::size_t end = std::min(to_, (b + 1) * block);
        for (const bool step : {true, false}) {
            const Template& shape = step ? steps_ : clicks_;
            if (!(shape.deviation > 0.0)) {
                continue;
            }
            for (std::size_t n = std::max(from_, b * block); n < end; ++n) {
                const double significance = std::abs(shape.seen[n]) / shape.deviation;
                if (significance > threshold && (!best || significance > best->significance) &&
                    !skirt(n, significance)) {
                    best = Event{step, n, shape.seen[n] / shape.gain, significance};
                }
            }
        }
    }
    [[nodiscard]] bool skirt(std::size_t n, double significance) const {
        const double one = unresolved * rate_;
        const double near = neighbourhood * rate_;
        return std::any_of(known_.begin(), known_.end(), [&](const Event& event) {
            const double apart = std::abs(static_cast<double>(n) - static_cast<double>(event.at));
            return apart < one || (apart < near && significance < 0.25 * event.significance);
        });
    }

    std::size_t length_;
    double rate_;
    RealTransform inverse_;
    std::size_t from_ = 0;
    std::size_t to_ = 0;
    std::vector<double> weight_;
    Spectrum step_;
    Spectrum click_;
    Template steps_;
    Template clicks_;
    std::optional<Answers> answers_;
    std::vector<Event> known_;
    std::vector<std::optional<Event>> of_block_;
};

Waveform without(WaveformView record, const std::vector<Search::Event>& events) {
    Waveform rest{{record.volts.begin(), record.volts.end()}, record.rate};
    const double deviation = click_deviation * record.rate.frequency().in<Hertz>();
    std::vector<double> jumps(rest.volts.size() + 1, 0.0);
    for (const Search::Event& event : events) {
        if (event.step) {
            jumps[event.at] += event.volts;
            continue;
        }
        const auto far = static_cast<std::ptrdiff_t>(std::ceil(5.0 * deviation));
        for (std::ptrdiff_t lag = -far; lag <= far; ++lag) {
            const std::ptrdiff_t n = static_cast<std::ptrdiff_t>(event.at) + lag;
            if (n >= 0 && n < static_cast<std::ptrdiff_t>(rest.volts.size())) {
                const double t = static_cast<double>(lag) / deviation;
                rest.volts[static_cast<std::size_t>(n)] -= event.volts * std::exp(-0.5 * t * t);
            }
        }
    }
    double level = 0.0;
    for (std::size_t n = 0; n < rest.volts.size(); ++n) {
        level += jumps[n];
        rest.volts[n] -= level;
    }
    return rest;
}

}  // namespace

Expected<RandomSteps> random_steps(const QuietRecord& record) {
    const double rate = record.rest().rate.frequency().in<Hertz>();
    const double length = static_cast<double>(record.periodogram().length()) / rate;
    if (rate < 8000.0) {
        return tl::unexpected(FigureFailure{FigureFailure::Kind::out_of_range,
                                            "steps are looked for at 8 kHz or more"});
    }
    if (length < 0.2) {
        return tl::unexpected(
            FigureFailure{FigureFailure::Kind::record_too_short,
                          "steps are looked for in records of 0.25 s or more, this one has " +
                              std::to_string(length) + " s"});
    }
    // Steps are part of the spectrum that they are first held against. Taken off, they uncover a
    // quieter one.
    constexpr int most_passes = 3;
    RandomSteps result;
    std::vector<Search::Event> events;
    std::optional<Periodogram> quiet;
    for (int pass = 0; pass < most_passes; ++pass) {
        Search search{record.periodogram(), quiet ? *quiet : record.periodogram(), rate};
        result.crowded = !search.run();
        const bool no_more = search.known().size() <= events.size();
        events = search.known();
        result.smallest_step = search.smallest(true);
        result.smallest_click = search.smallest(false);
        result.watched = search.watched();
        if (no_more && (pass > 0 || events.empty())) {
            break;
        }
        quiet.emplace(without(record.rest(), events));
    }
    std::sort(events.begin(), events.end(),
              [](const auto& a, const auto& b) { return a.at < b.at; });
    for (const Search::Event& event : events) {
        (event.step ? result.steps : result.clicks)
            .push_back({Seconds{static_cast<double>(event.at) / rate}, event.volts});
    }
    return result;
}

}  // namespace afterload::analysis
