/// Which sound cards are there, what each can do, and why one cannot be used.
#pragma once

#include <string>
#include <vector>

namespace afterload::instruments {

/// One direction of a card.
struct CardAbility {
    bool usable = false;
    std::string why_not;     ///< where it is not usable: "another program holds it"
    std::vector<int> rates;  ///< samples a second, of those that audio cards have, 44100 to 384000
    std::vector<int> bits;   ///< 16, 24, 32
    int channels = 0;        ///< at the most
};

struct CardFound {
    std::string device;  ///< what a bench file says: "hw:CARD=Interface,DEV=0"
    std::string name;    ///< as the card calls itself
    std::string place;   ///< the port it is plugged into, which stays when cards change their order
    std::string serial;  ///< of a USB card, where it has one
    bool hardware = true;
    CardAbility plays;
    CardAbility records;
};

/// All cards of the machine, and the devices of ALSA named in `also`.
[[nodiscard]] std::vector<CardFound> cards_found(const std::vector<std::string>& also);

}  // namespace afterload::instruments
