#include "runner/bench/wired_roles.hpp"

#include "sequences/quantity_text.hpp"

#include <fmt/format.h>

namespace afterload::runner {
namespace {

constexpr int largest_relay = 99999;

std::optional<int> number_in(const std::string& text) {
    const auto number = sequences::read_integer(text, "the number of a relay");
    const bool fits = number && *number >= 0 && *number <= largest_relay;
    return fits ? std::optional{static_cast<int>(*number)} : std::nullopt;
}

std::string lines_of(const char* name, const std::optional<instruments::WireFound>& wire) {
    return wire ? fmt::format("  - name: {}\n    address: \"{}\"\n    identity: \"{}\"\n", name,
                              wire->address, wire->identity)
                : std::string{};
}

}  // namespace

std::optional<WiredRoles> asked_roles(Questions& questions,
                                      const std::vector<instruments::WireFound>& wires) {
    WiredRoles roles;
    for (const instruments::WireFound& wire : wires) {
        if (wire.identity.empty()) {
            continue;
        }
        std::vector<std::optional<instruments::WireFound>*> places{nullptr};
        std::vector<std::string> choices{"nothing of this bench"};
        const auto offer = [&](std::optional<instruments::WireFound>& place, const char* words) {
            if (!place) {
                places.push_back(&place);
                choices.emplace_back(words);
            }
        };
        offer(roles.meter, "the meter");
        offer(roles.generator, "a generator that can feed both inputs of the unit");
        offer(roles.relays, "the relay box");
        offer(roles.load, "the programmable load of both channels");
        const auto chosen = questions.choice(
            fmt::format("What is {}, at {}", wire.identity, wire.address), choices);
        if (!chosen) {
            return std::nullopt;
        }
        if (places.at(*chosen) != nullptr) {
            *places.at(*chosen) = wire;
        }
    }
    return roles;
}

std::optional<std::optional<int>> asked_relay(Questions& questions, const std::string& question,
                                              const std::string& otherwise) {
    const auto typed = questions.ask(
        fmt::format("{} (none: {})", question, otherwise), "none", [](const std::string& answer) {
            return answer == "none" || number_in(answer)
                       ? std::string{}
                       : fmt::format("the number of a relay, 0 to {}, or none", largest_relay);
        });
    return typed ? std::optional{number_in(*typed)} : std::nullopt;
}

std::string instrument_lines(const WiredRoles& roles) {
    if (!roles.meter && !roles.generator && !roles.relays && !roles.load) {
        return "# Meter readings are typed in.\n\n";
    }
    std::string out =
        "# What drives or switches, and every meter: who answers there is checked each time.\n"
        "instruments:\n" +
        lines_of("bench meter", roles.meter) + lines_of("generator", roles.generator) +
        lines_of("relay box", roles.relays) + lines_of("load", roles.load);
    out += roles.relays ? "relays: relay box\n" : "";
    out += roles.meter ? "meters:\n  - name: bench meter\n    instrument: bench meter\n"
                         "    reads: [dc_offset, mains_voltage]\n"
                       : "# Meter readings are typed in.\n";
    return out + "\n";
}

}  // namespace afterload::runner
