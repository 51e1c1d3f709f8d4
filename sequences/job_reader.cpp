#include "sequences/job_reader.hpp"

#include "sequences/key_lists.hpp"
#include "sequences/reading.hpp"

#include <utility>

namespace afterload::sequences {

namespace {

template <class T, auto Member>
void words_into(Reading& reading, const Node& node, T& into) {
    store(into.*Member, reading.words(node, "a text"));
}

template <class T, auto Member>
void list_into(Reading& reading, const Node& node, T& into) {
    into.*Member = reading.list_of_words(node, "a list of texts");
}

template <class T, auto Member, auto Table>
void entries_into(Reading& reading, const Node& node, T& into) {
    if (!reading.is_list(node, "a list")) {
        return;
    }
    for (const Node& item : node.items) {
        auto& list = into.*Member;
        if (auto& one = list.emplace_back(); !read_mapping(reading, item, Table(), one)) {
            list.pop_back();
        }
    }
}

const KeyTable<PartEntry>& part_keys() {
    static const KeyTable<PartEntry> table{
        "a part",
        {{"position", Need::required, words_into<PartEntry, &PartEntry::position>},
         {"part", Need::required, words_into<PartEntry, &PartEntry::part>},
         {"reason", Need::optional, words_into<PartEntry, &PartEntry::reason>}}};
    return table;
}

const KeyTable<AdjustmentEntry>& adjustment_keys() {
    static const KeyTable<AdjustmentEntry> table{
        "an adjustment",
        {{"what", Need::required, words_into<AdjustmentEntry, &AdjustmentEntry::what>},
         {"found", Need::required, words_into<AdjustmentEntry, &AdjustmentEntry::found>},
         {"left", Need::required, words_into<AdjustmentEntry, &AdjustmentEntry::left>}}};
    return table;
}

const KeyTable<SafetyEntry>& safety_keys() {
    static const KeyTable<SafetyEntry> table{
        "a safety test",
        {{"test", Need::required, words_into<SafetyEntry, &SafetyEntry::test>},
         {"result", Need::required, words_into<SafetyEntry, &SafetyEntry::result>}}};
    return table;
}

const KeyTable<Job>& job_keys() {
    static const KeyTable<Job> table{
        "a job",
        {{"afterload", Need::required, [](Reading&, const Node&, Job&) {}},
         {"ticket", Need::optional, words_into<Job, &Job::ticket>},
         {"complaint", Need::required, words_into<Job, &Job::complaint>},
         {"cause", Need::optional, words_into<Job, &Job::cause>},
         {"work", Need::optional, list_into<Job, &Job::work>},
         {"parts", Need::optional, entries_into<Job, &Job::parts, part_keys>},
         {"adjustments", Need::optional, entries_into<Job, &Job::adjustments, adjustment_keys>},
         {"safety", Need::optional, entries_into<Job, &Job::safety, safety_keys>},
         {"notes", Need::optional, list_into<Job, &Job::notes>}}};
    return table;
}

}  // namespace

tl::expected<Job, Diagnostics> read_job(std::string_view text, std::string path) {
    const std::string kept = path;
    return read_file<Job>(text, std::move(path), "job/1",
                          [&](Reading& reading, const Node& root, Job& out) {
                              read_mapping(reading, root, job_keys(), out);
                              out.path = kept;
                          });
}

std::vector<KeyList> job_key_lists() {
    return {key_list("job", job_keys()), key_list("part", part_keys()),
            key_list("adjustment", adjustment_keys()), key_list("safety", safety_keys())};
}

}  // namespace afterload::sequences
