/// Why a figure could not be had from a record, and what would give it.
#pragma once

#include <tl/expected.hpp>

#include <string>

namespace afterload::analysis {

struct FigureFailure {
    enum class Kind {
        no_tone,           ///< nothing stands 20 dB above the noise near the frequency asked for
        record_too_short,  ///< fewer than two periods, fewer points than unknowns
        out_of_range,      ///< a frequency at or above Nyquist, a band that is empty
        ill_conditioned    ///< two lines too close to be told apart in this record
    };
    Kind kind = Kind::no_tone;
    std::string what;  ///< one line, with numbers, and what would resolve it
};

template <class T>
using Expected = tl::expected<T, FigureFailure>;

}  // namespace afterload::analysis
