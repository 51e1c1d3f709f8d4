#include "runner/rig/calibration.hpp"

#include "runner/rig/loop.hpp"
#include "sequences/quantity_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr Hertz calibration_tone{333.0};  // below the droop of most meters, off the mains' lines
constexpr double most_off = 2.0;          // a reading further off is another quantity
constexpr double most_off_of_load = 1.2;  // the same of a load: the next value is a half or double
constexpr Seconds look{1.0};

class Calibration {
public:
    Calibration(Driver& driver, Operator& person, CalibrationSettings settings)
        : driver_{driver}, person_{person}, settings_{std::move(settings)} {}

    Task<RunResult<sequences::CalibrationFound>> carry_out() {
        found_.made = settings_.today;
        found_.meter = settings_.meter;
        found_.meter_u_k1 = settings_.meter_u_k1;
        found_.mixer = settings_.mixer;
        auto done = loop_there(driver_.file());
        if (done) {
            done = co_await read_source();
        }
        if (done) {
            done = co_await join_loop(driver_, person_, true);
        }
        if (done) {
            done = co_await find_ranges();
        }
        if (done) {
            done = co_await find_flatness();
        }
        if (done) {
            done = co_await join_loop(driver_, person_, false);
        }
        if (done) {
            done = co_await measure_loads();
        }
        const auto muted = co_await driver_.mute();
        if (!done || !muted) {
            co_return tl::unexpected<Trouble>(done ? muted.error() : done.error());
        }
        co_await read_ambient();
        co_return found_;
    }

private:
    /// The source's true volts at the drive that it was told.
    Task<RunResult<void>> read_source() {
        const auto ranges = ranges_safest_first(driver_.file());
        told_ = loop_drive(driver_.file(), ranges.front());
        if (driver_.bench().hands() == nullptr) {
            sequences::Prompt prompt;
            prompt.title = "Meter on AC volts, at the source's outputs";
            prompt.checks = {"nothing but the meter on the output that is read",
                             "the meter reads true rms and is good to its word at 333 Hz"};
            if (person_.ask(prompt, 0, 0) != Answer::done) {
                co_return trouble(Trouble::Kind::person, "calibration was stopped");
            }
        }
        ToneDrive drive{calibration_tone, {told_, told_}};
        const auto played = co_await driver_.play(drive, {0.0, 0.0});
        if (!played) {
            co_return played;
        }
        const auto waited = co_await driver_.wait(Seconds{1.0});
        if (!waited) {
            co_return waited;
        }
        for (std::size_t c = 0; c < 2; ++c) {
            const auto volts = co_await read_meter(c);
            if (!volts) {
                co_return tl::unexpected<Trouble>(volts.error());
            }
            if (!(*volts > told_ / most_off && *volts < told_ * most_off)) {
                co_return trouble(
                    Trouble::Kind::gate,
                    fmt::format("{}: the meter reads {:.4g} V where {:.4g} V were played: is it on "
                                "AC volts, and on this output? Nothing was changed",
                                side_of(c), *volts, told_));
            }
            source_[c] = *volts;
        }
        const double mean = 0.5 * (source_[0] + source_[1]);
        const double apart = std::abs(source_[0] - source_[1]) / (2.0 * mean);
        found_.source_full_scale =
            VoltsRms{driver_.file().source.full_scale.in<VoltsRms>() * mean / told_};
        found_.source_u_k1 = std::hypot(settings_.meter_u_k1, apart);
        settings_.say(fmt::format("source: {:.4f} V left, {:.4f} V right where {:.4f} V were told",
                                  source_[0], source_[1], told_));
        co_return RunResult<void>{};
    }

    Task<RunResult<double>> read_meter(std::size_t channel) {
        using instruments::MeterQuantity;
        instruments::Meter* const meter = driver_.bench().meter();
        if (meter != nullptr && meter->can_read(MeterQuantity::source_voltage)) {
            const auto reading = co_await meter->read(
                MeterQuantity::source_voltage, channel == 0 ? Channels::left : Channels::right);
            if (!reading) {
                co_return trouble(reading.error());
            }
            co_return reading->value;
        }
        const std::string typed = person_.type_in(
            fmt::format("source output, {}, as the meter reads it, in V", side_of(channel)));
        const bool has_unit = typed.find('V') != std::string::npos;
        const auto volts = sequences::read_quantity(has_unit ? typed : typed + " V",
                                                    sequences::Dimension::volts, "a reading");
        if (!volts) {
            co_return trouble(Trouble::Kind::gate,
                              fmt::format("{}: “{}” is no reading in volts; nothing was changed",
                                          side_of(channel), typed));
        }
        co_return *volts;
    }

    Task<RunResult<void>> find_ranges() {
        for (const sequences::RangeEntry& range : ranges_safest_first(driver_.file())) {
            std::string name = range.name;
            const auto selected = co_await driver_.select_range(std::move(name));
            if (!selected) {
                co_return selected;
            }
            const double drive = std::min(told_, loop_drive(driver_.file(), range));
            ToneDrive tone{calibration_tone, {drive, drive}};
            const auto seen = co_await look_at_loop(driver_, tone, look);
            if (!seen) {
                co_return tl::unexpected<Trouble>(seen.error());
            }
            auto kept = keep_range(range, *seen, drive);
            if (!kept) {
                co_return kept;
            }
        }
        co_return RunResult<void>{};
    }

    RunResult<void> keep_range(const sequences::RangeEntry& range, const LoopTone& seen,
                               double drive) {
        std::array<double, 2> full_scale{};
        double noise = 0.0;
        for (std::size_t c = 0; c < 2; ++c) {
            const double truth = source_[c] * drive / told_;
            const double reads = seen.volts(c);
            if (!(reads > truth / most_off && reads < truth * most_off)) {
                return trouble(
                    Trouble::Kind::gate,
                    fmt::format("range {}, {}: {:.4g} V come back where {:.4g} V go out: look at "
                                "the loop, and at the range's divider; nothing was changed",
                                range.name, side_of(c), reads, truth));
            }
            full_scale[c] = range.full_scale.in<VoltsPeak>() * truth / reads;
            noise = std::max(noise,
                             seen.fits[c]->fundamental.sigma / seen.fits[c]->fundamental.amplitude);
        }
        sequences::CalibratedRange found;
        found.name = range.name;
        found.full_scale = VoltsPeak{0.5 * (full_scale[0] + full_scale[1])};
        const double apart =
            std::abs(full_scale[0] - full_scale[1]) / (full_scale[0] + full_scale[1]);
        found.level_u_k1 = std::hypot(settings_.meter_u_k1, apart, noise);
        found.balance_u_k1 = std::max(2.0 * apart, 2.0 * noise);
        settings_.say(fmt::format(
            "range {}: full scale {:.5g} V peak, was {:.5g} V peak ({:+.2f} %)", range.name,
            found.full_scale.in<VoltsPeak>(), range.full_scale.in<VoltsPeak>(),
            100.0 * (found.full_scale / range.full_scale - 1.0)));
        found_.ranges.push_back(found);
        return {};
    }

    /// Source and input together, re 1 kHz, on the range that is selected.
    Task<RunResult<void>> find_flatness() {
        const sequences::RangeEntry range = ranges_safest_first(driver_.file()).back();
        const double volts = loop_drive(driver_.file(), range);
        const double highest = 0.45 * driver_.file().card.rate.frequency().in<Hertz>();
        double reference = 0.0;
        double worst_db = 0.0;
        for (const double hertz :
             {997.0, 20.0, 41.0, 101.0, 331.0, 5009.0, 10007.0, 15013.0, 20011.0}) {
            if (hertz >= highest) {
                continue;
            }
            ToneDrive tone{Hertz{hertz}, {volts, volts}};
            const auto seen = co_await look_at_loop(driver_, tone, Seconds{0.5});
            if (!seen) {
                co_return tl::unexpected<Trouble>(seen.error());
            }
            const double level = std::sqrt(seen->volts(0) * seen->volts(1));
            if (!(level > 0.0)) {
                co_return trouble(
                    Trouble::Kind::gate,
                    fmt::format("nothing comes back at {:g} Hz: look at the loop", hertz));
            }
            reference = reference > 0.0 ? reference : level;
            worst_db = std::max(worst_db, std::abs(20.0 * std::log10(level / reference)));
        }
        // A bound of `worst`, anywhere inside it: GUM 4.3.7.
        found_.flatness_u_k1_db = std::max(0.002, worst_db / std::numbers::sqrt3);
        settings_.say(fmt::format("flatness 20 Hz to 20 kHz re 1 kHz: within {:.3f} dB", worst_db));
        co_return RunResult<void>{};
    }

    /// Cold, off the unit, less what the meter's leads read alone.
    Task<RunResult<void>> measure_loads() {
        const auto muted = co_await driver_.mute();
        if (!muted) {
            co_return muted;
        }
        using instruments::MeterQuantity;
        instruments::Meter* const meter = driver_.bench().meter();
        const bool reads = meter != nullptr && meter->can_read(MeterQuantity::load_resistance);
        if (!reads && !driver_.file().loads.empty()) {
            sequences::Prompt prompt;
            prompt.title = "Meter on ohms, at the loads";
            prompt.checks = {"the unit is off the loads: its output stage would be measured too",
                             "the loads are at the temperature of the room",
                             "the meter's leads are held together first: what they read alone is "
                             "taken off"};
            const Answer answer = person_.ask(prompt, 0, 0);
            if (answer == Answer::stop) {
                co_return trouble(Trouble::Kind::person, "calibration was stopped");
            }
            if (answer == Answer::skip) {
                co_return RunResult<void>{};  // the loads stay as they are written
            }
        }
        for (const sequences::LoadEntry& load : driver_.file().loads) {
            const auto others = std::count_if(
                driver_.file().loads.begin(), driver_.file().loads.end(),
                [&](const sequences::LoadEntry& other) { return other.channel == load.channel; });
            if (others > 1) {
                const auto connected = co_await driver_.connect_load(load.resistance);
                if (!connected) {
                    co_return connected;
                }
            }
            const auto found = co_await read_load(load, reads ? meter : nullptr);
            if (!found) {
                co_return tl::unexpected<Trouble>(found.error());
            }
            if (!*found) {
                continue;
            }
            const double was = load.resistance.in<Ohms>();
            const double is = (*found)->resistance.in<Ohms>();
            if (!(is > was / most_off_of_load && is < was * most_off_of_load)) {
                co_return trouble(
                    Trouble::Kind::gate,
                    fmt::format("load, {}: the meter reads {:.4g} ohm where the bench file says "
                                "{:.4g} ohm: is it another load, or is the unit still on it? "
                                "Nothing was changed",
                                name(load.channel), is, was));
            }
            settings_.say(fmt::format("load, {}: {:.4g} ohm, was {:.4g} ohm ({:+.2f} %)",
                                      name(load.channel), is, was, 100.0 * (is / was - 1.0)));
            found_.loads.push_back(**found);
        }
        co_return RunResult<void>{};
    }

    /// Nothing where nobody reads it.
    Task<RunResult<std::optional<sequences::CalibratedLoad>>> read_load(
        const sequences::LoadEntry& load, instruments::Meter* meter) {
        sequences::CalibratedLoad found;
        found.channel = load.channel;
        found.u_k1 = settings_.ohms_u_k1;
        if (meter != nullptr) {
            const auto reading =
                co_await meter->read(instruments::MeterQuantity::load_resistance, load.channel);
            if (!reading) {
                co_return trouble(reading.error());
            }
            found.resistance = Ohms{reading->value};
            found.u_k1 = std::hypot(found.u_k1, reading->u_k1 / reading->value);
            co_return found;
        }
        const std::string typed =
            person_.type_in(fmt::format("load, {}, in ohm (Enter alone leaves it at {:.4g} ohm)",
                                        name(load.channel), load.resistance.in<Ohms>()));
        if (typed.empty()) {
            co_return std::nullopt;
        }
        const bool has_unit = typed.find_first_not_of("0123456789.,+-eE ") != std::string::npos;
        const auto ohms = sequences::read_quantity(has_unit ? typed : typed + " ohm",
                                                   sequences::Dimension::ohms, "a reading");
        if (!ohms) {
            co_return trouble(
                Trouble::Kind::gate,
                fmt::format("load, {}: “{}” is no reading in ohm; nothing was changed",
                            name(load.channel), typed));
        }
        found.resistance = Ohms{*ohms};
        co_return found;
    }

    Task<void> read_ambient() {
        using instruments::MeterQuantity;
        instruments::Meter* const meter = driver_.bench().meter();
        if (meter != nullptr && meter->can_read(MeterQuantity::ambient)) {
            const auto reading = co_await meter->read(MeterQuantity::ambient, Channels::both);
            if (reading) {
                found_.ambient = Celsius{reading->value};
            }
        }
    }

    Driver& driver_;
    Operator& person_;
    CalibrationSettings settings_;
    sequences::CalibrationFound found_;
    double told_ = 1.0;
    std::array<double, 2> source_{};  // V rms, at the drive of told_
};

}  // namespace

Task<RunResult<sequences::CalibrationFound>> calibrate_bench(Driver& driver, Operator& person,
                                                             CalibrationSettings settings) {
    Calibration calibration{driver, person, std::move(settings)};
    auto found = co_await calibration.carry_out();
    co_return found;
}

}  // namespace afterload::runner
