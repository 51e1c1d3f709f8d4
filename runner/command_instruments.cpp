#include "instruments/card/card_list.hpp"
#include "instruments/wire/wire_list.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/run_to_end.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <string>
#include <vector>

namespace afterload::runner {
namespace {

using instruments::CardAbility;
using instruments::CardFound;
using instruments::WireFound;

std::string ability_text(const CardAbility& can) {
    if (!can.usable) {
        return "cannot be used: " + can.why_not;
    }
    std::vector<std::string> rates;
    for (const int rate : can.rates) {
        rates.push_back(fmt::format("{:g}", rate / 1000.0));
    }
    return fmt::format("{} channels, {} bits, {} kHz", can.channels, fmt::join(can.bits, " "),
                       fmt::join(rates, " "));
}

std::string card_text(const CardFound& card) {
    std::string text = card.device;
    text += card.name == card.device ? "" : "   " + card.name;
    text += card.place.empty() ? "" : "   at " + card.place;
    text += card.serial.empty() ? "" : ", serial " + card.serial;
    text += fmt::format("\n  plays    {}\n  records  {}\n", ability_text(card.plays),
                        ability_text(card.records));
    if (!card.hardware) {
        text += "  is no card itself: a bench file needs stand_in: true to use it\n";
    }
    return text;
}

Json ability_json(const CardAbility& can) {
    Json out;
    out["usable"] = can.usable;
    if (!can.usable) {
        out["why_not"] = can.why_not;
    }
    out["channels"] = can.channels;
    out["bits"] = can.bits;
    out["rates_hz"] = can.rates;
    return out;
}

Json card_json(const CardFound& card) {
    Json out;
    out["device"] = card.device;
    out["name"] = card.name;
    out["place"] = card.place;
    out["serial"] = card.serial;
    out["hardware"] = card.hardware;
    out["plays"] = ability_json(card.plays);
    out["records"] = ability_json(card.records);
    return out;
}

Json wire_json(const WireFound& wire) {
    Json out;
    out["address"] = wire.address;
    out["identity"] = wire.identity;
    if (wire.identity.empty()) {
        out["why_not"] = wire.why_not;
    }
    return out;
}

}  // namespace

int list_instruments(const InstrumentsOptions& command, const OutputOptions& output) {
    const std::vector<CardFound> cards = instruments::cards_found(command.devices);
    const std::vector<WireFound> wires = run_to_end(instruments::wires_found(command.addresses));
    if (output.json) {
        Json out;
        Json& list = out["sound_cards"] = Json::array();
        for (const CardFound& card : cards) {
            list.push_back(card_json(card));
        }
        Json& on_wires = out["on_wires"] = Json::array();
        for (const WireFound& wire : wires) {
            on_wires.push_back(wire_json(wire));
        }
        print(json_line(out) + "\n");
        return exit_pass;
    }
    std::string text;
    for (const CardFound& card : cards) {
        text += card_text(card);
    }
    if (cards.empty()) {
        text =
            "No sound card is there: plug it in, and see that this user is in the group "
            "“audio”.\n";
    }
    for (const WireFound& wire : wires) {
        text += wire.address + "\n  " +
                (wire.identity.empty() ? "cannot be used: " + wire.why_not : wire.identity) + "\n";
    }
    if (wires.empty()) {
        text += "No instrument on USB answers; others are asked with --at ADDRESS.\n";
    }
    print(text);
    return exit_pass;
}

}  // namespace afterload::runner
