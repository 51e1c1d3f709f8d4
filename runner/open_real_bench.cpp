#include "runner/open_real_bench.hpp"

#include "instruments/assembled_bench.hpp"
#include "instruments/card/sound_card.hpp"
#include "instruments/guard/guard.hpp"
#include "instruments/manual_instruments.hpp"
#include "instruments/meter_group.hpp"
#include "instruments/remembering_source.hpp"
#include "instruments/sensor_file.hpp"
#include "instruments/steady_clock.hpp"
#include "instruments/wire/scpi_digitiser.hpp"
#include "instruments/wire/scpi_instruments.hpp"
#include "runner/bench/real_loads.hpp"
#include "runner/evaluation/bench_share.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

using namespace instruments;
using Opened = tl::expected<void, std::string>;
using SessionOrFailure = tl::expected<std::shared_ptr<ScpiSession>, std::string>;

constexpr Seconds lease{0.75};  // off within a second: the rest is for the exchange itself
constexpr double sensor_u_celsius = 1.0;

/// Names of the ranges, the safest first.
std::vector<std::string> range_names(const sequences::BenchFile& file) {
    std::vector<sequences::RangeEntry> ranges = file.ranges;
    std::stable_sort(ranges.begin(), ranges.end(),
                     [](const auto& a, const auto& b) { return a.safe > b.safe; });
    std::vector<std::string> names;
    names.reserve(ranges.size());
    for (const auto& range : ranges) {
        names.push_back(range.name);
    }
    return names;
}

bool asked_for_range(Operator& person, const std::string& range) {
    sequences::Prompt prompt;
    prompt.title = "Set the range between the unit's outputs and the card, left and right";
    prompt.controls = {{"range", range}};
    return person.ask(prompt, 0, 0) == Answer::done;
}

const std::map<MeterQuantity, std::string>& usual_questions() {
    static const std::map<MeterQuantity, std::string> questions{
        {MeterQuantity::dc_offset, "MEAS:VOLT:DC? (@{channel})"},
        {MeterQuantity::mains_voltage, "MEAS:VOLT:AC?"},
        {MeterQuantity::heat_sink, "MEAS:TEMP? (@{channel})"},
        {MeterQuantity::ambient, "MEAS:TEMP?"},
        {MeterQuantity::load_temperature, "MEAS:TEMP? (@{channel})"},
        {MeterQuantity::emitter_voltage, "MEAS:VOLT:DC? (@{channel})"},
        {MeterQuantity::main_rail, "MEAS:VOLT:DC? (@{channel})"},
        {MeterQuantity::tone_rail, "MEAS:VOLT:DC? (@{channel})"},
        {MeterQuantity::mains_power, "MEAS:POW?"},
        {MeterQuantity::source_voltage, "MEAS:VOLT:AC? (@{channel})"},
        {MeterQuantity::load_resistance, "MEAS:RES? (@{channel})"}};
    return questions;
}

bool is_temperature(MeterQuantity quantity) {
    return quantity == MeterQuantity::ambient || quantity == MeterQuantity::heat_sink ||
           quantity == MeterQuantity::load_temperature;
}

std::optional<MeterQuantity> quantity_named(const std::string& wanted) {
    for (const auto& [quantity, question] : usual_questions()) {
        if (name(quantity) == wanted) {
            return quantity;
        }
    }
    return std::nullopt;
}

/// Puts the parts together, one after the other; what is open when a later one fails is closed.
class RealBench {
public:
    RealBench(sequences::BenchFile file, Operator& person)
        : file_{std::move(file)}, person_{person} {}

    Task<tl::expected<OpenedBench, std::string>> open() {
        parts_.clock = std::make_unique<SteadyClock>();
        auto done = co_await open_wires();
        if (done) {
            done = co_await open_relays();
        }
        if (done) {
            done = co_await open_card();
        }
        if (done) {
            done = co_await open_source();
        }
        if (done) {
            done = open_meters();
        }
        if (!done) {
            co_return tl::unexpected<std::string>(file_.path + ": " + done.error());
        }
        OpenedBench opened;
        opened.identities = std::move(identities_);
        if (shared_->card) {
            opened.card = shared_->card->stream->format();
        }
        parts_.shared = shared_;
        opened.bench = std::make_unique<AssembledBench>(std::move(parts_));
        co_return opened;
    }

private:
    /// What several instruments stand on; taken down after them, the guardian last.
    struct Shared {
        std::shared_ptr<Guard> guard;
        std::shared_ptr<SoundCard> card;
    };

    Task<Opened> open_wires() {
        if (file_.instruments.empty()) {
            co_return Opened{};
        }
        std::string beside_us;
        auto guard = co_await Guard::start(std::move(beside_us), lease);
        if (!guard) {
            co_return tl::unexpected<std::string>(text(guard.error()));
        }
        shared_->guard = *std::move(guard);
        for (const sequences::WireEntry& entry : file_.instruments) {
            sequences::WireEntry copy = entry;
            auto opened = co_await open_wire(std::move(copy));
            if (!opened) {
                co_return opened;
            }
        }
        if (file_.contactor) {
            sequences::ContactorEntry contactor = *file_.contactor;
            auto held = co_await hold_contactor(std::move(contactor));
            co_return held;
        }
        co_return Opened{};
    }

    Task<Opened> open_wire(sequences::WireEntry entry) {
        std::string address = entry.address;
        auto line = co_await shared_->guard->open(std::move(address), entry.deadline);
        if (!line) {
            BenchFailure why = line.error();
            why.instrument = entry.name + " (" + entry.address + ")";
            co_return tl::unexpected<std::string>(text(why));
        }
        GuardedLine* const guarded = line->get();
        auto session = std::make_shared<ScpiSession>(
            *std::move(line),
            ScpiSettings{entry.name, entry.identity, entry.deadline, entry.error_queue});
        const auto identity = co_await session->open();
        if (!identity) {
            co_return tl::unexpected<std::string>(text(identity.error()));
        }
        // Reached by another way, it is still the same instrument; one that says no serial number
        // is known by where it is.
        const auto known = scpi_identity(*identity);
        const bool has_serial = known && known->serial.size() > 1;
        std::string unique = has_serial ? *identity : *identity + " " + entry.address;
        const auto locked = co_await guarded->lock(std::move(unique));
        if (!locked) {
            BenchFailure why = locked.error();
            why.instrument = entry.name + " (" + entry.address + ")";
            why.asked = "use";
            co_return tl::unexpected<std::string>(text(why));
        }
        identities_[entry.name] = *identity;
        sessions_[entry.name] = session;
        lines_[entry.name] = guarded;
        co_return Opened{};
    }

    Task<Opened> hold_contactor(sequences::ContactorEntry contactor) {
        GuardedLine& line = *lines_.at(contactor.instrument);
        const auto held = co_await line.keep_refreshed(
            std::move(contactor.refresh), std::move(contactor.release), contactor.every);
        if (!held) {
            co_return tl::unexpected<std::string>(text(held.error()));
        }
        parts_.mains_switch = std::make_unique<GuardedMainsSwitch>(line);
        co_return Opened{};
    }

    Task<Opened> keep_safe(std::string instrument, std::string off, std::string question) {
        const sequences::WireEntry& entry = *sequences::find_instrument(file_, instrument);
        SafeCommand command{instrument, entry.address, std::move(off), std::move(question)};
        const auto kept = co_await lines_.at(instrument)->keep_safe(std::move(command));
        if (!kept) {
            co_return tl::unexpected<std::string>(text(kept.error()));
        }
        co_return Opened{};
    }

    /// Loads and ranges.
    Task<Opened> open_relays() {
        ScpiRoutes routes = route_texts();
        RealLoads loads = real_loads(file_, sessions_, routes, person_);
        parts_.load = std::move(loads.load);
        loads_off_ = std::move(loads.off);
        for (const sequences::RangeEntry& range : file_.ranges) {
            if (range.relay) {
                routes.ranges[range.name] = *range.relay;
            }
        }
        if (routes.ranges.empty()) {
            parts_.range_switch = std::make_unique<HandRanges>(
                range_names(file_), [&person = person_](const std::string& range) {
                    return asked_for_range(person, range);
                });
            co_return Opened{};
        }
        const std::string safest = range_names(file_).front();
        parts_.range_switch =
            std::make_unique<ScpiRanges>(sessions_.at(file_.relays), routes, safest);
        std::string range = safest;
        const auto selected = co_await parts_.range_switch->select(std::move(range));
        if (!selected) {
            co_return tl::unexpected<std::string>(text(selected.error()));
        }
        co_return Opened{};
    }

    Task<Opened> open_card() {
        // A copy: the plan that the file stands in goes its own way.
        const auto full_scale = [file = file_](const std::string& range) {
            return find_range(file, range)->full_scale;
        };
        if (file_.card.driver == sequences::CardEntry::Driver::digitiser) {
            auto digitiser =
                co_await ScpiDigitiser::open(sessions_.at(file_.card.device), file_.card.rate,
                                             *parts_.clock, *parts_.range_switch, full_scale);
            if (!digitiser) {
                co_return tl::unexpected<std::string>(text(digitiser.error()));
            }
            parts_.capture = *std::move(digitiser);
            co_return Opened{};
        }
        CardSettings settings;
        settings.pcm.device = file_.card.device;
        settings.pcm.rate = file_.card.rate;
        settings.pcm.bits = file_.card.bits;
        settings.pcm.stand_in = file_.stand_in;
        settings.play = {file_.card.play.left, file_.card.play.right};
        settings.record = {file_.card.record.left, file_.card.record.right};
        settings.full_scale = peak_of_sine(file_.source.full_scale);
        auto stream = CardStream::open(settings);
        if (!stream) {
            co_return tl::unexpected<std::string>(text(stream.error()));
        }
        shared_->card = std::make_shared<SoundCard>();
        shared_->card->name = file_.card.name;
        shared_->card->full_scale = settings.full_scale;
        shared_->card->stand_in = file_.stand_in;
        shared_->card->stream = *std::move(stream);
        parts_.capture = std::make_unique<CardCapture>(*shared_->card, *parts_.clock,
                                                       *parts_.range_switch, full_scale);
        co_return Opened{};
    }

    Task<Opened> open_source() {
        std::unique_ptr<Source> source;
        if (file_.source.instrument.empty()) {
            source = std::make_unique<CardSource>(*shared_->card, *parts_.clock);
        } else {
            sequences::SourceEntry entry = file_.source;
            auto opened = co_await open_generator(std::move(entry));
            if (!opened) {
                co_return tl::unexpected<std::string>(opened.error());
            }
            source = *std::move(opened);
        }
        remember(std::move(source), parts_.source);
        if (file_.generator) {
            sequences::SourceEntry entry = *file_.generator;
            auto opened = co_await open_generator(std::move(entry));
            if (!opened) {
                co_return tl::unexpected<std::string>(opened.error());
            }
            remember(*std::move(opened), parts_.generator);
        }
        for (const SafeLoad& off : loads_off_) {
            std::string instrument = off.instrument;
            std::string command = off.command;
            std::string question = off.question;
            auto kept =
                co_await keep_safe(std::move(instrument), std::move(command), std::move(question));
            if (!kept) {
                co_return kept;
            }
        }
        co_return Opened{};
    }

    void remember(std::unique_ptr<Source> source, std::unique_ptr<Source>& into) {
        auto remembering = std::make_unique<RememberingSource>(std::move(source));
        remembering_.push_back(remembering.get());
        into = std::move(remembering);
    }

    /// A generator under the guardian's eye, silent. First on its list: the signal goes before
    /// anything is switched.
    Task<tl::expected<std::unique_ptr<Source>, std::string>> open_generator(
        sequences::SourceEntry generator) {
        const sequences::WireEntry& entry =
            *sequences::find_instrument(file_, generator.instrument);
        ScpiSourceTexts texts;
        texts.frequency = sequences::command_text(entry, "frequency", texts.frequency);
        texts.level = sequences::command_text(entry, "level", texts.level);
        texts.on = sequences::command_text(entry, "on", texts.on);
        texts.off = sequences::command_text(entry, "off", texts.off);
        texts.is_on = sequences::command_text(entry, "is_on", texts.is_on);
        std::string name = generator.instrument;
        std::string off = texts.off;
        std::string question = texts.is_on;
        auto kept = co_await keep_safe(std::move(name), std::move(off), std::move(question));
        if (!kept) {
            co_return tl::unexpected<std::string>(kept.error());
        }
        std::unique_ptr<Source> source =
            std::make_unique<ScpiSource>(sessions_.at(generator.instrument),
                                         peak_of_sine(generator.full_scale), std::move(texts));
        if (generator.relay) {
            auto open = co_await keep_open(*generator.relay);
            if (!open) {
                co_return tl::unexpected<std::string>(open.error());
            }
            source = std::make_unique<RoutedGenerator>(
                std::move(source), sessions_.at(file_.relays), route_texts(), *generator.relay);
        }
        source = std::make_unique<GuardedSource>(shared_->guard, std::move(source));
        const auto muted = co_await source->mute();
        if (!muted) {
            co_return tl::unexpected<std::string>(text(muted.error()));
        }
        co_return std::move(source);
    }

    /// The guardian opens `relay` when the program is gone.
    Task<Opened> keep_open(int relay) {
        const ScpiRoutes texts = route_texts();
        const std::string number = std::to_string(relay);
        std::string box = file_.relays;
        std::string open = filled(texts.open, "{}", number);
        std::string question = filled(texts.is_closed, "{}", number);
        auto kept = co_await keep_safe(std::move(box), std::move(open), std::move(question));
        co_return kept;
    }

    /// How the relay box is spoken to.
    [[nodiscard]] ScpiRoutes route_texts() const {
        ScpiRoutes routes;
        if (!file_.relays.empty()) {
            const sequences::WireEntry& box = *sequences::find_instrument(file_, file_.relays);
            routes.close = sequences::command_text(box, "close", routes.close);
            routes.open = sequences::command_text(box, "open", routes.open);
            routes.is_closed = sequences::command_text(box, "is_closed", routes.is_closed);
        }
        return routes;
    }

    /// V rms of whatever plays.
    [[nodiscard]] static double drive_of(const std::vector<RememberingSource*>& sources) {
        double volts = 0.0;
        for (const RememberingSource* source : sources) {
            volts = std::max(volts, source->drive().in<VoltsRms>());
        }
        return volts;
    }

    Opened open_meters() {
        std::vector<std::unique_ptr<Meter>> meters;
        for (const sequences::MeterEntry& meter : file_.meters) {
            if (!meter.instrument.empty()) {
                meters.push_back(meter_on_wire(meter));
            }
            for (const std::string& reads : meter.reads) {
                const auto quantity = quantity_named(reads);
                if (!meter.file.empty() && quantity) {
                    meters.push_back(std::make_unique<SensorMeter>(
                        meter.name, meter.file, *quantity, sensor_u_celsius, *parts_.clock,
                        [sources = remembering_] { return drive_of(sources); }));
                }
            }
        }
        if (!meters.empty()) {
            parts_.meter = std::make_unique<MeterGroup>(std::move(meters));
        }
        return {};
    }

    std::unique_ptr<Meter> meter_on_wire(const sequences::MeterEntry& meter) const {
        const sequences::WireEntry& entry = *sequences::find_instrument(file_, meter.instrument);
        std::map<MeterQuantity, ScpiReading> readings;
        for (const std::string& reads : meter.reads) {
            if (const auto quantity = quantity_named(reads)) {
                const bool degrees = is_temperature(*quantity);
                readings[*quantity] = {
                    sequences::command_text(entry, reads, usual_questions().at(*quantity)),
                    degrees ? 0.0 : meter.u_k1, degrees ? sensor_u_celsius : 0.0};
            }
        }
        return std::make_unique<ScpiMeter>(sessions_.at(meter.instrument), std::move(readings));
    }

    sequences::BenchFile file_;
    Operator& person_;
    BenchParts parts_;
    std::shared_ptr<Shared> shared_ = std::make_shared<Shared>();
    std::map<std::string, std::string> identities_;
    std::map<std::string, std::shared_ptr<ScpiSession>> sessions_;
    std::map<std::string, GuardedLine*> lines_;  // inside the sessions
    std::vector<SafeLoad> loads_off_;
    std::vector<RememberingSource*> remembering_;  // inside the parts
};

}  // namespace

Task<tl::expected<OpenedBench, std::string>> open_real_bench(sequences::BenchFile file,
                                                             Operator& person) {
    RealBench bench{std::move(file), person};
    auto opened = co_await bench.open();
    co_return opened;
}

}  // namespace afterload::runner
