#include "sequences/sequence_reader.hpp"

#include <algorithm>

namespace afterload::sequences {

const std::vector<Caution>& shipped_cautions() {
    static const std::vector<Caution> cautions{
        {"mains",
         "Mains is present inside the unit even when it is switched off. Unplug before touching, "
         "and "
         "verify with a tester you have proved."},
        {"charged_capacitors",
         "Main capacitors hold their charge for minutes. Discharge them through a resistor and "
         "measure each."},
        {"offset_before_load",
         "Measure the offset before a load is connected; nothing is driven until it is within its "
         "limit."},
        {"loads_not_loudspeakers",
         "Dummy loads only. Never a loudspeaker: test tones can destroy it and your hearing."},
        {"hot_load", "The load and the heat sink are hot. Keep clear and leave them uncovered."},
        {"stay_at_the_bench", "Stay at the bench while the unit is driven at its rated output."},
        {"unattended",
         "An unattended unit needs its independent cut-out, a clear bench and a smoke alarm."},
        {"grounded_sense",
         "Check with an ohmmeter that the terminal is at chassis before a grounded sense lead is "
         "clipped on."},
        {"protective_earth", "Never lift the protective earth to cure hum."},
        {"live_adjustment",
         "Live adjustment: one hand, an insulated tool, no rings, and never alone."},
        {"lamp_limiter",
         "A lamp in the mains lead limits current, not voltage: all points stay lethal."},
        {"loud_tones", "Loud tones ahead: start low and protect your hearing."},
        {"local_code",
         "Follow the electrical code and the workplace rules where you are. Work on mains parts "
         "only "
         "if you are qualified or licensed to."},
    };
    return cautions;
}

std::string_view caution_text(std::string_view name_or_text) {
    const std::vector<Caution>& all = shipped_cautions();
    const auto found = std::find_if(all.begin(), all.end(), [name_or_text](const Caution& caution) {
        return caution.name == name_or_text;
    });
    return found == all.end() ? name_or_text : found->text;
}

}  // namespace afterload::sequences
