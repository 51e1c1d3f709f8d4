#include "runner/papers/soak_summary.hpp"

#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

namespace {

constexpr std::size_t most_looked_at = 6;
constexpr std::size_t name_column = 2;
constexpr std::size_t text_column = 18;

struct Course {
    double low = 0.0;
    double high = 0.0;
    double first = 0.0;
    const SoakTrend* trend = nullptr;
};

/// Least and most of a quantity over all its channels.
std::optional<Course> course_of(const SoakResult& soak, std::string_view quantity) {
    std::optional<Course> all;
    for (const SoakTrend& trend : soak.trends) {
        if (trend.quantity != quantity || trend.points.empty()) {
            continue;
        }
        if (!all) {
            all = Course{trend.points.front().low, trend.points.front().high,
                         trend.points.front().mean, &trend};
        }
        for (const SoakTrendPoint& point : trend.points) {
            all->low = std::min(all->low, point.low);
            if (point.high > all->high) {
                all->high = point.high;
                all->trend = &trend;
            }
        }
    }
    return all;
}

std::string side(int channel) {
    return channel == 1 ? ", left" : channel == 2 ? ", right" : "";
}

std::string words_of(std::string quantity) {
    std::replace(quantity.begin(), quantity.end(), '_', ' ');
    return quantity;
}

/// "the mains switched itself" stands in its sentence; here the place in time of an event.
std::string at_words(const StepResult& step, const RunEvent& event) {
    return clock_text(event.since_start - step.started);
}

class Summary {
public:
    Summary(const RunDocument& run, const StepResult& step, const Terminal& terminal)
        : run_{run}, step_{step}, soak_{*step.soak}, terminal_{terminal} {}

    std::string written() {
        const bool finished = soak_.state == "finished";
        first_line(finished);
        second_line(finished);
        if (finished) {
            courses();
        } else {
            why_and_then();
            courses();
        }
        dropouts();
        look_at();
        last_word(finished);
        return std::move(out_);
    }

private:
    void add(const TextLine& line) { out_ += line.text(); }

    void row(std::string_view name, const std::string& text) {
        TextLine line{terminal_};
        line.to(name_column).put(name).to(text_column);
        const std::string rest = wrapped(text, text_column, text_column, terminal_);
        // The first line of what was wrapped goes behind the name.
        std::string first = rest.substr(0, rest.find('\n'));
        first.erase(0, first.find_first_not_of(' '));
        line.put(first);
        add(line);
        const std::size_t end = rest.find('\n');
        if (end != std::string::npos && end + 1 < rest.size()) {
            out_ += rest.substr(end + 1);
        }
    }

    void first_line(bool finished) {
        TextLine line{terminal_};
        if (finished) {
            line.put("Soak finished", Emphasis::bold);
        } else if (soak_.state == "killed") {
            line.put(" TURNED OFF ", Emphasis::inverse);
        } else if (soak_.state == "stopped") {
            line.put(" STOPPED ", Emphasis::inverse);
        } else {
            line.put(run_.state == RunState::interrupted ? " INTERRUPTED " : "Soak goes on",
                     run_.state == RunState::interrupted ? Emphasis::inverse : Emphasis::bold);
        }
        std::string unit = run_.unit.maker + " " + run_.unit.model;
        unit += run_.serial.empty() ? "" : ", " + run_.serial;
        unit += run_.job.empty() ? "" : ", ticket " + run_.job;
        line.put("  " + cut(unit, 44, terminal_));
        const std::string when =
            soak_.segments.empty() ? std::string{} : stamp_text(soak_.segments.front().started);
        if (line.width() + columns(when) + 1 <= terminal_.width) {
            line.ending_at(terminal_.width, when);
        }
        add(line);
    }

    void second_line(bool finished) {
        const bool stays = !soak_.segments.empty() && soak_.segments.back().consent.stays;
        std::string signal = soak_.signal;
        std::replace(signal.begin(), signal.end(), '_', ' ');
        out_ += wrapped(fmt::format("{} of {} at {} each channel, {}, {}{}.{}",
                                    duration_words(soak_.lasted), duration_words(soak_.planned),
                                    soak_.level, signal, stays ? "attended" : "unattended",
                                    soak_.segments.size() > 1
                                        ? fmt::format(", in {} segments", soak_.segments.size())
                                        : std::string{},
                                    finished                          ? " Drive off, output safe."
                                    : run_.state == RunState::running ? ""
                                    : soak_.killed                    ? " Everything off, kept off."
                                                                      : " Drive off, kept off."),
                        0, 0, terminal_);
    }

    void why_and_then() {
        if (!soak_.why.empty()) {
            row("why", soak_.why + fmt::format(", at {}", clock_text(soak_.lasted)));
        }
        std::vector<std::string> done;
        for (auto decision = soak_.decisions.rbegin();
             decision != soak_.decisions.rend() && done.size() < 3; ++decision) {
            if (!decision->done.empty()) {
                done.insert(done.begin(),
                            fmt::format("{} ({} s)", decision->done,
                                        fmt::format("{:.1f}", decision->took.in<Seconds>())));
            }
        }
        if (!done.empty()) {
            row("then", fmt::format("{}", fmt::join(done, "; ")));
        }
        row("kept", fmt::format("all until then, and 5 s before and after {}",
                                step_.records.size() == 1 ? "the event" : "each event"));
    }

    void courses() {
        if (const auto sink = course_of(soak_, "heat_sink")) {
            std::string text = fmt::format("{:.0f} °C at most", sink->high);
            if (!sink->trend->what.empty()) {
                text += ", " + sink->trend->verdict;
            }
            row("heat sink", text);
        }
        if (const auto level = course_of(soak_, "level_drift")) {
            row("level",
                fmt::format("{:+.3f} to {:+.3f} dB re the start", level->low, level->high));
        }
        if (const auto distortion = course_of(soak_, "distortion")) {
            row("distortion",
                fmt::format("{:.4f} % at most, {:.1f} times the start", 100.0 * distortion->high,
                            distortion->high / std::max(distortion->first, 1e-9)));
        }
        if (const auto offset = course_of(soak_, "offset")) {
            row("DC offset",
                fmt::format("{:+.1f} to {:+.1f} mV", 1e3 * offset->low, 1e3 * offset->high));
        }
        if (const auto mains = course_of(soak_, "mains_voltage")) {
            row("mains", fmt::format("{:.0f} to {:.0f} V", mains->low, mains->high));
        }
    }

    void dropouts() {
        std::map<Blame, int> counts;
        for (const RunEvent& event : step_.events) {
            ++counts[event.blame];
        }
        if (step_.events.empty()) {
            row("events", "none");
            return;
        }
        std::vector<std::string> parts;
        for (const auto& [blame, words] :
             {std::pair{Blame::unit, "of the unit"},
              std::pair{Blame::unit_or_lead, "of the unit or its lead"},
              std::pair{Blame::unit_or_mains, "of the unit or the mains"},
              std::pair{Blame::rig, "of the rig"}}) {
            if (counts[blame] > 0) {
                parts.push_back(fmt::format("{} {}", counts[blame], words));
            }
        }
        row("events", fmt::format("{}", fmt::join(parts, ", ")));
        for (const std::string& pattern : soak_.patterns) {
            row("pattern", pattern);
        }
    }

    /// The gravest first, each kind of event of a channel once.
    void look_at() {
        std::vector<const RunEvent*> open;
        std::map<std::tuple<std::string, int, Blame>, int> alike;
        for (const RunEvent& event : step_.events) {
            if (event.reaction.empty()) {
                continue;
            }
            if (alike[{event.kind, event.channel, event.blame}]++ == 0) {
                open.push_back(&event);
            }
        }
        std::stable_sort(open.begin(), open.end(), [](const RunEvent* a, const RunEvent* b) {
            const auto weight = [](const RunEvent& event) {
                return event.reaction == "kill" ? 0 : event.reaction == "hold" ? 1 : 2;
            };
            return weight(*a) < weight(*b);
        });
        for (std::size_t i = 0; i < open.size() && i < most_looked_at; ++i) {
            const RunEvent& event = *open[i];
            const int more = alike[{event.kind, event.channel, event.blame}] - 1;
            row(i == 0 ? "Look at" : "",
                fmt::format("{}  {}: {}{}", at_words(step_, event), whose(event),
                            event_words(event),
                            more > 0 ? fmt::format("; {} more like it", more) : std::string{}));
        }
        if (open.size() > most_looked_at) {
            row("", fmt::format("and {} more kinds: in the report", open.size() - most_looked_at));
        }
    }

    void last_word(bool finished) {
        if (soak_.killed && soak_.cause.empty()) {
            TextLine line{terminal_};
            line.put("Do not switch on yet: enter a cause first.", Emphasis::bold);
            add(line);
            out_ += wrapped(fmt::format("afterload cause RUN --because TEXT --by NAME"), 2, 2,
                            terminal_, Emphasis::act);
        } else if (soak_.killed) {
            row("cause", fmt::format("{} ({})", soak_.cause, soak_.cause_by));
        }
        if (finished) {
            row("next", "cold re-check before first use");
        }
    }

    const RunDocument& run_;
    const StepResult& step_;
    const SoakResult& soak_;
    const Terminal& terminal_;
    std::string out_;
};

}  // namespace

std::string soak_summary(const RunDocument& run, const StepResult& step, const Terminal& terminal) {
    return Summary{run, step, terminal}.written();
}

std::string whose(const RunEvent& event) {
    if (event.kind == "mains" || event.kind == "mains_voltage_away") {
        return "mains";
    }
    switch (event.blame) {
        case Blame::unit:
            return "unit";
        case Blame::rig:
            return "rig, not the unit";
        case Blame::unit_or_lead:
            return "unit or its lead";
        case Blame::unit_or_mains:
            return "unit or mains";
    }
    return "";
}

std::string event_words(const RunEvent& event) {
    const std::string where = side(event.channel);
    const std::string lasting =
        event.duration > Seconds{0.0}
            ? fmt::format(" for {}",
                          event.duration < Seconds{1.0}
                              ? fmt::format("{:.0f} ms", 1e3 * event.duration.in<Seconds>())
                              : duration_words(event.duration))
            : std::string{};
    if (event.kind == "dropout") {
        return fmt::format("signal gone{}{}", lasting, where);
    }
    if (event.kind == "level") {
        return fmt::format("level {:+.2f} dB{}{}", event.size, lasting, where);
    }
    if (event.kind == "gap") {
        return fmt::format("{:.0f} samples missing", event.size);
    }
    if (event.kind == "repeat") {
        return fmt::format("{:.0f} samples twice", event.size);
    }
    if (event.kind == "frozen") {
        return fmt::format("the same samples over and over{}", lasting);
    }
    if (event.kind == "mains" || event.kind == "temperature" || event.kind == "sensor") {
        return event.note + lasting;
    }
    const std::string size =
        event.unit.empty() ? std::string{} : fmt::format(" {:.3g} {}", event.size, event.unit);
    return words_of(event.kind) + (event.unit == "1" ? fmt::format(" {:.3g}", event.size) : size) +
           lasting + where + (event.note.empty() || event.unit != "" ? "" : ": " + event.note);
}

}  // namespace afterload::runner
