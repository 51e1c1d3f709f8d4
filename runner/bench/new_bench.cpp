#include "runner/bench/new_bench.hpp"

#include "runner/bench/wired_roles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <utility>

namespace afterload::runner {
namespace {

using instruments::CardFound;
using instruments::WireFound;
using sequences::Dimension;

struct AskedRange {
    std::string name;
    std::string full_scale;
    std::string safe;
    std::optional<int> relay;
};

/// Rates that both directions have, the highest up to 192 kHz last.
std::vector<int> common_rates(const CardFound& card) {
    std::vector<int> rates;
    for (const int rate : card.plays.rates) {
        const auto& records = card.records.rates;
        if (rate <= 192000 && std::find(records.begin(), records.end(), rate) != records.end()) {
            rates.push_back(rate);
        }
    }
    return rates;
}

std::string a_name(const std::string& typed) {
    const bool plain = !typed.empty() && typed.size() <= 40 &&
                       std::all_of(typed.begin(), typed.end(), [](char letter) {
                           return (letter >= 'a' && letter <= 'z') ||
                                  (letter >= 'A' && letter <= 'Z') ||
                                  (letter >= '0' && letter <= '9') || letter == ' ' ||
                                  letter == '-' || letter == '_';
                       });
    return plain ? "" : "a name has letters, digits, blanks, - and _, at most 40";
}

/// Asks in the order of the file; every answer may be the last that comes.
class NewBench {
public:
    NewBench(Questions& questions, std::string today)
        : questions_{questions}, today_{std::move(today)} {}

    std::optional<std::string> text(const std::vector<CardFound>& cards,
                                    const std::vector<WireFound>& wires) {
        if (!name() || !card(cards)) {
            return std::nullopt;
        }
        auto roles = asked_roles(questions_, wires);
        if (!roles) {
            return std::nullopt;
        }
        roles_ = *std::move(roles);
        out_ += instrument_lines(roles_);
        const bool done = source() && generator() && ranges() && loads() && ending();
        return done ? std::optional{out_} : std::nullopt;
    }

private:
    /// Keeps the answer; false: none came.
    bool keep(std::optional<std::string> answer, std::string& into) {
        if (!answer) {
            return false;
        }
        into = *std::move(answer);
        return true;
    }

    bool name() {
        std::string name;
        if (!keep(questions_.ask("What is this bench called", "bench", a_name), name)) {
            return false;
        }
        out_ += fmt::format(
            "# Made by afterload new bench on {}. Levels are the maker's or a "
            "guess until\n# afterload calibrate has found them.\n"
            "afterload: bench/1\nname: {}\n\n",
            today_, name);
        return true;
    }

    bool card(const std::vector<CardFound>& cards) {
        std::vector<std::string> choices;
        choices.reserve(cards.size());
        for (const CardFound& card : cards) {
            choices.push_back(card.device + "   " + card.name);
        }
        std::size_t chosen = 0;
        if (cards.size() > 1) {
            const auto which = questions_.choice("Which card is the bench's", choices);
            if (!which) {
                return false;
            }
            chosen = *which;
        }
        const CardFound& card = cards.at(chosen);
        const int rate = common_rates(card).back();
        const int bits = std::min(card.plays.bits.back(), card.records.bits.back());
        if (!card.hardware) {
            out_ +=
                "# An audio server stands where a sound card is meant: it may change what "
                "passes.\nstand_in: true\n";
        }
        out_ += fmt::format(
            "# {}{}{}. Output 1 feeds the unit's left input, input 1 senses its "
            "left output.\ncard:\n  name: card\n  driver: sound_card\n"
            "  device: \"{}\"\n  rate: {:g} kHz\n  bits: {}\n\n",
            card.name, card.place.empty() ? "" : ", at " + card.place,
            card.serial.empty() ? "" : ", serial " + card.serial, card.device, rate / 1000.0,
            std::min(bits, 24));
        return true;
    }

    bool source() {
        std::string full_scale;
        std::string impedance;
        if (!keep(questions_.quantity("How many volts (rms) does the card play at full scale",
                                      "2 V", Dimension::volts, 1e-3, 100.0),
                  full_scale) ||
            !keep(questions_.quantity("What is its output impedance", "100 ohm", Dimension::ohms,
                                      0.0, 1e5),
                  impedance)) {
            return false;
        }
        out_ += fmt::format(
            "source:\n  full_scale: {}\n  impedance: {}\n"
            "  level_uncertainty: 5 %  # until it is calibrated\n  calibrated: "
            "{}\n\n",
            full_scale, impedance, today_);
        return true;
    }

    bool ranges() {
        out_ += "# What is between the unit's outputs and the card, left and right.\nranges:\n";
        bool more = true;
        for (int number = 1; more; ++number) {
            AskedRange range;
            const bool asked =
                keep(questions_.ask(fmt::format("Divider setting {}: what is it called", number),
                                    number == 1 ? "high" : "low", a_name),
                     range.name) &&
                keep(questions_.quantity(
                         "  how many volts (peak) at the unit's terminals fill the card's input",
                         number == 1 ? "50 V peak" : "5 V peak", Dimension::volts_peak, 1e-3,
                         1000.0),
                     range.full_scale) &&
                keep(questions_.quantity(
                         "  how many volts (peak) at the terminals does it bear without harm",
                         "60 V peak", Dimension::volts_peak, 1e-3, 1000.0),
                     range.safe) &&
                keep_relay("  the number of the relay that selects it", "it is set by hand",
                           range.relay);
            if (!asked) {
                return false;
            }
            const auto another = questions_.yes("Is there another divider setting", false);
            if (!another) {
                return false;
            }
            more = *another;
            out_ += fmt::format(
                "  - name: {}\n    full_scale: {}\n    safe: {}\n    switched: {}\n"
                "    level_uncertainty: 5 %  # until it is calibrated\n"
                "    calibrated: {}\n{}",
                range.name, range.full_scale, range.safe,
                range.relay          ? "relay"
                : more || number > 1 ? "by_hand"
                                     : "fixed",
                today_, range.relay ? fmt::format("    relay: {}\n", *range.relay) : "");
        }
        out_ += "\n";
        return true;
    }

    bool loads() {
        out_ += "# Measured with four wires, cold.\nloads:\n";
        for (const char* const side : {"left", "right"}) {
            std::string ohms;
            std::string watts;
            std::optional<int> relay;
            if (!keep(questions_.quantity(fmt::format("How many ohms has the {} load", side),
                                          "8 ohm", Dimension::ohms, 0.1, 1000.0),
                      ohms) ||
                !keep(questions_.quantity("  how many watts does it bear for hours", "50 W",
                                          Dimension::watts, 0.1, 1e4),
                      watts) ||
                (!roles_.load && !keep_relay("  the number of the relay that connects it",
                                             "it is wired for good", relay))) {
                return false;
            }
            out_ += fmt::format(
                "  - {{channel: {}, resistance: {}, uncertainty: 1 %, continuous: "
                "{}, measured: {}{}}}\n",
                side, ohms, watts, today_,
                roles_.load ? ", instrument: load"
                : relay     ? fmt::format(", relay: {}", *relay)
                            : "");
        }
        out_ += "\n";
        return true;
    }

    /// A generator beside the card.
    bool generator() {
        if (!roles_.generator) {
            return true;
        }
        std::string full_scale;
        std::string impedance;
        if (!keep(questions_.quantity("How many volts (rms, open circuit) does the generator give "
                                      "at the most",
                                      "5 V", Dimension::volts, 1e-3, 100.0),
                  full_scale) ||
            !keep(questions_.quantity("What is its output impedance", "50 ohm", Dimension::ohms,
                                      0.0, 1e5),
                  impedance)) {
            return false;
        }
        std::optional<int> relay;
        if (!keep_relay("  the number of the relay that brings it to the unit",
                        "resistors join it and the card", relay)) {
            return false;
        }
        out_ += fmt::format(
            "# Plays the sines that both channels take alike; the card plays the rest.\n"
            "generator:\n  full_scale: {}\n  impedance: {}\n  instrument: generator\n"
            "  level_uncertainty: 5 %  # until its maker or a meter says better\n"
            "  # distortion: 0.003 %   # by its data sheet; until then distortion is conditional\n"
            "{}  calibrated: {}\n\n",
            full_scale, impedance,
            relay ? fmt::format("  relay: {}\n", *relay)
                  : "  # no relay: resistors join it and the card; volts and ohms are those behind "
                    "them\n",
            today_);
        return true;
    }

    /// Asks only where there is a relay box; false: the answers ended.
    bool keep_relay(const char* question, const char* otherwise, std::optional<int>& into) {
        if (!roles_.relays) {
            return true;
        }
        const auto relay = asked_relay(questions_, question, otherwise);
        if (relay) {
            into = *relay;
        }
        return relay.has_value();
    }

    bool ending() {
        std::string drive;
        std::string output;
        if (!keep(questions_.quantity("The most that may ever be driven into a unit", "2 V",
                                      Dimension::volts, 1e-3, 100.0),
                  drive) ||
            !keep(questions_.quantity("The most that a channel may ever put out", "50 W",
                                      Dimension::watts, 1e-3, 1e4),
                  output)) {
            return false;
        }
        const auto floating =
            questions_.yes("Are the sense leads free of the card's ground (differential)", false);
        std::string cut_out;
        if (!floating ||
            !keep(questions_.ask(
                      "What opens the unit's mains by itself when it gets too hot", "none",
                      [](const std::string& typed) {
                          const bool plain = typed.find_first_of(":#\"'{}[]") == std::string::npos;
                          return plain ? std::string{} : std::string{"plain words, no : or quotes"};
                      }),
                  cut_out)) {
            return false;
        }
        out_ += fmt::format(
            "# The program's limits are the second line; the cut-out is the first.\n"
            "limits:\n  largest_drive: {}\n  largest_output: {}\n\nsense: {}\n"
            "loop: by_hand  # two short leads, for calibrate and rig-check\n"
            "cut_out: {}\n",
            drive, output, *floating ? "floating" : "grounded", cut_out);
        return true;
    }

    Questions& questions_;
    std::string today_;
    std::string out_;
    WiredRoles roles_;
};

}  // namespace

std::vector<CardFound> bench_cards(const std::vector<CardFound>& cards) {
    std::vector<CardFound> usable;
    std::copy_if(cards.begin(), cards.end(), std::back_inserter(usable), [](const auto& card) {
        return card.plays.usable && card.records.usable && !common_rates(card).empty();
    });
    return usable;
}

std::optional<std::string> bench_asked_for(Questions& questions,
                                           const std::vector<CardFound>& cards,
                                           const std::vector<WireFound>& wires,
                                           const std::string& today) {
    return NewBench{questions, today}.text(cards, wires);
}

}  // namespace afterload::runner
