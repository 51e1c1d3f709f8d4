#include "runner/papers/json_text.hpp"

#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <set>
#include <utility>
#include <vector>

template class nlohmann::basic_json<nlohmann::ordered_map>;

namespace afterload::runner {

namespace {

constexpr std::size_t line_width = 100;

/// A JSON string. Beside what JSON wants escaped, all that would move a terminal or turn its
/// writing round is: documents are looked at with whatever is at hand.
std::string quoted(const std::string& text) {
    std::string plain = Json(text).dump(-1, ' ', false, Json::error_handler_t::replace);
    if (std::all_of(plain.begin(), plain.end(), [](char c) { return c >= ' ' && c < '\x7F'; })) {
        return plain;
    }
    std::string out;
    out.reserve(plain.size());
    for (std::size_t i = 0; i < plain.size();) {
        const Utf8Character next = next_character(std::string_view{plain}.substr(i));
        if (next.valid && is_control(next.code)) {
            out += fmt::format("\\u{:04x}", static_cast<unsigned>(next.code));
        } else {
            out += std::string_view{plain}.substr(i, next.bytes);
        }
        i += next.bytes;
    }
    return out;
}

std::string number(double value) {
    if (!std::isfinite(value)) {
        return "null";
    }
    std::string text = fmt::format("{}", value);
    // A whole double stays recognisable as one.
    if (text.find_first_of(".e") == std::string::npos) {
        text += ".0";
    }
    return text;
}

std::string scalar(const Json& value) {
    if (value.is_number_float()) {
        return number(value.get<double>());
    }
    if (value.is_string()) {
        return quoted(value.get_ref<const std::string&>());
    }
    return value.dump();
}

void write_line(const Json& value, std::string_view comma, std::string_view colon,
                std::string& out) {
    if (!value.is_structured()) {
        out += scalar(value);
        return;
    }
    const bool object = value.is_object();
    out += object ? '{' : '[';
    bool first = true;
    for (const auto& item : value.items()) {
        if (!first) {
            out += comma;
        }
        first = false;
        if (object) {
            out += quoted(item.key());
            out += colon;
        }
        write_line(item.value(), comma, colon, out);
    }
    out += object ? '}' : ']';
}

bool flat(const Json& value) {
    return std::all_of(value.begin(), value.end(),
                       [](const Json& item) { return !item.is_structured(); });
}

void write_numbers(const Json& value, std::size_t indent, std::string& out) {
    const std::string margin(indent + 2, ' ');
    std::string line = margin;
    out += "[\n";
    for (std::size_t i = 0; i < value.size(); ++i) {
        std::string cell = scalar(value[i]);
        if (i + 1 < value.size()) {
            cell += ',';
        }
        if (line.size() + cell.size() + 1 > line_width && line.size() > margin.size()) {
            out += line + '\n';
            line = margin;
        }
        line += (line.size() > margin.size() ? " " : "") + cell;
    }
    out += line + '\n' + std::string(indent, ' ') + ']';
}

void write_pretty(const Json& value, std::size_t indent, std::string& out) {
    if (!value.is_structured() || value.empty()) {
        write_line(value, ", ", ": ", out);
        return;
    }
    if (flat(value)) {
        std::string line;
        write_line(value, ", ", ": ", line);
        if (line.size() + indent <= line_width) {
            out += line;
            return;
        }
        if (value.is_array()) {
            write_numbers(value, indent, out);
            return;
        }
    }
    const bool object = value.is_object();
    const std::string margin(indent + 2, ' ');
    out += object ? "{\n" : "[\n";
    std::size_t left = value.size();
    for (const auto& item : value.items()) {
        out += margin;
        if (object) {
            out += quoted(item.key()) + ": ";
        }
        write_pretty(item.value(), indent + 2, out);
        out += --left > 0 ? ",\n" : "\n";
    }
    out += std::string(indent, ' ') + (object ? '}' : ']');
}

/// Watches depth and keys while the text is read; the first complaint is kept.
class Gate {
public:
    explicit Gate(int depth) : depth_{depth} {}

    bool operator()(int depth, Json::parse_event_t event, const Json& parsed) {
        if (depth > depth_) {
            throw std::length_error{fmt::format("nested deeper than {} levels", depth_)};
        }
        switch (event) {
            case Json::parse_event_t::object_start:
                keys_.emplace_back();
                break;
            case Json::parse_event_t::object_end:
                keys_.pop_back();
                break;
            case Json::parse_event_t::key:
                if (!keys_.back().insert(parsed.get<std::string>()).second) {
                    throw std::length_error{fmt::format("\"{}\" stands twice in one object",
                                                        parsed.get<std::string>())};
                }
                break;
            default:
                break;
        }
        return true;
    }

private:
    int depth_;
    std::vector<std::set<std::string>> keys_;
};

std::pair<std::size_t, std::size_t> line_and_column(std::string_view text, std::size_t byte) {
    const std::string_view before = text.substr(0, std::min(byte, text.size()));
    const auto line = static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n')) + 1;
    const std::size_t newline = before.rfind('\n');
    return {line, newline == std::string_view::npos ? before.size() : before.size() - newline - 1};
}

}  // namespace

std::string pretty_json(const Json& document) {
    std::string out;
    write_pretty(document, 0, out);
    out += '\n';
    return out;
}

std::string json_line(const Json& document) {
    std::string out;
    write_line(document, ", ", ": ", out);
    return out;
}

tl::expected<Json, std::string> parse_json(std::string_view text, const JsonLimits& limits) {
    if (text.size() > limits.bytes) {
        return tl::make_unexpected(
            fmt::format("{} bytes are more than the {} that are read", text.size(), limits.bytes));
    }
    if (text.find_first_not_of(" \t\r\n") == std::string_view::npos) {
        return tl::make_unexpected(std::string{"the file is empty"});
    }
    Gate gate{limits.depth};
    try {
        return Json::parse(text.begin(), text.end(), std::ref(gate));
    } catch (const Json::parse_error& error) {
        const auto [line, column] = line_and_column(text, error.byte);
        if (error.byte > text.size()) {
            return tl::make_unexpected(
                fmt::format("torn: the text ends at line {}, column {}, in the middle of a value",
                            line, column));
        }
        return tl::make_unexpected(
            fmt::format("not JSON at line {}, column {}", line, std::max<std::size_t>(column, 1)));
    } catch (const std::length_error& error) {
        return tl::make_unexpected(std::string{error.what()});
    } catch (const Json::exception& error) {
        return tl::make_unexpected(fmt::format("not JSON that can be read: {}", error.what()));
    }
}

}  // namespace afterload::runner
