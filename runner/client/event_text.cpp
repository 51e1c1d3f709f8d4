#include "runner/client/event_text.hpp"

#include <fmt/format.h>

#include <string_view>

namespace afterload::runner {
namespace {

std::string word(const Json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_string() ? found->get<std::string>() : std::string{};
}
int number(const Json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_number_integer() ? found->get<int>() : 0;
}

std::string entry_words(const Json& entry) {
    const std::string serial = word(entry, "serial");
    std::string text = fmt::format("{} “{}”, {}{}: {}", word(entry, "id"), word(entry, "title"),
                                   word(entry, "unit"), serial.empty() ? "" : ", serial " + serial,
                                   word(entry, "state"));
    if (word(entry, "state") == "unconfirmed") {
        text += fmt::format("; wire the unit up, then: afterload answer --serial {}", serial);
    }
    if (!word(entry, "verdict").empty()) {
        text += ", " + word(entry, "verdict");
    }
    if (!word(entry, "why").empty()) {
        text += ": " + word(entry, "why");
    }
    return text;
}

std::string verdict_words(const Json& verdicts) {
    std::string text;
    for (const auto& [verdict, times] : verdicts.items()) {
        text += fmt::format("{}{} {}", text.empty() ? "" : ", ", times.get<int>(), verdict);
    }
    return text.empty() ? "nothing scored" : text;
}

std::string event_words(std::string_view kind, const Json& data) {
    const std::string step =
        fmt::format("step {} of {}", number(data, "step"), number(data, "steps"));
    if (kind == "queue") {
        return entry_words(data);
    }
    if (kind == "run_begins") {
        return word(data, "queue") + " runs as " + word(data, "run");
    }
    if (kind == "step_begins") {
        return step + ": " + word(data, "step_name");
    }
    if (kind == "step_ended") {
        const std::string skipped = word(data, "skipped");
        return step + (skipped.empty() ? " done: " + verdict_words(data.value("verdicts", Json{}))
                                       : " left out: " + skipped);
    }
    if (kind == "answered") {
        return fmt::format("prompt {} answered: {}", number(data, "prompt"), word(data, "answer"));
    }
    if (kind == "run_interrupted") {
        return word(data, "run") + " was interrupted; what it measured until then is kept";
    }
    if (kind == "bench") {
        const bool ready = data.value("ready", false);
        return fmt::format("bench {}: {}",
                           word(data, "name").empty() ? word(data, "file") : word(data, "name"),
                           ready ? "ready" : word(data, "why"));
    }
    if (kind == "trouble") {
        return "trouble: " + word(data, "what");
    }
    if (kind == "note") {
        return "note: " + word(data, "text");
    }
    if (kind == "stopping") {
        return "told to stop; the bench is made safe";
    }
    if (kind == "begins") {
        return "afterloadd begins";
    }
    return kind == "ends" ? "afterloadd ends" : std::string{};
}

std::string clock_of(const Json& event) {
    const std::string at = word(event, "at");  // 2026-03-04T10:00:00.000Z
    return at.size() >= 19 ? at.substr(11, 8) : at;
}

}  // namespace

std::string event_text(const Json& event, const Terminal& terminal) {
    const std::string kind = word(event, "event");
    const Json data = event.value("data", Json::object());
    if (kind == "prompt") {
        std::string text = "\n";
        // The block is the daemon's own text, line by line.
        std::string_view rest;
        const std::string block = word(data, "text");
        for (rest = block; !rest.empty();) {
            const std::string_view line = rest.substr(0, rest.find('\n'));
            rest.remove_prefix(std::min(rest.size(), line.size() + 1));
            text += for_terminal(line, terminal) + "\n";
        }
        return text + fmt::format("  Prompt {}; from any terminal: afterload answer\n",
                                  number(data, "prompt"));
    }
    const std::string words = event_words(kind, data);
    return words.empty() ? std::string{} : wrapped(clock_of(event) + " " + words, 0, 9, terminal);
}

std::string status_text(const Json& status, const Json& queue, const Terminal& terminal) {
    const auto line = [&](std::string_view name, const std::string& what) {
        return wrapped(fmt::format("{}: {}", name, what), 0, 4, terminal);
    };
    const Json bench = status.value("bench", Json::object());
    const std::string bench_name = word(bench, "name");
    std::string text =
        line("bench", (bench_name.empty() ? word(bench, "file") : bench_name) +
                          (bench.value("simulated", false) ? " (simulated)" : "") +
                          (bench.value("ready", false) ? ", ready" : ", " + word(bench, "why")));
    const Json run = status.value("run", Json{});
    if (run.is_object()) {
        text += line("run",
                     fmt::format("{} {}, step {} of {}: {}{}", word(run, "queue"), word(run, "run"),
                                 number(run, "step"), number(run, "steps"), word(run, "step_name"),
                                 word(run, "doing").empty() ? "" : ", " + word(run, "doing")));
    } else {
        text += line("run", "none");
    }
    if (status.value("prompt", Json{}).is_object()) {
        text += line("prompt", "waits for an answer: " + word(status["prompt"], "title") +
                                   "; afterload answer");
    }
    for (const Json& entry : queue.value("entries", Json::array())) {
        const std::string state = word(entry, "state");
        if (state == "waiting" || state == "unconfirmed") {
            text += line("queue", entry_words(entry));
        }
    }
    if (!word(status, "trouble").empty()) {
        text += line("trouble", word(status, "trouble"));
    }
    return text;
}

}  // namespace afterload::runner
