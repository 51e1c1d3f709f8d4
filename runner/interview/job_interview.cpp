#include "runner/interview/job_interview.hpp"

#include "sequences/utf8.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <utility>

namespace afterload::runner {
namespace {

using sequences::yaml_value;

constexpr std::size_t longest_text = 3900;  // a text of a file has 4000 bytes at the most
constexpr std::string_view not_noted = "not noted";

/// The first characters of `text` that fit, up to a blank where one is near.
std::size_t head_of(std::string_view text) {
    std::size_t bytes = 0;
    std::size_t blank = 0;
    while (bytes < text.size()) {
        const auto next = sequences::decode_utf8(text.substr(bytes));
        if (bytes + next.bytes > longest_text) {
            break;
        }
        bytes += next.bytes;
        blank = next.code == U' ' ? bytes : blank;
    }
    return bytes < text.size() && blank > longest_text / 2 ? blank : bytes;
}

std::string noted(const std::string& text) {
    return text.empty() ? std::string{not_noted} : text;
}

std::string list_text(std::string_view key, const std::vector<std::string>& items) {
    std::string out = fmt::format("{}:\n", key);
    for (const std::string& item : items) {
        out += "  - " + yaml_value(item) + "\n";
    }
    return out;
}

}  // namespace

std::string JobInterview::fitting(const std::string& question, const std::string& text) {
    anything_ = anything_ || !text.empty();
    const std::size_t head = head_of(text);
    std::string_view rest = std::string_view{text}.substr(head);
    while (!rest.empty()) {
        const std::size_t taken = head_of(rest);
        continued_.push_back(fmt::format("{}, continued: {}", question, rest.substr(0, taken)));
        rest.remove_prefix(taken);
    }
    return text.substr(0, head);
}

bool JobInterview::words(const std::string& question, std::string& into) {
    const auto answer = questions_.text(question);
    if (!answer) {
        stopped_at_ = stopped_at_.empty() ? question : stopped_at_;
        return false;
    }
    into = fitting(question, *answer);
    return true;
}

bool JobInterview::list(const std::string& question, std::vector<std::string>& into) {
    while (true) {
        std::string item;
        if (!words(question + (into.empty() ? "" : ", more"), item)) {
            return false;
        }
        if (item.empty()) {
            return true;
        }
        into.push_back(std::move(item));
    }
}

template <class Entry>
bool JobInterview::entries(
    std::vector<Entry>& into, const char* first, const char* another, std::string Entry::*named_by,
    const std::vector<std::pair<const char*, std::string Entry::*>>& further) {
    while (true) {
        Entry entry;
        if (!words(into.empty() ? first : another, entry.*named_by)) {
            return false;
        }
        if ((entry.*named_by).empty()) {
            return true;
        }
        bool whole = true;
        for (const auto& [question, part] : further) {
            whole = whole && words(question, entry.*part);
        }
        into.push_back(std::move(entry));
        if (!whole) {
            return false;
        }
    }
}

bool JobInterview::parts() {
    using sequences::PartEntry;
    return entries(job_.parts, "Part replaced, by its position (C712)",
                   "Another part, by its position", &PartEntry::position,
                   {{"  what is in its place now (22 uF 50 V, film)", &PartEntry::part},
                    {"  why", &PartEntry::reason}});
}

bool JobInterview::adjustments() {
    using sequences::AdjustmentEntry;
    return entries(
        job_.adjustments, "Adjustment (idle current left, across R733)", "Another adjustment",
        &AdjustmentEntry::what,
        {{"  found at", &AdjustmentEntry::found}, {"  left at", &AdjustmentEntry::left}});
}

bool JobInterview::safety() {
    using sequences::SafetyEntry;
    return entries(job_.safety,
                   "Safety test that the local rules ask for (earth continuity, insulation, "
                   "leakage)",
                   "Another safety test", &SafetyEntry::test,
                   {{"  its result, with the limit and the date", &SafetyEntry::result}});
}

AskedFile JobInterview::ask() {
    questions_.say("Enter skips a question. Ctrl-D stops and keeps what was given.");
    const bool all = words("Ticket", job_.ticket) &&
                     words("Complaint, in the customer's words", job_.complaint) &&
                     words("Cause, when it is known", job_.cause) &&
                     list("Work done, an item a line", job_.work) && parts() && adjustments() &&
                     safety() && list("Notes", job_.notes);
    AskedFile file;
    file.stopped_at = all ? "" : stopped_at_;
    if (all || anything_) {
        file.text = text();
    }
    file.told = job_.ticket.empty() ? "job" : "job, ticket " + job_.ticket;
    return file;
}

std::string JobInterview::text() const {
    std::string out = stopped_at_.empty() ? "" : draft_line(stopped_at_);
    out += fmt::format(
        "{}# Give it to every run of this repair: afterload run ... --job FILE. Write on in it as\n"
        "# the work goes; afterload check FILE finds every mistake.\n"
        "# Safety tests are what the local code asks for, by who may make them. Capacitors hold\n"
        "# their charge after the plug is out: discharge them and measure.\n"
        "afterload: job/1\n",
        sequences::yaml_comment("Asked for by afterload new job on " + today_ + "."));
    out += job_.ticket.empty()
               ? "# Without a ticket the file's name ties the runs together.\n# ticket: \"2417\"\n"
               : "ticket: " + yaml_value(job_.ticket) + "\n";
    out += "\n# In the customer's words.\ncomplaint: " + yaml_value(noted(job_.complaint)) + "\n";
    out += "\n# What was wrong, when it is known.\n";
    out += job_.cause.empty() ? "# cause: coupling capacitor C712 dried out\n"
                              : "cause: " + yaml_value(job_.cause) + "\n";
    out += "\n# What was done, an item a line.\n";
    out +=
        job_.work.empty() ? "# work:\n#   - speaker relay cleaned\n" : list_text("work", job_.work);
    out += "\n# Parts replaced, by their position on the board.\n";
    if (job_.parts.empty()) {
        out += "# parts:\n#   - {position: C712, part: 22 uF 50 V, reason: dried out}\n";
    } else {
        out += "parts:\n";
    }
    for (const sequences::PartEntry& part : job_.parts) {
        out += fmt::format("  - position: {}\n    part: {}\n", yaml_value(part.position),
                           yaml_value(noted(part.part)));
        out += part.reason.empty() ? "" : "    reason: " + yaml_value(part.reason) + "\n";
    }
    out += "\n# Adjustments, as found and as left.\n";
    if (job_.adjustments.empty()) {
        out += "# adjustments:\n#   - {what: idle current left, found: 0.3 mV, left: 12.1 mV}\n";
    } else {
        out += "adjustments:\n";
    }
    for (const sequences::AdjustmentEntry& entry : job_.adjustments) {
        out += fmt::format("  - what: {}\n    found: {}\n    left: {}\n", yaml_value(entry.what),
                           yaml_value(noted(entry.found)), yaml_value(noted(entry.left)));
    }
    out += "\n# What the local rules ask for, and what it gave.\n";
    if (job_.safety.empty()) {
        out += "# safety:\n#   - {test: earth continuity, result: \"0.12 ohm, passed\"}\n";
    } else {
        out += "safety:\n";
    }
    for (const sequences::SafetyEntry& entry : job_.safety) {
        out += fmt::format("  - test: {}\n    result: {}\n", yaml_value(entry.test),
                           yaml_value(noted(entry.result)));
    }
    std::vector<std::string> notes = job_.notes;
    notes.insert(notes.end(), continued_.begin(), continued_.end());
    out += notes.empty() ? "\n# notes:\n#   - the left knob is loose\n"
                         : "\n" + list_text("notes", notes);
    return out;
}

}  // namespace afterload::runner
