/// A page built element by element: every text and every attribute is escaped by its kind, every
/// element that is opened is closed. No template, no string pasting.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::runner {

/// Text between tags: & < > and quotes as entities; broken UTF-8, control characters and marks that
/// turn the direction of text replaced by U+FFFD.
[[nodiscard]] std::string html_escaped(std::string_view text);

/// A string inside a style sheet, with its quotes: everything but plain letters, digits and blanks
/// as hexadecimal escapes.
[[nodiscard]] std::string css_string(std::string_view text);

/// A coordinate: one decimal at most, no exponent.
[[nodiscard]] std::string coordinate(double value);

class Html {
public:
    /// Names of attributes are literals; values are escaped.
    struct Attribute {
        const char* name;
        std::string value;
        Attribute(const char* attribute, std::string_view text) : name{attribute}, value{text} {}
        Attribute(const char* attribute, const char* text) : name{attribute}, value{text} {}
        Attribute(const char* attribute, const std::string& text) : name{attribute}, value{text} {}
        Attribute(const char* attribute, double number)
            : name{attribute}, value{coordinate(number)} {}
    };
    using Attributes = std::initializer_list<Attribute>;

    Html& open(const char* tag, Attributes attributes = {});
    Html& close();
    Html& text(std::string_view text);
    /// An element that holds text alone.
    Html& element(const char* tag, Attributes attributes, std::string_view text);
    Html& element(const char* tag, std::string_view text) { return element(tag, {}, text); }
    /// Text that came from outside: at most `most` characters, its direction isolated.
    Html& outside(std::string_view text, std::size_t most = 80);
    /// An element of HTML that has no content and no end tag.
    Html& empty(const char* tag, Attributes attributes = {});
    /// An element of SVG without content.
    Html& shape(const char* tag, Attributes attributes);
    /// What another builder made; it must have closed all it opened.
    Html& add(const Html& part);
    Html& style(std::string_view sheet);

    /// The whole. All elements must be closed.
    [[nodiscard]] const std::string& str() const;

private:
    void tag(const char* name, Attributes attributes);

    std::string out_;
    std::vector<const char*> open_;
};

}  // namespace afterload::runner
