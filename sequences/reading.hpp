/// From a tree to a struct: key tables, and the readers of single values. Every mistake is
/// collected; reading goes on, so that a file's mistakes are all found in one pass.
///
/// A mapping has one table of keys: name, whether it must be there, and the function that reads its
/// value. The table is all there is: unknown keys, missing keys, the nearest known key and the list
/// that the schema is tested against come from it.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/level.hpp"
#include "analysis/quantity.hpp"
#include "sequences/condition_keys.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/yaml.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::sequences {

/// Permitted values, both ends included, in the SI unit of what is read.
struct Range {
    double low = 0.0;
    double high = 0.0;
};

/// A word of a file and what it stands for.
template <class T>
struct Word {
    std::string_view word;
    T value;
};

class Reading {
public:
    Reading(const SourceText& source, Diagnostics& diagnostics)
        : source_{source}, diagnostics_{diagnostics} {}

    /// A mistake at a value, with the lines of its mapping before it.
    void mistake(const Node& at, const std::string& what, std::string advice = {});
    /// A mistake at a key.
    void mistake(const Entry& at, std::string what, std::string advice = {});
    /// A mistake without a place: "--set level=8".
    void mistake(std::string what);

    /// Is `node` a scalar? If not, that is a mistake; `noun` says what is due.
    [[nodiscard]] bool is_scalar(const Node& node, std::string_view noun);
    [[nodiscard]] bool is_list(const Node& node, std::string_view noun);
    [[nodiscard]] bool is_mapping(const Node& node, std::string_view noun);

    std::optional<double> quantity(const Node& node, Dimension dimension, std::string_view noun,
                                   Range range);
    std::optional<int> integer(const Node& node, std::string_view noun, int low, int high);
    std::optional<std::uint64_t> count(const Node& node, std::string_view noun);
    std::optional<bool> boolean(const Node& node, std::string_view noun);
    std::optional<std::string> words(const Node& node, std::string_view noun);
    std::optional<Band> band(const Node& node, std::string_view noun);
    std::optional<LevelTarget> level(const Node& node, LevelUse use, std::string_view noun);
    /// A day as 2026-03-02.
    std::optional<std::string> date(const Node& node, std::string_view noun);
    /// A name made of letters, digits, `_` and `-`.
    std::optional<std::string> identifier(const Node& node, std::string_view noun);
    std::vector<std::string> list_of_words(const Node& node, std::string_view noun);

    template <class T>
    std::optional<T> word(const Node& node, std::string_view noun,
                          std::initializer_list<Word<T>> words) {
        if (!is_scalar(node, noun)) {
            return std::nullopt;
        }
        std::vector<std::string_view> known;
        for (const Word<T>& each : words) {
            if (each.word == node.text) {
                return each.value;
            }
            known.push_back(each.word);
        }
        unknown_word(node, noun, known);
        return std::nullopt;
    }
    /// A word of a list that is known; mistakes name the nearest.
    std::optional<std::string> word_of(const Node& node, std::string_view noun,
                                       const std::vector<std::string_view>& known);

    void unknown_word(const Node& node, std::string_view noun,
                      const std::vector<std::string_view>& known);
    void unknown_key(const Entry& entry, const std::vector<std::string_view>& known);

private:
    const SourceText& source_;
    Diagnostics& diagnostics_;
};

enum class Need { optional, required };

/// One key of a mapping that becomes a T.
template <class T>
struct Key {
    std::string_view name;
    Need need = Need::optional;
    void (*read)(Reading& reading, const Node& value, T& into) = nullptr;
};

/// All keys of a mapping. `noun` is what the mapping is: "a range". Where a mapping states
/// conditions beside its own keys, `conditions` says where they go.
template <class T>
struct KeyTable {
    std::string_view noun;
    std::vector<Key<T>> keys;
    Conditions& (*conditions)(T&) = nullptr;

    [[nodiscard]] std::vector<std::string_view> names() const {
        std::vector<std::string_view> all;
        for (const Key<T>& key : keys) {
            all.push_back(key.name);
        }
        if (conditions != nullptr) {
            for (const ConditionKey& key : condition_key_table()) {
                all.push_back(key.name);
            }
        }
        return all;
    }

    /// Reads the value of `entry` by its key; false where the key is not known.
    bool read(Reading& reading, const Entry& entry, T& into) const {
        for (const Key<T>& key : keys) {
            if (key.name == entry.key) {
                key.read(reading, entry.value, into);
                return true;
            }
        }
        if (conditions != nullptr) {
            for (const ConditionKey& key : condition_key_table()) {
                if (key.name == entry.key) {
                    key.read(reading, entry.value, conditions(into));
                    return true;
                }
            }
        }
        return false;
    }
};

/// Reads a mapping by its table. Keys that begin with `x-` are the writer's own and passed over.
template <class T>
bool read_mapping(Reading& reading, const Node& node, const KeyTable<T>& table, T& into) {
    if (!reading.is_mapping(node, table.noun)) {
        return false;
    }
    for (const Entry& entry : node.entries) {
        if (!entry.key.starts_with("x-") && !table.read(reading, entry, into)) {
            reading.unknown_key(entry, table.names());
        }
    }
    for (const Key<T>& key : table.keys) {
        if (key.need == Need::required && node.find(key.name) == nullptr) {
            std::string what{table.noun};
            what += " without “" + std::string{key.name} + "”";
            reading.mistake(node, what, "add " + std::string{key.name} + ":");
        }
    }
    return true;
}

/// Stores what was read, if it was.
template <class To, class From>
void store(To& to, std::optional<From> from) {
    if (from) {
        to = To{std::move(*from)};
    }
}
template <class To, class From>
void store(std::optional<To>& to, std::optional<From> from) {
    if (from) {
        to = To{std::move(*from)};
    }
}

/// The names of a mapping's keys, for the test that holds the schema against the reader.
struct KeyList {
    std::string_view mapping;  ///< "figure", "range"; the definition of this name in the schema
    std::vector<std::string_view> keys;
    std::vector<std::string_view> required;
};

template <class T>
KeyList key_list(std::string_view mapping, const KeyTable<T>& table) {
    KeyList list{mapping, table.names(), {}};
    for (const Key<T>& key : table.keys) {
        if (key.need == Need::required) {
            list.required.push_back(key.name);
        }
    }
    return list;
}

/// Is this tree of the wanted kind ("rating/1")? If not, that is a mistake.
bool kind_is(Reading& reading, const Node& root, std::string_view kind);

/// Reads `text` as YAML that says `afterload: <kind>`, and has `read` turn the tree into a T. What
/// all readers share: the limits, the kind, one pass, mistakes in the order of the file.
template <class T, class Read>
tl::expected<T, Diagnostics> read_file(std::string_view text, std::string path,
                                       std::string_view kind, const Read& read) {
    Diagnostics diagnostics;
    diagnostics.path = std::move(path);
    // More than the limit is refused by size alone; only its beginning is ever looked at.
    const SourceText source{text.substr(0, YamlLimits{}.bytes)};
    YamlDocument document = read_yaml(text, source, diagnostics);
    T result;
    if (document.readable) {
        Reading reading{source, diagnostics};
        if (kind_is(reading, document.root, kind)) {
            read(reading, document.root, result);
        }
    }
    if (!diagnostics.empty()) {
        diagnostics.sort();
        return tl::unexpected(std::move(diagnostics));
    }
    return result;
}

}  // namespace afterload::sequences
