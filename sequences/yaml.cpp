#include "sequences/yaml.hpp"

#include "sequences/utf8.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/mark.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <optional>
#include <set>
#include <streambuf>
#include <utility>

namespace afterload::sequences {

const Node* Node::find(std::string_view key) const {
    const auto found = std::find_if(entries.begin(), entries.end(),
                                    [key](const Entry& entry) { return entry.key == key; });
    return found == entries.end() ? nullptr : &found->value;
}

namespace {

// Thrown by the handler through yaml-cpp to stop it; caught in read_yaml.
struct Stop {};

class TreeBuilder : public YAML::EventHandler {
public:
    TreeBuilder(const SourceText& source, Diagnostics& diagnostics, const YamlLimits& limits)
        : source_{source}, diagnostics_{diagnostics}, limits_{limits} {}

    [[nodiscard]] Node take_root() { return std::move(root_); }

    void OnDocumentStart(const YAML::Mark& mark) override {
        if (++documents_ > 1) {
            report(place(mark), 1, "a second document begins here: a file holds one",
                   "move it to a file of its own");
            throw Stop{};
        }
    }
    void OnDocumentEnd() override {}

    void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
        Node node;
        node.place = place(mark);
        refuse_anchor(node.place, anchor);
        attach(std::move(node));
    }

    void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
        Node node;
        node.place = place(mark);
        node.refused = true;
        if (!std::exchange(alias_told_, true)) {
            report(node.place, 1, "aliases (*) are not read: write the value out", "");
        }
        attach(std::move(node));
    }

    void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  const std::string& value) override {
        Node node;
        node.kind = Node::Kind::scalar;
        node.place = place(mark);
        node.quoted = tag == "!";
        node.text = value;
        node.width = value.find('\n') == std::string::npos
                         ? std::max(1, characters(value)) + (node.quoted ? 2 : 0)
                         : 1;
        refuse_anchor(node.place, anchor);
        refuse_tag(node.place, tag);
        attach(std::move(node));
    }

    void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                         YAML::EmitterStyle::value) override {
        open(Node::Kind::list, place(mark), tag, anchor);
    }
    void OnSequenceEnd() override { close(); }

    void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                    YAML::EmitterStyle::value) override {
        open(Node::Kind::mapping, place(mark), tag, anchor);
    }
    void OnMapEnd() override { close(); }

private:
    // A mapping takes keys and values in turn; a key that is refused takes its value with it.
    struct Frame {
        Node node;
        std::optional<Entry> key;
        bool key_due = true;
        std::set<std::string, std::less<>> keys;
    };

    [[nodiscard]] Place place(const YAML::Mark& mark) const {
        return source_.place_of(std::max(mark.line, 0), std::max(mark.column, 0));
    }

    void report(Place at, int width, std::string what, std::string advice) {
        diagnostics_.add(source_.mistake(at, width, std::move(what), std::move(advice), at.line));
    }

    void refuse_anchor(Place at, YAML::anchor_t anchor) {
        if (anchor != 0 && !std::exchange(anchor_told_, true)) {
            report(at, 1, "anchors (&) are not read: write the value out where it is used", "");
        }
    }

    void refuse_tag(Place at, const std::string& tag) {
        if (!tag.empty() && tag != "?" && tag != "!") {
            report(at, 1, "a tag (!) is not read: write the value alone", "");
        }
    }

    void open(Node::Kind kind, Place at, const std::string& tag, YAML::anchor_t anchor) {
        refuse_anchor(at, anchor);
        refuse_tag(at, tag);
        count_in(at);
        if (frames_.size() >= limits_.depth) {
            report(at, 1, fmt::format("nested deeper than {} levels", limits_.depth),
                   "no file of ours needs that");
            throw Stop{};
        }
        Frame frame;
        frame.node.kind = kind;
        frame.node.place = at;
        frames_.push_back(std::move(frame));
    }

    void count_in(Place at) {
        if (++nodes_ > limits_.nodes) {
            report(at, 1, fmt::format("more than {} values in one file", limits_.nodes),
                   "no file of ours needs that");
            throw Stop{};
        }
    }

    void close() {
        Node node = std::move(frames_.back().node);
        frames_.pop_back();
        deliver(std::move(node));
    }

    void attach(Node node) {
        count_in(node.place);
        deliver(std::move(node));
    }

    void deliver(Node node) {
        if (frames_.empty()) {
            root_ = std::move(node);
            return;
        }
        Frame& frame = frames_.back();
        node.block_line = frame.node.place.line;
        if (frame.node.kind == Node::Kind::list) {
            frame.node.items.push_back(std::move(node));
        } else if (frame.key_due) {
            frame.key_due = false;
            frame.key = accept_key(frame, node);
        } else {
            frame.key_due = true;
            if (frame.key) {
                frame.key->value = std::move(node);
                frame.node.entries.push_back(std::move(*frame.key));
                frame.key.reset();
            }
        }
    }

    std::optional<Entry> accept_key(Frame& frame, const Node& node) {
        if (node.kind != Node::Kind::scalar || node.text.empty()) {
            report(node.place, 1, "a key must be a word", "");
            return std::nullopt;
        }
        if (node.text == "<<") {
            report(node.place, node.width, "a merge key (<<) is not read: write the keys out", "");
            return std::nullopt;
        }
        if (!frame.keys.insert(node.text).second) {
            report(node.place, node.width,
                   fmt::format("“{}” stands here a second time", escaped(node.text)),
                   "keep one of the two");
            return std::nullopt;
        }
        Entry entry;
        entry.key = node.text;
        entry.place = node.place;
        entry.width = node.width;
        return entry;
    }

    const SourceText& source_;
    Diagnostics& diagnostics_;
    YamlLimits limits_;
    std::vector<Frame> frames_;
    Node root_;
    std::size_t nodes_ = 0;
    int documents_ = 0;
    bool anchor_told_ = false;  // once is enough: a hostile file has thousands
    bool alias_told_ = false;
};

// yaml-cpp reads from a stream; this one reads the text where it lies.
class TextBuffer : public std::streambuf {
public:
    explicit TextBuffer(std::string& text) {
        setg(text.data(), text.data(), text.data() + text.size());
    }
};

// Whatever could confuse the parser or a terminal is refused before anything is parsed.
bool text_is_fit(std::string_view text, const SourceText& source, Diagnostics& diagnostics,
                 const YamlLimits& limits) {
    const auto refuse = [&](std::size_t byte, std::string what, std::string advice) {
        const Place place = source.place_of(byte);
        diagnostics.add(source.mistake(place, 1, std::move(what), std::move(advice), place.line));
        return false;
    };
    if (text.size() > limits.bytes) {
        Mistake mistake;
        mistake.what = fmt::format("the file has {} bytes; more than {} are not read", text.size(),
                                   limits.bytes);
        diagnostics.add(std::move(mistake));
        return false;
    }
    std::size_t i = 0;
    while (i < text.size()) {
        const DecodedCharacter decoded = decode_utf8(text.substr(i));
        if (!decoded.valid) {
            return refuse(i,
                          fmt::format("byte {:#04x} is not UTF-8 text",
                                      static_cast<unsigned>(static_cast<unsigned char>(text[i]))),
                          "save the file as UTF-8");
        }
        const bool line_space =
            decoded.code == U'\n' || decoded.code == U'\r' || decoded.code == U'\t';
        const bool control =
            decoded.code < 0x20U || (decoded.code >= 0x7fU && decoded.code < 0xa0U);
        if (control && !line_space) {
            return refuse(
                i,
                fmt::format("a control character ({:#04x}) does not belong in a text file",
                            static_cast<unsigned>(decoded.code)),
                "take it out");
        }
        if (decoded.code == 0xfeffU && i != 0) {
            return refuse(i, "a byte order mark stands in the middle of the text", "take it out");
        }
        i += decoded.bytes;
    }
    return true;
}

std::string in_our_words(const std::string& message) {
    // The parser's own limit on nesting says only "bad file".
    if (message.find("bad file") != std::string::npos ||
        message.find("recursion") != std::string::npos) {
        return "nested too deep to be read";
    }
    return fmt::format("this cannot be read as YAML: {}", message);
}

}  // namespace

YamlDocument read_yaml(std::string_view text, const SourceText& source, Diagnostics& diagnostics,
                       const YamlLimits& limits) {
    YamlDocument document;
    if (!text_is_fit(text, source, diagnostics, limits)) {
        return document;
    }
    TreeBuilder builder{source, diagnostics, limits};
    try {
        std::string copy{text};
        TextBuffer buffer{copy};
        std::istream stream{&buffer};
        YAML::Parser parser{stream};
        const bool any = parser.HandleNextDocument(builder);
        if (any) {
            // A second call finds a second document, which the builder refuses.
            parser.HandleNextDocument(builder);
        }
        document.root = builder.take_root();
        document.readable = true;
    } catch (const Stop&) {
        document.readable = false;
    } catch (const YAML::Exception& error) {
        const Place place = error.mark.is_null() ? Place{1, 1}
                                                 : source.place_of(std::max(error.mark.line, 0),
                                                                   std::max(error.mark.column, 0));
        diagnostics.add(source.mistake(place, 1, in_our_words(error.msg), "", place.line - 1));
    } catch (const std::exception& error) {
        diagnostics.add(source.mistake(
            Place{1, 1}, 1, fmt::format("this cannot be read: {}", error.what()), "", 1));
    }
    return document;
}

}  // namespace afterload::sequences
