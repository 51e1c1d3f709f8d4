#include "sequences/printed_phrases.hpp"

#include <array>
#include <string>

namespace afterload::sequences {
namespace {

using enum PrintedMeaning;

// Common practice of service sheets; what IHF and DIN leave open is said beside them.
constexpr std::array phrases{
    PrintedPhrase{"a weighted", weighting_a},
    PrintedPhrase{"a-weighted", weighting_a},
    PrintedPhrase{"a-wtd", weighting_a},
    PrintedPhrase{"a wtd", weighting_a},
    PrintedPhrase{"weighted a", weighting_a},
    PrintedPhrase{"a-weighting", weighting_a},
    PrintedPhrase{"a weighting", weighting_a},
    PrintedPhrase{"a network", weighting_a},
    PrintedPhrase{"a-network", weighting_a},
    PrintedPhrase{"a curve", weighting_a},
    PrintedPhrase{"a filter", weighting_a},
    PrintedPhrase{"ihf-a", weighting_a},
    PrintedPhrase{"ihf a", weighting_a},
    PrintedPhrase{"ihf-a network", weighting_a},
    PrintedPhrase{"ihf a network", weighting_a},
    PrintedPhrase{"ihf-a weighted", weighting_a},
    PrintedPhrase{
        "ihf", unclear,
        "IHF is two methods, of 1966 and of 1978: write A, the reference (re rated, re 1 W, "
        "re 5 mV in) and shorted or not"},
    PrintedPhrase{"ihf-a-202", unclear,
                  "write what the sheet states: A, the reference (re 1 W, re 5 mV in) and the "
                  "termination"},
    PrintedPhrase{"din", unclear, "DIN leaves several ways: write unweighted, A or ITU-R 468"},
    PrintedPhrase{"iec", unclear, "write unweighted, A or ITU-R 468"},
    PrintedPhrase{"weighted", unclear, "write by which: A or ITU-R 468"},
    PrintedPhrase{"wtd", unclear, "write by which: A or ITU-R 468"},
    PrintedPhrase{"unweighted", weighting_none},
    PrintedPhrase{"un-weighted", weighting_none},
    PrintedPhrase{"unwtd", weighting_none},
    PrintedPhrase{"no weighting", weighting_none},
    PrintedPhrase{"not weighted", weighting_none},
    PrintedPhrase{"linear", weighting_none},
    PrintedPhrase{"lin", weighting_none},
    PrintedPhrase{"itu-r-468", weighting_468},
    PrintedPhrase{"ccir-468", weighting_468},
    PrintedPhrase{
        "ccir", unclear,
        "CCIR is used with 0 dB at 1 kHz and at 2 kHz: write ITU-R-468 where it is the first"},
    PrintedPhrase{"arm", unclear, "0 dB at 2 kHz is not known here: give the figure A-weighted"},
    PrintedPhrase{"a", letter_a},
    PrintedPhrase{"flat", flat},
    PrintedPhrase{"quasi-peak", quasi_peak},
    PrintedPhrase{"quasi peak", quasi_peak},
    PrintedPhrase{"rms", rms},
    PrintedPhrase{"r.m.s", rms},
    PrintedPhrase{"both channels driven", both_channels},
    PrintedPhrase{"both channel driven", both_channels},
    PrintedPhrase{"both ch driven", both_channels},
    PrintedPhrase{"both ch. driven", both_channels},
    PrintedPhrase{"all channels driven", both_channels},
    PrintedPhrase{"both driven", both_channels},
    PrintedPhrase{"both channels", both_channels},
    PrintedPhrase{"both", both_channels},
    PrintedPhrase{"left channel driven", left_channel},
    PrintedPhrase{"left driven", left_channel},
    PrintedPhrase{"left", left_channel},
    PrintedPhrase{"right channel driven", right_channel},
    PrintedPhrase{"right driven", right_channel},
    PrintedPhrase{"right", right_channel},
    PrintedPhrase{"left and right", nothing},
    PrintedPhrase{"one channel driven", unclear, "write left driven or right driven"},
    PrintedPhrase{"each channel driven", unclear,
                  "write both driven, or left driven where they were driven one by one"},
    PrintedPhrase{"each channel", nothing},
    PrintedPhrase{"per channel", nothing},
    PrintedPhrase{"per ch", nothing},
    PrintedPhrase{"ch", nothing},
    PrintedPhrase{"channel", nothing},
    PrintedPhrase{"input shorted", shorted},
    PrintedPhrase{"inputs shorted", shorted},
    PrintedPhrase{"input short-circuited", shorted},
    PrintedPhrase{"input short circuit", shorted},
    PrintedPhrase{"shorted", shorted},
    PrintedPhrase{"short", shorted},
    PrintedPhrase{"short-circuit", shorted},
    PrintedPhrase{"short-circuited", shorted},
    PrintedPhrase{"short circuit", shorted},
    PrintedPhrase{"short circuited", shorted},
    PrintedPhrase{"input open", open},
    PrintedPhrase{"open input", open},
    PrintedPhrase{"open", open},
    PrintedPhrase{"terminated", terminated},
    PrintedPhrase{"terminated with", terminated},
    PrintedPhrase{"termination", terminated},
    PrintedPhrase{"volume maximum", volume_maximum},
    PrintedPhrase{"volume max", volume_maximum},
    PrintedPhrase{"volume at maximum", volume_maximum},
    PrintedPhrase{"volume at max", volume_maximum},
    PrintedPhrase{"vol max", volume_maximum},
    PrintedPhrase{"maximum volume", volume_maximum},
    PrintedPhrase{"max volume", volume_maximum},
    PrintedPhrase{"volume minimum", volume_zero},
    PrintedPhrase{"volume min", volume_zero},
    PrintedPhrase{"volume at minimum", volume_zero},
    PrintedPhrase{"volume zero", volume_zero},
    PrintedPhrase{"vol min", volume_zero},
    PrintedPhrase{"minimum volume", volume_zero},
    PrintedPhrase{"min volume", volume_zero},
    PrintedPhrase{"or less", maximum},
    PrintedPhrase{"less than", maximum},
    PrintedPhrase{"lower than", maximum},
    PrintedPhrase{"no more than", maximum},
    PrintedPhrase{"not more than", maximum},
    PrintedPhrase{"at most", maximum},
    PrintedPhrase{"max", maximum},
    PrintedPhrase{"maximum", maximum},
    PrintedPhrase{"below", maximum},
    PrintedPhrase{"under", maximum},
    PrintedPhrase{"within", maximum},
    PrintedPhrase{"or more", minimum},
    PrintedPhrase{"more than", minimum},
    PrintedPhrase{"greater than", minimum},
    PrintedPhrase{"not less than", minimum},
    PrintedPhrase{"no less than", minimum},
    PrintedPhrase{"at least", minimum},
    PrintedPhrase{"min", minimum},
    PrintedPhrase{"minimum", minimum},
    PrintedPhrase{"above", minimum},
    PrintedPhrase{"over", minimum},
    PrintedPhrase{"better than", better},
    PrintedPhrase{"or better", better},
    PrintedPhrase{"direct", direct},
    PrintedPhrase{"source direct", direct},
    PrintedPhrase{"tone defeat", direct},
    PrintedPhrase{"defeat", direct},
    PrintedPhrase{"tone flat", tone_flat},
    PrintedPhrase{"tone controls flat", tone_flat},
    PrintedPhrase{"rated power", rated},
    PrintedPhrase{"rated output power", rated},
    PrintedPhrase{"rated output", rated},
    PrintedPhrase{"rated", rated},
    PrintedPhrase{"full power", rated},
    PrintedPhrase{"half rated power", half_rated},
    PrintedPhrase{"half rated", half_rated},
    PrintedPhrase{"half power", half_rated},
    PrintedPhrase{"half-power", half_rated},
    PrintedPhrase{"re", reference},
    PrintedPhrase{"ref", reference},
    PrintedPhrase{"reference", reference},
    PrintedPhrase{"referred", reference},
    PrintedPhrase{"referred to", reference},
    PrintedPhrase{"reference to", reference},
    PrintedPhrase{"below rated output", rated},
    PrintedPhrase{"below rated", rated},
    PrintedPhrase{"bandwidth", bandwidth},
    PrintedPhrase{"bw", bandwidth},
    PrintedPhrase{"impedance", impedance},
    PrintedPhrase{"input impedance", impedance},
    PrintedPhrase{"output impedance", impedance},
    PrintedPhrase{"source impedance", unclear,
                  "leave it out here, or add source_impedance: to the figure in the file"},
    PrintedPhrase{"into", into},
    PrintedPhrase{"load", into},
    PrintedPhrase{"loads", into},
    PrintedPhrase{"page", page},
    PrintedPhrase{"p", page},
    PrintedPhrase{"pp", page},
    PrintedPhrase{"to", to},
    PrintedPhrase{"through", to},
    PrintedPhrase{"in", in},
    PrintedPhrase{"input", in},
    PrintedPhrase{"out", out},
    PrintedPhrase{"output", out},
    PrintedPhrase{
        "music power", unclear,
        "a burst is no continuous power: skip it here, it is the figure short_term_power"},
    PrintedPhrase{
        "dynamic power", unclear,
        "a burst is no continuous power: skip it here, it is the figure short_term_power"},
    PrintedPhrase{"peak", unclear, "write the rms value"},
    PrintedPhrase{"pmpo", unclear, "no meter reads it: skip it"},
    PrintedPhrase{"at", nothing},
    PrintedPhrase{"with", nothing},
    PrintedPhrase{"for", nothing},
    PrintedPhrase{"from", nothing},
    PrintedPhrase{"and", nothing},
    PrintedPhrase{"of", nothing},
    PrintedPhrase{"the", nothing},
    PrintedPhrase{"any", nothing},
    PrintedPhrase{"power", nothing},
    PrintedPhrase{"output power", nothing},
    PrintedPhrase{"continuous", nothing},
    PrintedPhrase{"average", nothing},
    PrintedPhrase{"sine", nothing},
    PrintedPhrase{"wave", nothing},
    PrintedPhrase{"sine-wave", nothing},
    PrintedPhrase{"thd", nothing},
    PrintedPhrase{"t.h.d", nothing},
    PrintedPhrase{"total harmonic distortion", nothing},
    PrintedPhrase{"harmonic distortion", nothing},
    PrintedPhrase{"distortion", nothing},
    PrintedPhrase{"noise", nothing},
    PrintedPhrase{"im", nothing},
    PrintedPhrase{"s/n", nothing},
    PrintedPhrase{"signal", nothing},
    PrintedPhrase{"ratio", nothing},
    PrintedPhrase{"sensitivity", nothing},
    PrintedPhrase{"frequency", nothing},
    PrintedPhrase{"response", nothing},
    PrintedPhrase{"frequency response", nothing},
    PrintedPhrase{"riaa", nothing},
    PrintedPhrase{"separation", nothing},
    PrintedPhrase{"damping", nothing},
    PrintedPhrase{"factor", nothing},
    PrintedPhrase{"bass", nothing},
    PrintedPhrase{"treble", nothing},
    PrintedPhrase{"after", nothing},
    PrintedPhrase{"warm", nothing},
    PrintedPhrase{"warm-up", nothing},
    PrintedPhrase{"dc", nothing},
    PrintedPhrase{"offset", nothing},
    PrintedPhrase{"dwell", nothing},
};

constexpr std::size_t most_words = 4;

}  // namespace

std::optional<FoundPhrase> printed_phrase(std::span<const PrintedWord> words) {
    FoundPhrase found;
    std::string joined;
    for (std::size_t count = 1; count <= most_words && count <= words.size(); ++count) {
        const PrintedWord& next = words[count - 1];
        if (next.kind != PrintedWord::Kind::word) {
            break;
        }
        joined += (count == 1 ? "" : " ") + next.text;
        for (const PrintedPhrase& phrase : phrases) {
            if (phrase.words == joined) {
                found = {&phrase, count};
            }
        }
    }
    return found.phrase != nullptr ? std::optional{found} : std::nullopt;
}

std::vector<std::string_view> printed_phrase_words() {
    std::vector<std::string_view> all;
    for (const PrintedPhrase& phrase : phrases) {
        if (phrase.words.find(' ') == std::string_view::npos) {
            all.push_back(phrase.words);
        }
    }
    return all;
}

}  // namespace afterload::sequences
