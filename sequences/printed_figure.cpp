#include "sequences/printed_figure.hpp"

#include "sequences/diagnostic.hpp"
#include "sequences/printed_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::sequences {
namespace {

/// What is put before an answer so that it means the condition that was asked for.
std::string_view lead_to(std::string_view key, std::string_view text) {
    if (key == "reference_level") {
        return "re ";
    }
    if (key == "bandwidth") {
        return "bandwidth ";
    }
    if (key == "volume") {
        return "volume ";
    }
    if (key == "termination" && text.find_first_of("0123456789") != std::string_view::npos) {
        return "terminated ";
    }
    return "";
}

}  // namespace

tl::expected<PrintedFigure, TextMistake> read_printed_figure(std::string_view text, FigureKind kind,
                                                             const PrintedNames& names) {
    auto words = printed_words(text);
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    PrintedReading understanding{*std::move(words), kind, names};
    understanding.read();
    return understanding.figure();
}

tl::expected<Conditions, TextMistake> read_printed_condition(std::string_view text,
                                                             std::string_view key, FigureKind kind,
                                                             const PrintedNames& names) {
    auto words = printed_words(fmt::format("{}{}", lead_to(key, text), text));
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    PrintedReading understanding{*std::move(words), kind, names};
    understanding.read();
    auto conditions = understanding.conditions();
    if (!conditions) {
        return conditions;
    }
    const bool over_a_range = key == "frequency" && conditions->tone_range;
    if (!over_a_range && !stated(*conditions, key)) {
        std::string asked{key};
        std::replace(asked.begin(), asked.end(), '_', ' ');
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is no {}", escaped(text.substr(0, 60)), asked), ""});
    }
    return conditions;
}

tl::expected<Limit, TextMistake> with_tolerance(const Limit& nominal, std::string_view text,
                                                FigureKind kind) {
    const bool signed_already = text.find("±") != std::string_view::npos ||
                                text.find_first_of("+-") != std::string_view::npos;
    auto words = printed_words(fmt::format("{}{}", signed_already ? "" : "±", text));
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    const PrintedNames none;
    PrintedReading understanding{*std::move(words), kind, none};
    understanding.read();
    std::optional<Limit> limit;
    if (understanding.tolerance()) {
        limit = understanding.toleranced(nominal, *understanding.tolerance());
    }
    if (understanding.wrong()) {
        return tl::unexpected(*understanding.wrong());
    }
    if (!limit) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is no tolerance", escaped(text.substr(0, 60))),
                        "write it as ±1.5 dB or ±10 %"});
    }
    return *limit;
}

}  // namespace afterload::sequences
