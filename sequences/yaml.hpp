/// YAML as far as our files need it: a tree of mappings, lists and scalars, each with its place.
///
/// The one door to yaml-cpp. What could hurt is refused before a tree exists: more than 256 KiB,
/// text that is not UTF-8, control characters, more than one document, nesting beyond 32, more than
/// 20 000 nodes, anchors, aliases, tags, merge keys, keys that are not words, a key twice.
#pragma once

#include "sequences/diagnostic.hpp"
#include "sequences/place.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

struct Entry;

/// A value. A scalar keeps its text as written; what it means is the reader's business, so `010`,
/// `yes` and `1_000` are just text here.
struct Node {
    enum class Kind { empty, scalar, list, mapping };
    Kind kind = Kind::empty;
    Place place;
    int width = 1;       ///< characters to underline
    int block_line = 0;  ///< first line of the mapping or list it stands in
    bool quoted = false;
    bool refused = false;        ///< already a mistake: nothing more is said about it
    std::string text;            ///< of a scalar
    std::string note;            ///< said with every mistake: "${load} is 8"; mostly empty
    std::vector<Node> items;     ///< of a list
    std::vector<Entry> entries;  ///< of a mapping, in the order of the file; keys are unique

    /// The value of `key`; null where there is none.
    [[nodiscard]] const Node* find(std::string_view key) const;
};

struct Entry {
    std::string key;
    Place place;
    int width = 1;
    Node value;
};

/// Limits of what is read.
struct YamlLimits {
    std::size_t bytes = 256UL * 1024UL;
    std::size_t depth = 32;
    std::size_t nodes = 20000;
};

/// A tree and what was wrong on the way. `readable` is false where reading had to stop; then the
/// tree is empty. Otherwise the tree holds everything but what the mistakes name.
struct YamlDocument {
    Node root;
    bool readable = false;
};

/// Reads one document. Mistakes are added to `diagnostics`; nothing is thrown. Memory and time are
/// bounded by the limits, whatever the text.
[[nodiscard]] YamlDocument read_yaml(std::string_view text, const SourceText& source,
                                     Diagnostics& diagnostics, const YamlLimits& limits = {});

}  // namespace afterload::sequences
