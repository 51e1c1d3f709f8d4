#include "runner/bench/real_loads.hpp"

#include "instruments/manual_instruments.hpp"

#include <fmt/format.h>

#include <set>
#include <utility>

namespace afterload::runner {
namespace {

using instruments::filled;
using instruments::ScpiLoadTexts;
using instruments::ScpiProgrammableLoads;
using Sessions = std::map<std::string, std::shared_ptr<instruments::ScpiSession>>;

bool asked_for_load(Operator& person, Ohms load) {
    sequences::Prompt prompt;
    prompt.title = fmt::format(
        "Put the {:.3g} ohm loads on the unit, left and right, the sense "
        "leads at its terminals",
        load.in<Ohms>());
    prompt.controls = {{"load", fmt::format("{:.3g} ohm", load.in<Ohms>())}};
    prompt.cautions = {"hot_load"};
    return person.ask(prompt, 0, 0) == Answer::done;
}

RealLoads on_relays(const sequences::BenchFile& file, const Sessions& sessions,
                    instruments::ScpiRoutes routes) {
    RealLoads made;
    std::set<int> relays;
    for (const sequences::LoadEntry& load : file.loads) {
        routes.loads.emplace_back(load.resistance, *load.relay);
        if (relays.insert(*load.relay).second) {
            const std::string number = std::to_string(*load.relay);
            made.off.push_back({file.relays, filled(routes.open, "{}", number),
                                filled(routes.is_closed, "{}", number)});
        }
    }
    made.load = std::make_unique<instruments::ScpiLoads>(sessions.at(file.relays), routes);
    return made;
}

/// One instrument for both channels is told twice where its texts name the channel, else once.
RealLoads programmable(const sequences::BenchFile& file, const Sessions& sessions) {
    RealLoads made;
    std::vector<ScpiProgrammableLoads::Channel> channels;
    std::set<std::string> told;
    for (const Channels side : {Channels::left, Channels::right}) {
        const auto* load = sequences::find_load(file, side, std::nullopt);
        if (load == nullptr) {
            continue;
        }
        const auto& entry = *sequences::find_instrument(file, load->instrument);
        const auto own = [&](const std::string& name, const std::string& usual) {
            return filled(sequences::command_text(entry, name, usual), "{channel}",
                          side == Channels::left ? "1" : "2");
        };
        const ScpiLoadTexts usual;
        ScpiLoadTexts texts{own("resistance", usual.resistance), own("input_on", usual.on),
                            own("input_off", usual.off), own("is_input_on", usual.is_on)};
        if (told.insert(load->instrument + " " + texts.off).second) {
            made.off.push_back({load->instrument, texts.off, texts.is_on});
            channels.push_back({sessions.at(load->instrument), std::move(texts)});
        }
    }
    made.load = std::make_unique<ScpiProgrammableLoads>(std::move(channels));
    return made;
}

}  // namespace

RealLoads real_loads(const sequences::BenchFile& file, const Sessions& sessions,
                     instruments::ScpiRoutes routes, Operator& person) {
    if (!file.loads.empty() && file.loads.front().relay) {
        return on_relays(file, sessions, std::move(routes));
    }
    if (!file.loads.empty() && !file.loads.front().instrument.empty()) {
        return programmable(file, sessions);
    }
    RealLoads made;
    if (sequences::load_kinds(file).size() > 1) {
        made.load = std::make_unique<instruments::HandLoads>(
            [&person](Ohms load) { return asked_for_load(person, load); });
    } else {
        made.load = std::make_unique<instruments::WiredLoads>();
    }
    return made;
}

}  // namespace afterload::runner
