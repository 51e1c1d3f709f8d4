/// How samples may lie in a card's buffer: the formats of ALSA that are read here.
#pragma once

#include <alsa/asoundlib.h>
#include <array>
#include <cstddef>

namespace afterload::instruments {

struct SampleLayout {
    snd_pcm_format_t format;
    int bits;  ///< that fit; of a float those of its fraction
    std::size_t bytes;
};

/// The widest first.
inline constexpr std::array<SampleLayout, 5> sample_layouts{{{SND_PCM_FORMAT_S32_LE, 32, 4},
                                                             {SND_PCM_FORMAT_S24_3LE, 24, 3},
                                                             {SND_PCM_FORMAT_S24_LE, 24, 4},
                                                             {SND_PCM_FORMAT_FLOAT_LE, 24, 4},
                                                             {SND_PCM_FORMAT_S16_LE, 16, 2}}};

}  // namespace afterload::instruments
