#include "instruments/card/card_list.hpp"

#include "instruments/card/alsa_messages.hpp"
#include "instruments/card/sample_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <alsa/asoundlib.h>
#include <array>
#include <cerrno>
#include <filesystem>
#include <fstream>
#include <memory>
#include <set>

namespace afterload::instruments {

namespace {

constexpr std::array<int, 8> usual_rates{44100,  48000,  88200,  96000,
                                         176400, 192000, 352800, 384000};
CardAbility ability(const std::string& device, snd_pcm_stream_t stream, bool& hardware) {
    CardAbility can;
    snd_pcm_t* opened = nullptr;
    const int error = snd_pcm_open(&opened, device.c_str(), stream, SND_PCM_NONBLOCK);
    if (error < 0) {
        can.why_not = error == -EBUSY ? std::string{"another program holds it"}
                      : error == -ENOENT || error == -ENODEV
                          ? std::string{stream == SND_PCM_STREAM_PLAYBACK ? "it does not play"
                                                                          : "it does not record"}
                          : std::string{snd_strerror(error)};
        return can;
    }
    const std::unique_ptr<snd_pcm_t, int (*)(snd_pcm_t*)> pcm{opened, snd_pcm_close};
    hardware = snd_pcm_type(opened) == SND_PCM_TYPE_HW;
    snd_pcm_hw_params_t* hw = nullptr;
    snd_pcm_hw_params_alloca(&hw);
    if (snd_pcm_hw_params_any(opened, hw) < 0) {
        can.why_not = "it says nothing of what it can do";
        return can;
    }
    snd_pcm_hw_params_set_rate_resample(opened, hw, 0);
    for (const int rate : usual_rates) {
        if (snd_pcm_hw_params_test_rate(opened, hw, static_cast<unsigned>(rate), 0) == 0) {
            can.rates.push_back(rate);
        }
    }
    std::set<int> bits;
    for (const SampleLayout& layout : sample_layouts) {
        if (snd_pcm_hw_params_test_format(opened, hw, layout.format) == 0) {
            bits.insert(layout.bits);
        }
    }
    can.bits.assign(bits.begin(), bits.end());
    unsigned channels = 0;
    snd_pcm_hw_params_get_channels_max(hw, &channels);
    can.channels = static_cast<int>(std::min(channels, 64U));
    can.usable = !can.rates.empty() && !can.bits.empty() && can.channels >= 2;
    if (!can.usable) {
        can.why_not = can.channels < 2 ? "it has one channel; two are needed"
                                       : "it has no rate or format that is read here";
    }
    return can;
}

CardFound looked_at(std::string device, std::string name) {
    CardFound card;
    card.plays = ability(device, SND_PCM_STREAM_PLAYBACK, card.hardware);
    card.records = ability(device, SND_PCM_STREAM_CAPTURE, card.hardware);
    card.device = std::move(device);
    card.name = std::move(name);
    return card;
}

std::string first_line(const std::filesystem::path& path) {
    std::ifstream file{path};
    std::string line;
    std::getline(file, line);
    return line;
}

// The kernel's device tree says where a card is plugged in.
void find_place(CardFound& card, int number) {
    std::error_code error;
    const auto place =
        std::filesystem::canonical(fmt::format("/sys/class/sound/card{}/device", number), error);
    if (!error) {
        card.place = place.filename().string();
        card.serial = first_line(place.parent_path() / "serial");
    }
}

}  // namespace

std::vector<CardFound> cards_found(const std::vector<std::string>& also) {
    silence_alsa_messages();
    std::vector<CardFound> cards;
    int number = -1;
    while (snd_card_next(&number) >= 0 && number >= 0) {
        snd_ctl_t* opened = nullptr;
        if (snd_ctl_open(&opened, fmt::format("hw:{}", number).c_str(), 0) < 0) {
            continue;
        }
        const std::unique_ptr<snd_ctl_t, int (*)(snd_ctl_t*)> control{opened, snd_ctl_close};
        snd_ctl_card_info_t* info = nullptr;
        snd_ctl_card_info_alloca(&info);
        if (snd_ctl_card_info(opened, info) < 0) {
            continue;
        }
        int device = -1;
        while (snd_ctl_pcm_next_device(opened, &device) >= 0 && device >= 0) {
            CardFound card =
                looked_at(fmt::format("hw:CARD={},DEV={}", snd_ctl_card_info_get_id(info), device),
                          snd_ctl_card_info_get_name(info));
            find_place(card, number);
            cards.push_back(std::move(card));
        }
    }
    for (const std::string& device : also) {
        cards.push_back(looked_at(device, device));
    }
    return cards;
}

}  // namespace afterload::instruments
