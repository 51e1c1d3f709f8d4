#include "sequences/shipped_sequences.hpp"

#include <algorithm>

namespace afterload::sequences {
namespace {

std::string_view next_line(std::string_view& text) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    const std::string_view line = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    return line;
}

ShippedSequence described(const ShippedText& file) {
    ShippedSequence shipped;
    shipped.name = file.name;
    shipped.text = file.text;
    std::string_view text = file.text;
    constexpr std::string_view title = "title: ";
    bool first_comment = true;
    while (!text.empty() && shipped.title.empty()) {
        const std::string_view line = next_line(text);
        if (line.starts_with(title)) {
            shipped.title = line.substr(title.size());
        } else if (line.starts_with("# ") && !line.starts_with("# yaml-language-server")) {
            shipped.purpose += !first_comment            ? ""
                               : shipped.purpose.empty() ? std::string{line.substr(2)}
                                                         : " " + std::string{line.substr(2)};
        } else if (!shipped.purpose.empty()) {
            first_comment = false;
        }
    }
    shipped.purpose = shipped.purpose.substr(0, shipped.purpose.find(". "));
    if (shipped.purpose.ends_with('.')) {
        shipped.purpose.pop_back();
    }
    return shipped;
}

}  // namespace

const std::vector<ShippedSequence>& shipped_sequences() {
    static const std::vector<ShippedSequence> all = [] {
        std::vector<ShippedSequence> made;
        for (const ShippedText& file : shipped_sequence_texts()) {
            made.push_back(described(file));
        }
        return made;
    }();
    return all;
}

const ShippedSequence* shipped_sequence(std::string_view name) {
    const auto& all = shipped_sequences();
    const auto found = std::find_if(all.begin(), all.end(),
                                    [&](const ShippedSequence& one) { return one.name == name; });
    return found == all.end() ? nullptr : &*found;
}

}  // namespace afterload::sequences
