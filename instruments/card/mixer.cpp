#include "instruments/card/mixer.hpp"

#include <fmt/format.h>

#include <alsa/asoundlib.h>
#include <array>
#include <memory>
#include <utility>

namespace afterload::instruments {
namespace {

using Handle = std::unique_ptr<snd_mixer_t, int (*)(snd_mixer_t*)>;
constexpr std::array channels{SND_MIXER_SCHN_FRONT_LEFT, SND_MIXER_SCHN_FRONT_RIGHT};

std::string mixer_name(const std::string& device) {
    const auto comma = device.find(',');
    return device.starts_with("hw:") || device.starts_with("plughw:")
               ? "hw:" + device.substr(device.find(':') + 1, comma == std::string::npos
                                                                 ? std::string::npos
                                                                 : comma - device.find(':') - 1)
               : device;
}

struct Direction {
    const char* word;
    int (*has_volume)(snd_mixer_elem_t*);
    int (*has_switch)(snd_mixer_elem_t*);
    int (*has_channel)(snd_mixer_elem_t*, snd_mixer_selem_channel_id_t);
    int (*volume)(snd_mixer_elem_t*, snd_mixer_selem_channel_id_t, long*);
    int (*on)(snd_mixer_elem_t*, snd_mixer_selem_channel_id_t, int*);
};

const std::array<Direction, 2>& directions() {
    static const std::array<Direction, 2> both{
        {{"Playback", snd_mixer_selem_has_playback_volume, snd_mixer_selem_has_playback_switch,
          snd_mixer_selem_has_playback_channel, snd_mixer_selem_get_playback_volume,
          snd_mixer_selem_get_playback_switch},
         {"Capture", snd_mixer_selem_has_capture_volume, snd_mixer_selem_has_capture_switch,
          snd_mixer_selem_has_capture_channel, snd_mixer_selem_get_capture_volume,
          snd_mixer_selem_get_capture_switch}}};
    return both;
}

std::string name_of(snd_mixer_elem_t* element) {
    const unsigned index = snd_mixer_selem_get_index(element);
    std::string name = snd_mixer_selem_get_name(element);
    return index == 0 ? name : name + fmt::format(",{}", index);
}

void add_levels(snd_mixer_elem_t* element, std::vector<MixerState>& into) {
    for (const Direction& direction : directions()) {
        std::string volumes;
        std::string switches;
        for (const auto channel : channels) {
            long volume = 0;
            int on = 0;
            if (direction.has_channel(element, channel) == 0) {
                continue;
            }
            if (direction.has_volume(element) != 0 &&
                direction.volume(element, channel, &volume) == 0) {
                volumes += fmt::format("{}{}", volumes.empty() ? "" : " ", volume);
            }
            if (direction.has_switch(element) != 0 && direction.on(element, channel, &on) == 0) {
                switches +=
                    fmt::format("{}{}", switches.empty() ? "" : " ", on != 0 ? "on" : "off");
            }
        }
        const std::string name = name_of(element) + " " + direction.word;
        if (!volumes.empty()) {
            into.push_back({name + " Volume", std::move(volumes)});
        }
        if (!switches.empty()) {
            into.push_back({name + " Switch", std::move(switches)});
        }
    }
}

void add_selection(snd_mixer_elem_t* element, std::vector<MixerState>& into) {
    unsigned item = 0;
    std::array<char, 64> words{};
    if (snd_mixer_selem_is_enumerated(element) != 0 &&
        snd_mixer_selem_get_enum_item(element, SND_MIXER_SCHN_MONO, &item) == 0 &&
        snd_mixer_selem_get_enum_item_name(element, item, words.size() - 1, words.data()) == 0) {
        into.push_back({name_of(element), words.data()});
    }
}

}  // namespace

std::vector<MixerState> mixer_of(const std::string& device) {
    std::vector<MixerState> all;
    snd_mixer_t* opened = nullptr;
    if (snd_mixer_open(&opened, 0) != 0) {
        return all;
    }
    const Handle mixer{opened, snd_mixer_close};
    if (snd_mixer_attach(opened, mixer_name(device).c_str()) != 0 ||
        snd_mixer_selem_register(opened, nullptr, nullptr) != 0 || snd_mixer_load(opened) != 0) {
        return all;
    }
    for (snd_mixer_elem_t* element = snd_mixer_first_elem(opened); element != nullptr;
         element = snd_mixer_elem_next(element)) {
        add_levels(element, all);
        add_selection(element, all);
    }
    return all;
}

}  // namespace afterload::instruments
