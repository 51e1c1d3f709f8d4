#include "analysis/dominant_tone.hpp"
#include "analysis/two_tone.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace afterload::analysis {

namespace {

// Top of the parabola through three powers in decibels: a line between two bins to a few hundredths
// of a bin.
double vertex(const std::vector<double>& power, std::size_t bin) {
    const auto place = static_cast<double>(bin);
    if (bin == 0 || bin + 1 >= power.size() || !(power[bin - 1] > 0.0) || !(power[bin + 1] > 0.0)) {
        return place;
    }
    const double left = std::log(power[bin - 1] / power[bin]);
    const double right = std::log(power[bin + 1] / power[bin]);
    return left + right < 0.0 ? place + 0.5 * (left - right) / (left + right) : place;
}

}  // namespace

Expected<FoundPair> dominant_pair(WaveformView record) {
    const auto seen = tone_spectrum(record);
    if (!seen) {
        return tl::unexpected(seen.error());
    }
    std::vector<double> power;
    for (const double volts : seen->volts_rms) {
        power.push_back(volts * volts);
    }
    // What a slow DC puts into the first bins is no tone.
    const auto lobe = static_cast<std::size_t>(main_lobe_bins(tone_window));
    std::fill_n(power.begin(), std::min(lobe, power.size()), 0.0);

    struct Peak {
        double place = 0.0;  // bins
        double power = 0.0;
    };
    const auto take_strongest = [&] {
        const auto top = std::max_element(power.begin(), power.end());
        const auto bin = static_cast<std::size_t>(top - power.begin());
        const Peak peak{vertex(power, bin), *top};
        const std::size_t from = bin - std::min(bin, lobe);
        const std::size_t to = std::min(power.size(), bin + lobe + 1);
        std::fill(power.begin() + static_cast<std::ptrdiff_t>(from),
                  power.begin() + static_cast<std::ptrdiff_t>(to), 0.0);
        return peak;
    };
    const Peak first = take_strongest();
    const Peak second = take_strongest();
    double others = 0.0;
    for (const double p : power) {
        others += p / static_cast<double>(power.size());
    }
    // 20 dB above the mean of the other bins.
    if (!(second.power > 0.0) || second.power < 100.0 * others) {
        return tl::unexpected(FigureFailure{
            FigureFailure::Kind::no_tone, "no two tones stand 20 dB above the rest of the record"});
    }
    return FoundPair{std::min(first.place, second.place) * seen->bin_width,
                     std::max(first.place, second.place) * seen->bin_width};
}

}  // namespace afterload::analysis
