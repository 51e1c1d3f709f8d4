#include "runner/papers/junit_xml.hpp"

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>

#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

struct Tally {
    int tests = 0;
    int failures = 0;
    int errors = 0;
    int skipped = 0;
};

bool is_open(VerdictKind kind) {
    return kind == VerdictKind::conditional_fail || kind == VerdictKind::not_resolvable ||
           kind == VerdictKind::not_comparable;
}

bool came_to_its_end(const RunDocument& run) {
    return run.state == RunState::done;
}

Tally tally_of(const RunDocument& run) {
    Tally tally;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (!entry.verdict) {
                continue;
            }
            ++tally.tests;
            tally.failures += entry.verdict->kind == VerdictKind::fail ? 1 : 0;
            tally.skipped += is_open(entry.verdict->kind) ? 1 : 0;
        }
    }
    if (!came_to_its_end(run)) {
        ++tally.tests;
        ++tally.errors;
    }
    return tally;
}

std::string attribute(std::string_view name, std::string_view value) {
    return fmt::format(" {}=\"{}\"", name, xml_escaped(value));
}

/// "2026-03-04T10:00:00" of an RFC 3339 stamp: the schema has neither fraction nor zone.
std::string stamp(const std::string& started) {
    return started.size() >= 19 ? started.substr(0, 19) : std::string{"1970-01-01T00:00:00"};
}

std::string said(const ScoredFigure& entry) {
    FigureRow row;
    row.kind = entry.figure.kind;
    row.left = &entry;
    row.single = true;
    const WrittenRow numbers = written(row);
    const std::string unit = numbers.unit.symbol.empty() ? "" : " " + numbers.unit.symbol;
    std::string text = numbers.left;
    text += numbers.expanded.empty() ? unit : fmt::format(" ± {}{}", numbers.expanded, unit);
    text += numbers.limit.empty() ? "" : fmt::format(", limit {}{}", numbers.limit, unit);
    if (!entry.verdict->reason.empty()) {
        text += "; " + entry.verdict->reason;
    }
    return text;
}

void put_case(std::string& out, const RunDocument& run, const StepResult& step,
              const ScoredFigure& entry, const Beside& beside) {
    const VerdictKind kind = entry.verdict->kind;
    out += "    <testcase";
    out += attribute("name", entry.id);
    out += attribute("classname", fmt::format("{}.{}", run.sequence_name, step.name));
    // The time of a step is that of all its figures together; it stands in the suite.
    out += attribute("time", "0");
    const std::string text = said(entry);
    std::string remarks;
    for (const Remark* remark : beside.of_figure(entry.id)) {
        remarks += "\n" + remark_text(*remark);
    }
    if (kind == VerdictKind::fail) {
        out += fmt::format("><failure{}{}>{}</failure></testcase>\n", attribute("message", text),
                           attribute("type", analysis::name(kind)), xml_escaped(text + remarks));
    } else if (is_open(kind)) {
        out += fmt::format(
            "><skipped{}/></testcase>\n",
            attribute("message", fmt::format("{}: {}{}", analysis::in_words(kind), text, remarks)));
    } else {
        out += "/>\n";
    }
}

}  // namespace

std::string xml_escaped(std::string_view text) {
    std::string out;
    out.reserve(text.size() + text.size() / 8);
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        const std::string_view bytes = text.substr(i, next.bytes);
        i += next.bytes;
        const bool blank = next.code == U'\t' || next.code == U'\n' || next.code == U'\r';
        const bool outside = next.code < 0x20 || next.code == 0xFFFE || next.code == 0xFFFF;
        if (const std::string_view entity = markup_entity(next.code); !entity.empty()) {
            out += entity;
        } else if (next.valid && blank) {
            // In an attribute a bare one would be read back as a blank.
            out += fmt::format("&#{};", static_cast<unsigned>(next.code));
        } else if (!next.valid || outside) {
            out += "\ufffd";
        } else {
            out += bytes;
        }
    }
    return out;
}

std::string junit_xml(const RunDocument& run, const Beside& beside) {
    const Tally tally = tally_of(run);
    std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n  <testsuite";
    out += attribute("id", "0");
    out += attribute("package", "afterload");
    out += attribute("name", run.id.empty() ? std::string{"run"} : run.id);
    out += attribute("timestamp", stamp(run.started));
    out += attribute("hostname", "localhost");
    out += attribute("tests", fmt::format("{}", tally.tests));
    out += attribute("failures", fmt::format("{}", tally.failures));
    out += attribute("errors", fmt::format("{}", tally.errors));
    out += attribute("skipped", fmt::format("{}", tally.skipped));
    out += attribute("time", fmt::format("{:.3f}", run.lasted.in<Seconds>()));
    out += ">\n    <properties>\n";
    for (const auto& [key, value] : std::vector<std::pair<std::string_view, std::string>>{
             {"maker", run.unit.maker},
             {"model", run.unit.model},
             {"serial", run.serial},
             {"stage", std::string{name(run.stage)}},
             {"bench", run.bench.name},
             {"sequence", run.sequence_name},
             {"verdict", std::string{name(run.verdict)}}}) {
        out += fmt::format("      <property{}{}/>\n", attribute("name", key),
                           attribute("value", value));
    }
    out += "    </properties>\n";
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (entry.verdict) {
                put_case(out, run, step, entry, beside);
            }
        }
    }
    if (!came_to_its_end(run)) {
        out += fmt::format("    <testcase{}{}{}><error{}{}/></testcase>\n",
                           attribute("name", "the run comes to its end"),
                           attribute("classname", run.sequence_name), attribute("time", "0"),
                           attribute("message", run.stop_reason.empty() ? std::string{"it did not"}
                                                                        : run.stop_reason),
                           attribute("type", name(run.state)));
    }
    std::string said;
    for (const Remark* remark : beside.of_run()) {
        said += remark_text(*remark) + "\n";
    }
    out += fmt::format("    <system-out>{}</system-out>\n    <system-err></system-err>\n",
                       xml_escaped(said));
    return out + "  </testsuite>\n</testsuites>\n";
}

}  // namespace afterload::runner
