#include "sequences/daemon_reader.hpp"

#include "sequences/key_lists.hpp"
#include "sequences/reading.hpp"

#include <utility>

namespace afterload::sequences {

namespace {

using TextSetting = std::optional<Setting<std::string>> DaemonFile::*;
using NumberSetting = std::optional<Setting<int>> DaemonFile::*;

template <TextSetting Member>
void text_into(Reading& reading, const Node& node, DaemonFile& into) {
    if (auto words = reading.words(node, "a text")) {
        into.*Member = Setting<std::string>{*std::move(words), node.place.line};
    }
}

template <NumberSetting Member, int Low, int High>
void number_into(Reading& reading, const Node& node, DaemonFile& into) {
    if (const auto number = reading.integer(node, "a number for this setting", Low, High)) {
        into.*Member = Setting<int>{*number, node.place.line};
    }
}

const KeyTable<DaemonFile>& tcp_keys() {
    static const KeyTable<DaemonFile> table{
        "a TCP door",
        {{"address", Need::optional, text_into<&DaemonFile::tcp_address>},
         {"port", Need::required, number_into<&DaemonFile::tcp_port, 1, 65535>},
         {"token_file", Need::optional, text_into<&DaemonFile::tcp_token_file>}}};
    return table;
}

const KeyTable<DaemonFile>& daemon_keys() {
    static const KeyTable<DaemonFile> table{
        "the daemon's settings",
        {{"afterload", Need::required, [](Reading&, const Node&, DaemonFile&) {}},
         {"bench", Need::optional, text_into<&DaemonFile::bench>},
         {"runs", Need::optional, text_into<&DaemonFile::runs>},
         {"state", Need::optional, text_into<&DaemonFile::state>},
         {"socket", Need::optional, text_into<&DaemonFile::socket>},
         {"log", Need::optional, text_into<&DaemonFile::log>},
         {"queue_limit", Need::optional, number_into<&DaemonFile::queue_limit, 1, 100000>},
         {"tcp", Need::optional, [](Reading& reading, const Node& node, DaemonFile& into) {
              read_mapping(reading, node, tcp_keys(), into);
          }}}};
    return table;
}

}  // namespace

tl::expected<DaemonFile, Diagnostics> read_daemon(std::string_view text, std::string path) {
    const std::string kept = path;
    return read_file<DaemonFile>(text, std::move(path), "daemon/1",
                                 [&](Reading& reading, const Node& root, DaemonFile& out) {
                                     read_mapping(reading, root, daemon_keys(), out);
                                     out.path = kept;
                                 });
}

std::vector<KeyList> daemon_key_lists() {
    return {key_list("daemon", daemon_keys()), key_list("tcp", tcp_keys())};
}

}  // namespace afterload::sequences
