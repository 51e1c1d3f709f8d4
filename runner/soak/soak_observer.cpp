#include "runner/soak/soak_observer.hpp"

#include "analysis/event_names.hpp"
#include "analysis/level.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace afterload::runner {

using analysis::SoakQuantity;

namespace {

// Below these nothing is said of a rise: they are where the watch itself begins to look.
constexpr double least_distortion = 5e-5;
constexpr double least_hum = 100e-6;   // V: less than any rating asks of an amplifier
constexpr double least_noise = 50e-6;  // V
constexpr int seconds_a_mean = 10;
constexpr Seconds drift_known_after{5.0};
constexpr std::size_t steady_watts_kept = 4;   // seconds
constexpr std::size_t moving_watts_kept = 30;  // of noise and music, whose power comes and goes
constexpr Seconds power_known_after{60.0};
constexpr double mains_moved = 0.04;
constexpr double mains_back = 0.03;
constexpr double unplugged_watts = 3.0;
constexpr Seconds log_every{10.0};
constexpr Seconds bias_settled{1800.0};

bool on_the_unit(const analysis::WatchedSensor& sensor) {
    return sensor.place.starts_with("heat sink");
}

std::string kind_of(const analysis::TemperatureFinding& finding) {
    using Kind = analysis::TemperatureFinding::Kind;
    switch (finding.kind) {
        case Kind::dead:
        case Kind::frozen:
        case Kind::apart:
            return std::string{sensor_event};
        case Kind::warm:
        case Kind::hot:
        case Kind::fast:
        case Kind::runaway:
        case Kind::recovered:
            break;
    }
    return std::string{temperature_event};
}

}  // namespace

analysis::SoakLimits limits_of(const sequences::Soak& soak) {
    analysis::SoakLimits limits = analysis::usual_limits();
    for (const auto& entry : soak.limits) {
        const auto quantity = analysis::soak_quantity(entry.quantity);
        if (!quantity) {
            continue;  // a temperature: the sensors have it
        }
        analysis::SoakLimit& limit = limits[*quantity];
        limit.flag = entry.flag ? entry.flag : limit.flag;
        limit.hold = entry.hold ? entry.hold : limit.hold;
        limit.kill = entry.kill ? entry.kill : limit.kill;
    }
    return limits;
}

SoakObserver::SoakObserver(const sequences::Soak& soak,
                           std::vector<analysis::WatchedSensor> sensors,
                           std::optional<double> nominal_mains, SoakEvents& events,
                           SoakTrends& trends)
    : sensors_{std::move(sensors)},
      nominal_mains_{nominal_mains},
      events_{events},
      trends_{trends},
      temperatures_{sensors_},
      reactions_{[&] {
          analysis::ReactionSettings settings;
          settings.limits = limits_of(soak);
          settings.retries = soak.retries;
          return settings;
      }()} {}

void SoakObserver::observe(Seconds at, const analysis::Observation& observation, int event) {
    latest_ = std::max(latest_, at);
    for (analysis::Decision& decision : reactions_.observe(latest_, observation)) {
        const int known = decision.event != 0 ? events_.number_of(decision.event) : 0;
        pending_.push_back({std::move(decision), known != 0 ? known : event});
    }
}

std::vector<SoakPending> SoakObserver::take() {
    return std::exchange(pending_, {});
}

std::optional<Celsius> SoakObserver::hottest_sink() const {
    std::optional<Celsius> hottest;
    const auto& standing = temperatures_.standing();
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (on_the_unit(sensors_[i]) && standing[i].trusted && standing[i].value &&
            (!hottest || *standing[i].value > *hottest)) {
            hottest = standing[i].value;
        }
    }
    return hottest;
}

std::optional<double> SoakObserver::sink_rise() const {
    std::optional<double> rise;
    const auto& standing = temperatures_.standing();
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (on_the_unit(sensors_[i]) && standing[i].trusted && standing[i].rise &&
            (!rise || *standing[i].rise > *rise)) {
            rise = standing[i].rise;
        }
    }
    return rise;
}

int SoakObserver::told(analysis::SoakEvent event, Seconds at, const SoakDriving& driving) {
    event.since_start = at;
    event.temperature = hottest_sink();
    if (driving.driving) {
        event.since_drive = driving.driven_for;
    }
    keep_step(event, at);
    const SoakEvents::Seen seen = events_.see(event, at);
    observe(at, event, seen.number);
    return seen.fresh ? seen.number : 0;
}

void SoakObserver::keep_step(const analysis::SoakEvent& event, Seconds at) {
    using Kind = analysis::WatchEvent::Kind;
    if (event.seen.kind != Kind::level && event.seen.kind != Kind::dropout) {
        return;
    }
    auto known = std::find_if(steps_.begin(), steps_.end(),
                              [&](const Step& step) { return step.id == event.id; });
    if (event.withdrawn) {
        if (known != steps_.end()) {
            steps_.erase(known);
        }
        return;
    }
    if (known == steps_.end()) {
        // What was over long ago explains nothing any more.
        std::erase_if(steps_, [&](const Step& step) {
            return step.until && *step.until + drift_known_after < at;
        });
        known = steps_.insert(steps_.end(), Step{});
        known->id = event.id;
    }
    known->channel = event.seen.channel;
    known->from = at;
    known->until = event.lasts ? std::nullopt : std::optional{at + event.seen.duration};
    known->decibels = event.seen.size;
}

void SoakObserver::explain_drift(std::size_t channel, double drift, double decibels) {
    double& explained = explained_drift_[channel];
    if (std::abs(drift - explained - decibels) < std::abs(drift - explained)) {
        explained += decibels;
    }
}

void SoakObserver::judge_drift(const HeldDrift& held) {
    const Seconds end = held.at + Seconds{1.0};
    for (std::size_t c = 0; c < held.decibels.size(); ++c) {
        if (!held.decibels[c]) {
            continue;
        }
        bool moves = false;  // in this very second, which is then of two levels
        for (Step& step : steps_) {
            if (step.channel != 0 && step.channel != static_cast<int>(c) + 1) {
                continue;
            }
            moves = moves || (held.at <= step.from && step.from < end) ||
                    (step.until && held.at <= *step.until && *step.until < end);
            if (!step.begun[c] && step.from < held.at) {
                step.begun[c] = true;
                explain_drift(c, *held.decibels[c], step.decibels);
            }
            if (!step.ended[c] && step.until && *step.until < held.at) {
                step.ended[c] = true;
                explain_drift(c, *held.decibels[c], -step.decibels);
            }
        }
        if (!moves) {
            measured(SoakQuantity::level_drift, static_cast<int>(c) + 1,
                     std::abs(*held.decibels[c] - explained_drift_[c]), held.at);
        }
    }
}

std::optional<double> SoakObserver::ratio_to_base(Quality& quality, double value, double floor) {
    quality.sum += value;
    if (++quality.count < seconds_a_mean) {
        return std::nullopt;
    }
    const double mean = quality.sum / quality.count;
    quality.sum = 0.0;
    quality.count = 0;
    if (!quality.base) {
        quality.base = std::max(mean, floor);
        return std::nullopt;
    }
    return std::max(mean, floor) / *quality.base;
}

void SoakObserver::read(const analysis::SoakReading& reading, Seconds at) {
    using Kind = analysis::WatchedStimulus::Kind;
    const bool of_a_drive = reading.kind != Kind::silence;
    if (reading.learning || !of_a_drive) {
        return;
    }
    if (held_drift_) {
        judge_drift(*std::exchange(held_drift_, std::nullopt));
    }
    HeldDrift drifts;
    drifts.at = at;
    for (std::size_t c = 0; c < reading.channels.size() && c < 2; ++c) {
        const auto& channel = reading.channels[c];
        const int number = static_cast<int>(c) + 1;
        if (channel.gain) {
            std::optional<double>& base = base_gains_[reading.kind][c];
            base = base ? base : channel.gain->decibels();
            const double drift = channel.gain->decibels() - *base;
            trends_.add("level_drift", number, "dB", drift);
            drifts.decibels[c] = drift;
        }
        if (channel.distortion && reading.kind == Kind::tone) {
            trends_.add("distortion", number, "1", *channel.distortion);
            if (const auto ratio =
                    ratio_to_base(distortion_[c], *channel.distortion, least_distortion)) {
                measured(SoakQuantity::distortion_ratio, number, *ratio, at);
            }
        }
        if (channel.hum) {
            const double hum = channel.hum->in<VoltsRms>();
            trends_.add("hum", number, "V", hum);
            if (const auto ratio = ratio_to_base(hum_[c], hum, least_hum)) {
                measured(SoakQuantity::hum_rise, number, gain_of(AmplitudeRatio{*ratio}).decibels(),
                         at);
            }
        }
        if (reading.kind == Kind::tone && channel.residual) {
            const double residual = channel.residual->in<VoltsRms>();
            trends_.add("noise", number, "V", residual);
            if (const auto ratio = ratio_to_base(noise_[c], residual, least_noise)) {
                measured(SoakQuantity::noise_rise, number,
                         gain_of(AmplitudeRatio{*ratio}).decibels(), at);
            }
        }
    }
    held_drift_ = drifts;
    if (reading.channel_difference) {
        const double now = reading.channel_difference->decibels();
        const auto [base, fresh] = base_difference_.try_emplace(reading.kind, now);
        measured(SoakQuantity::channel_difference, 0, std::abs(now - base->second), at);
    }
}

void SoakObserver::measured(SoakQuantity quantity, int channel, double value, Seconds at) {
    const std::size_t before = pending_.size();
    observe(at, analysis::Measured{quantity, channel, value});
    for (std::size_t i = before; i < pending_.size(); ++i) {
        if (pending_[i].decision.reaction == analysis::Reaction::none) {
            continue;
        }
        if (pending_[before].event == 0) {
            RunEvent event;
            event.kind = analysis::name(quantity);
            event.channel = channel;
            event.size = value;
            event.unit = analysis::unit(quantity);
            const bool of_the_mains = quantity == SoakQuantity::mains_voltage_away ||
                                      quantity == SoakQuantity::mains_power_fall ||
                                      quantity == SoakQuantity::mains_power_ratio;
            event.blame = of_the_mains || channel == 0 ? Blame::unit_or_mains : Blame::unit_or_lead;
            event.note = pending_[i].decision.because;
            if (const auto sink = hottest_sink()) {
                event.heat_sink = sink->in<Celsius>();
            }
            pending_[before].event = events_.add(std::move(event), at);
        }
        pending_[i].event = pending_[before].event;
    }
}

void SoakObserver::looked(const SlowLook& look, Seconds at, const SoakDriving& driving) {
    look_at_mains(look, at, driving);
    look_at_temperatures(look, at, driving);
    for (std::size_t c = 0; c < 2; ++c) {
        if (look.offset[c]) {
            const int number = static_cast<int>(c) + 1;
            trends_.add("offset", number, "V", *look.offset[c]);
            measured(SoakQuantity::offset, number, std::abs(*look.offset[c]), at);
        }
    }
    if (at - logged_at_ >= log_every) {
        logged_at_ = at;
        if (const auto sink = hottest_sink()) {
            log_.push_back({at, *sink, driving.driven_for, driving.driving && !driving.learning});
        }
    }
    observe(at, analysis::Tick{});
}

bool SoakObserver::confirmed_by_another(std::size_t sensor) const {
    const auto& standing = temperatures_.standing();
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (i != sensor && sensors_[i].place == sensors_[sensor].place && standing[i].trusted &&
            standing[i].value && standing[sensor].value &&
            std::abs((*standing[i].value - *standing[sensor].value).in<Celsius>()) < 5.0) {
            return true;
        }
    }
    return false;
}

void SoakObserver::look_at_temperatures(const SlowLook& look, Seconds at,
                                        const SoakDriving& driving) {
    std::optional<Watts> power;
    if (look.mains_watts) {
        power = Watts{*look.mains_watts};
    } else {
        power = Watts{driving.output_watts};
    }
    const auto findings = temperatures_.add(at, look.sensors, power, driving.driven_for);
    for (const analysis::TemperatureFinding& finding : findings) {
        const analysis::WatchedSensor& sensor = sensors_[finding.sensor];
        RunEvent event;
        event.kind = kind_of(finding);
        event.size = finding.value;
        event.unit = finding.kind == analysis::TemperatureFinding::Kind::fast ||
                             finding.kind == analysis::TemperatureFinding::Kind::runaway
                         ? "K/min"
                         : "degC";
        event.note = finding.what;
        event.channel = sensor.place.ends_with("left")    ? 1
                        : sensor.place.ends_with("right") ? 2
                                                          : 0;
        if (event.kind == sensor_event || !on_the_unit(sensor)) {
            event.blame = Blame::rig;
        } else if (confirmed_by_another(finding.sensor)) {
            event.blame = Blame::unit;
        } else {
            event.blame = Blame::unit_or_lead;
            event.note += "; one sensor alone says so";
        }
        if (const auto sink = hottest_sink()) {
            event.heat_sink = sink->in<Celsius>();
        }
        const bool told = finding.weight != analysis::TemperatureFinding::Weight::note &&
                          finding.kind != analysis::TemperatureFinding::Kind::recovered;
        const int number = told ? events_.add(std::move(event), at) : 0;
        observe(at, finding, number);
    }
    const auto& standing = temperatures_.standing();
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (standing[i].value && standing[i].trusted) {
            const std::string& place = sensors_[i].place;
            const int channel = place.ends_with("left") ? 1 : place.ends_with("right") ? 2 : 0;
            trends_.add(place.starts_with("heat sink") ? "heat_sink"
                        : place == "room"              ? "ambient"
                                                       : "load_temperature",
                        channel, "degC", standing[i].value->in<Celsius>());
        }
    }
}

void SoakObserver::look_at_mains(const SlowLook& look, Seconds at, const SoakDriving& driving) {
    if (look.mains_volts) {
        const double volts = *look.mains_volts;
        trends_.add("mains_voltage", 0, "V", volts);
        usual_mains_ = usual_mains_ ? usual_mains_ : volts;
        const double nominal = nominal_mains_.value_or(*usual_mains_);
        const double away = std::abs(volts / *usual_mains_ - 1.0);
        if (mains_event_ == 0 && away > mains_moved) {
            RunEvent event;
            event.kind = mains_event;
            event.size = volts;
            event.unit = "V";
            event.blame = Blame::unit_or_mains;
            event.note =
                fmt::format("the mains voltage went from {:.0f} to {:.0f} V", *usual_mains_, volts);
            mains_event_ = events_.add(std::move(event), at);
            mains_event_at_ = at;
        } else if (mains_event_ != 0) {
            RunEvent& event = events_.at(mains_event_);
            event.duration = at - mains_event_at_;
            if (std::abs(volts / nominal - 1.0) > std::abs(event.size / nominal - 1.0)) {
                event.size = volts;
            }
            mains_event_ = away < mains_back ? 0 : mains_event_;
        }
        measured(SoakQuantity::mains_voltage_away, 0, std::abs(volts / nominal - 1.0), at);
    }
    if (!look.mains_watts) {
        return;
    }
    const double watts = *look.mains_watts;
    trends_.add("mains_power", 0, "W", watts);
    unit_removed_ = watts < unplugged_watts;
    if (!driving.driving) {
        return;
    }
    const std::size_t kept = driving.steady ? steady_watts_kept : moving_watts_kept;
    watts_.push_back(watts);
    while (watts_.size() > kept) {
        watts_.pop_front();
    }
    if (watts_.size() < kept) {
        return;
    }
    const double mean =
        std::accumulate(watts_.begin(), watts_.end(), 0.0) / static_cast<double>(watts_.size());
    if (!expected_watts_) {
        if (driving.driven_for > power_known_after && !driving.learning) {
            expected_watts_ = mean;
        }
        return;
    }
    measured(SoakQuantity::mains_power_ratio, 0, mean / *expected_watts_, at);
    const double latest =
        driving.steady ? std::max(watts_.back(), watts_[watts_.size() - 2]) : mean;
    const double fallen = 1.0 - latest / *expected_watts_;
    measured(SoakQuantity::mains_power_fall, 0, std::max(0.0, fallen), at);
    if (unit_removed_) {
        analysis::BenchNews gone{analysis::BenchNews::Kind::unit_removed,
                                 fmt::format("it takes {:.1f} W from the mains", watts)};
        news(std::move(gone), at);
    }
}

void SoakObserver::quiescent(const std::array<std::optional<double>, 2>& volts, Seconds at,
                             Seconds driven_in_all) {
    for (std::size_t c = 0; c < 2; ++c) {
        if (!volts[c]) {
            continue;
        }
        const int number = static_cast<int>(c) + 1;
        trends_.add("quiescent_voltage", number, "V", *volts[c]);
        if (base_quiescent_[c] && *base_quiescent_[c] > 0.0) {
            measured(SoakQuantity::quiescent_ratio, number, *volts[c] / *base_quiescent_[c], at);
        } else if (driven_in_all >= bias_settled) {
            base_quiescent_[c] = volts[c];
        }
    }
}

void SoakObserver::news(analysis::BenchNews news, Seconds at) {
    RunEvent event;
    event.kind = analysis::name(news.kind);
    event.unit = "";
    event.note = news.what;
    event.blame =
        news.kind == analysis::BenchNews::Kind::unit_removed ? Blame::unit_or_mains : Blame::rig;
    const int number = events_.add(std::move(event), at);
    observe(at, std::move(news), number);
}

void SoakObserver::drive_begins() {
    watts_.clear();
    expected_watts_.reset();
    for (auto* quality : {&distortion_, &hum_, &noise_}) {
        for (Quality& one : *quality) {
            one.sum = 0.0;
            one.count = 0;
        }
    }
}

}  // namespace afterload::runner
