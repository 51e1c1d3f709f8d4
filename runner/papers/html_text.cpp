#include "runner/papers/html_text.hpp"

#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

namespace afterload::runner {

std::string html_escaped(std::string_view text) {
    std::string out;
    out.reserve(text.size() + text.size() / 8);
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        const std::string_view bytes = text.substr(i, next.bytes);
        i += next.bytes;
        if (const std::string_view entity = markup_entity(next.code); !entity.empty()) {
            out += entity;
        } else if (next.code == U'\n' || next.code == U'\t') {
            out += ' ';
        } else if (!next.valid || is_control(next.code)) {
            out += "\ufffd";
        } else {
            out += bytes;
        }
    }
    return out;
}

std::string css_string(std::string_view text) {
    std::string out = "\"";
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        i += next.bytes;
        const bool letter = (next.code >= U'a' && next.code <= U'z') ||
                            (next.code >= U'A' && next.code <= U'Z') ||
                            (next.code >= U'0' && next.code <= U'9') || next.code == U' ';
        if (letter) {
            out += static_cast<char>(next.code);
        } else {
            const bool shown = next.valid && !is_control(next.code);
            // The blank ends the escape; without it a blank of the text would be swallowed.
            out += fmt::format("\\{:06x} ", static_cast<unsigned>(shown ? next.code : U'\ufffd'));
        }
    }
    return out + '"';
}

std::string coordinate(double value) {
    if (!std::isfinite(value)) {
        return "0";
    }
    std::string text = fmt::format("{:.1f}", value);
    if (text.ends_with(".0")) {
        text.resize(text.size() - 2);
    }
    return text == "-0" ? "0" : text;
}

void Html::tag(const char* name, Attributes attributes) {
    out_ += '<';
    out_ += name;
    for (const Attribute& attribute : attributes) {
        out_ += ' ';
        out_ += attribute.name;
        out_ += "=\"";
        out_ += html_escaped(attribute.value);
        out_ += '"';
    }
}

Html& Html::open(const char* tag, Attributes attributes) {
    this->tag(tag, attributes);
    out_ += '>';
    open_.push_back(tag);
    return *this;
}

Html& Html::close() {
    if (open_.empty()) {
        throw std::logic_error{"an element is closed that was never opened"};
    }
    const std::string_view name = open_.back();
    open_.pop_back();
    out_ += fmt::format("</{}>", name);
    if (name == "tr" || name == "p" || name == "div" || name == "svg" || name == "section") {
        out_ += '\n';
    }
    return *this;
}

Html& Html::text(std::string_view text) {
    out_ += html_escaped(text);
    return *this;
}

Html& Html::element(const char* tag, Attributes attributes, std::string_view text) {
    return open(tag, attributes).text(text).close();
}

Html& Html::outside(std::string_view text, std::size_t most) {
    return element("bdi", {}, shortened(text, most));
}

Html& Html::empty(const char* tag, Attributes attributes) {
    this->tag(tag, attributes);
    out_ += '>';
    return *this;
}

Html& Html::shape(const char* tag, Attributes attributes) {
    this->tag(tag, attributes);
    out_ += "/>";
    return *this;
}

Html& Html::add(const Html& part) {
    out_ += part.str();
    return *this;
}

Html& Html::style(std::string_view sheet) {
    if (sheet.find("</") != std::string_view::npos) {
        throw std::logic_error{"a style sheet holds an end tag"};
    }
    out_ += "<style>";
    out_ += sheet;
    out_ += "</style>\n";
    return *this;
}

const std::string& Html::str() const {
    if (!open_.empty()) {
        throw std::logic_error{fmt::format("<{}> is not closed", open_.back())};
    }
    return out_;
}

}  // namespace afterload::runner
