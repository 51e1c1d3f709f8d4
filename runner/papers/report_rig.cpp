#include "runner/papers/report_rig.hpp"

#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

std::string volts(const std::optional<VoltsRms>& value) {
    return value ? page(quantity_text(value->in<VoltsRms>(), "V", 3)) : std::string{"unknown"};
}

std::string per_cent(double ratio) {
    return page(plain(100.0 * ratio, 2) + " %");
}

/// A table of names and values.
class Facts {
public:
    Facts(Html& html, std::string_view caption) : html_{html} {
        html_.open("table", {{"class", "facts"}});
        html_.element("caption", caption);
        html_.open("tbody");
    }
    Facts(const Facts&) = delete;
    Facts& operator=(const Facts&) = delete;
    ~Facts() { html_.close().close(); }

    void put(std::string_view name, std::string_view value) {
        html_.open("tr");
        html_.open("th", {{"scope", "row"}}).outside(name, 120).close();
        html_.open("td").outside(value, 200).close();
        html_.close();
    }

private:
    Html& html_;
};

void put_heads(Html& html, const std::vector<std::string_view>& heads) {
    html.open("thead").open("tr");
    for (const std::string_view head : heads) {
        html.element("th", {{"scope", "col"}}, head);
    }
    html.close().close();
}

/// Cells carry their head as a name too, for narrow screens where the heads are not shown.
void put_cells(Html& html, const std::vector<std::string_view>& heads,
               const std::vector<std::string>& cells, std::size_t most = 200) {
    html.open("tr");
    for (std::size_t i = 0; i < cells.size(); ++i) {
        if (i == 0) {
            html.open("th", {{"scope", "row"}}).outside(cells[i], most).close();
        } else {
            // A short word is not broken: a date has hyphens.
            const bool word = cells[i].size() <= 12 && cells[i].find(' ') == std::string::npos;
            html.open("td", {{"class", word ? "word" : "words"}, {"data-head", heads[i]}})
                .outside(cells[i], most)
                .close();
        }
    }
    html.close();
}

std::string own_distortion(const sequences::RangeEntry& range) {
    if (range.own_distortion.empty()) {
        return "unknown";
    }
    std::vector<std::string> parts;
    for (const sequences::OwnDistortion& own : range.own_distortion) {
        parts.push_back(fmt::format("{} + {} at {}", per_cent(own.source.in<AmplitudeRatio>()),
                                    per_cent(own.input.in<AmplitudeRatio>()), volts(own.at)));
    }
    return fmt::format("{}", fmt::join(parts, "; "));
}

const DrivenAs* first_record(const RunDocument& run) {
    for (const StepResult& step : run.steps) {
        for (const StoredRecord& record : step.records) {
            return &record.driven;
        }
    }
    return nullptr;
}

std::string words_of(std::string_view name) {
    std::string text{name};
    std::replace(text.begin(), text.end(), '_', ' ');
    return text;
}

std::string whose(int channel) {
    return channel == 0 ? "both channels" : channel == 1 ? "left" : "right";
}

std::string reading_text(const SlowReading& reading) {
    const auto kind = figure_kind(reading.quantity);
    const bool warm = reading.quantity == "heat_sink" || reading.quantity == "ambient" ||
                      reading.quantity == "load_temperature";
    const std::string symbol = warm ? "°C" : kind ? shown_unit(*kind, 1.0).symbol : std::string{};
    return page(fmt::format("{} ± {}{}", quantity_text(reading.value, symbol, 4),
                            quantity_text(2.0 * reading.u_k1, symbol, 2),
                            reading.outcome.empty() ? "" : "; " + reading.outcome));
}

void put_events(Html& html, const RunDocument& run) {
    const std::vector<std::string_view> heads{"time", "whose", "what", "channel"};
    bool any = false;
    for (const StepResult& step : run.steps) {
        any = any || !step.events.empty() || !step.retakes.empty();
    }
    if (!any) {
        html.element("p", "No event while driving, no record taken again.");
        return;
    }
    html.open("table", {{"class", "list"}});
    html.element("caption", "Events, with the time since the start");
    put_heads(html, heads);
    html.open("tbody");
    std::multimap<double, std::vector<std::string>> lines;
    for (const StepResult& step : run.steps) {
        for (const RunEvent& event : step.events) {
            lines.emplace(
                event.since_start.in<Seconds>(),
                std::vector<std::string>{
                    clock_text(event.since_start), words_of(name(event.blame)),
                    page(fmt::format("{}, {}{}{}", event.kind,
                                     event.unit.empty() ? std::string{}
                                                        : quantity_text(event.size, event.unit, 3),
                                     event.timeline_intact ? ", no sample missing" : "",
                                     event.note.empty() ? "" : "; " + event.note)),
                    whose(event.channel)});
        }
        for (const Retake& retake : step.retakes) {
            std::vector<std::string> faults;
            for (const CaptureFault& fault : retake.faults) {
                faults.push_back(fault.note.empty()
                                     ? std::string{name(fault.kind)}
                                     : fmt::format("{} ({})", name(fault.kind), fault.note));
            }
            lines.emplace(retake.since_start.in<Seconds>(),
                          std::vector<std::string>{
                              clock_text(retake.since_start), "rig",
                              fmt::format("record taken again: {}", fmt::join(faults, ", ")),
                              "both channels"});
        }
    }
    for (const auto& [time, cells] : lines) {
        put_cells(html, heads, cells);
    }
    html.close().close();
}

/// "2.83 V at full scale from 100 Ω, level known to 0.4 % (k = 1), source 2026-03-02".
std::string words_of(const sequences::SourceEntry& source) {
    return fmt::format("{} at full scale from {}, level known to {} % (k = 1){}",
                       quantity_text(source.full_scale.in<VoltsRms>(), "V", 3),
                       quantity_text(source.impedance.in<Ohms>(), "Ω"),
                       plain(100.0 * source.level_u_k1, 2),
                       source.calibration_id.empty() ? "" : ", " + source.calibration_id);
}

}  // namespace

void put_rig(Html& html, const RunDocument& run) {
    const sequences::BenchFile& bench = run.bench;
    html.element("h2", {{"id", "rig"}}, "What the rig could resolve");
    {
        Facts facts{html, "Bench"};
        facts.put("bench", bench.name);
        if (bench.simulated) {
            facts.put("what it is", "simulated: no real unit was measured");
        } else if (bench.stand_in) {
            facts.put("what it is", "an audio server stands where a sound card is meant");
        }
        facts.put("card", page(fmt::format("{}, {} Hz, {} bit", bench.card.name,
                                           plain(bench.card.rate.frequency().in<Hertz>()),
                                           bench.card.bits)));
        if (!bench.card.opened.empty()) {
            facts.put("card opened", page(bench.card.opened));
        }
        facts.put("source", page(words_of(bench.source)));
        if (bench.generator) {
            facts.put("generator", page(words_of(*bench.generator) +
                                        "; plays the sines that both channels take alike"));
        }
        facts.put("flatness", page(fmt::format("{} dB (k = 1)", plain(bench.flatness_u_k1_db, 2))));
        facts.put("sense leads", bench.sense_grounded ? "share the card’s ground" : "floating");
        facts.put("independent cut-out", words_of(bench.cut_out));
        for (const sequences::MeterEntry& meter : bench.meters) {
            std::vector<std::string> reads;
            for (const std::string& quantity : meter.reads) {
                reads.push_back(words_of(quantity));
            }
            facts.put(meter.name, fmt::format("reads {}", fmt::join(reads, ", ")));
        }
        if (bench.limits.largest_output) {
            facts.put(
                "largest output allowed",
                page(quantity_text(bench.limits.largest_output->in<Watts>(), "W") + " a channel"));
        }
    }
    const std::vector<std::string_view> heads{
        "range",   "full scale, peak",        "own noise, A", "own noise",
        "own hum", "own THD, source + input", "found",        "calibrated"};
    html.open("table", {{"class", "list"}});
    html.element("caption", "Ranges and the rig’s own part in each");
    put_heads(html, heads);
    html.open("tbody");
    for (const sequences::RangeEntry& range : bench.ranges) {
        put_cells(html, heads,
                  {range.name, page(quantity_text(range.full_scale.in<VoltsPeak>(), "V", 3)),
                   volts(range.own_noise_a), volts(range.own_noise), volts(range.own_hum),
                   own_distortion(range), range.own_found.empty() ? "never" : range.own_found,
                   range.calibrated.empty() ? "never" : range.calibrated});
    }
    html.close().close();
    const std::vector<std::string_view> load_heads{"load", "resistance", "known to (k = 1)",
                                                   "continuous", "measured"};
    html.open("table", {{"class", "list"}});
    html.element("caption", "Dummy loads");
    put_heads(html, load_heads);
    html.open("tbody");
    for (const sequences::LoadEntry& load : bench.loads) {
        put_cells(
            html, load_heads,
            {std::string{name(load.channel)}, page(quantity_text(load.resistance.in<Ohms>(), "Ω")),
             per_cent(load.u_k1), page(quantity_text(load.continuous.in<Watts>(), "W")),
             load.measured.empty() ? "never" : load.measured});
    }
    html.close().close();
}

void put_conditions(Html& html, const RunDocument& run) {
    html.element("h2", {{"id", "conditions"}}, "Conditions");
    {
        Facts facts{html, "As measured"};
        facts.put("sequence", run.sequence_title.empty()
                                  ? run.sequence_name
                                  : fmt::format("{} ({})", run.sequence_title, run.sequence_name));
        for (const auto& [key, value] : run.parameters) {
            facts.put(words_of(key), value);
        }
        if (const DrivenAs* driven = first_record(run)) {
            facts.put("mains", driven->mains_voltage > 0.0
                                   ? page(quantity_text(driven->mains_voltage, "V"))
                                   : std::string{"not read"});
            facts.put("room", std::isfinite(driven->ambient)
                                  ? page(quantity_text(driven->ambient, "°C", 3))
                                  : std::string{"not read"});
        }
        for (const StepResult& step : run.steps) {
            for (const SlowReading& reading : step.readings) {
                const auto kind = figure_kind(reading.quantity);
                facts.put(fmt::format("{}, {}",
                                      kind ? std::string{words(*kind)} : words_of(reading.quantity),
                                      name(reading.channel)),
                          reading_text(reading));
            }
        }
        for (const std::string& note : run.notes) {
            facts.put("note", note);
        }
    }
    put_events(html, run);
}

void put_limits(Html& html, const RunDocument& run) {
    html.element("h2", {{"id", "limits"}}, "Limits and where each came from");
    const std::vector<std::string_view> heads{"figure", "limit", "from", "under"};
    html.open("table", {{"class", "list"}});
    html.element("caption", "Limits that were applied");
    put_heads(html, heads);
    html.open("tbody");
    std::set<std::string> seen;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (!entry.rating || !seen.insert(entry.rating->id).second) {
                continue;
            }
            const RatedFigure& rated = *entry.rating;
            const double guide = rated.limit.at_most    ? *rated.limit.at_most
                                 : rated.limit.at_least ? *rated.limit.at_least
                                                        : 0.0;
            const ShownUnit unit = shown_unit(rated.figure, guide);
            std::vector<std::string> under;
            for (const std::string_view key : condition_keys()) {
                if (std::string part = condition_words(rated.conditions, key); !part.empty()) {
                    under.push_back(std::move(part));
                }
            }
            const bool house = rated.origin == RatedFigure::Origin::house;
            put_cells(html, heads,
                      {std::string{words(rated.figure)},
                       page(fmt::format("{} {}", limit_text(scaled(rated.limit, unit.factor)),
                                        unit.symbol)),
                       house ? std::string{"house rule; the maker states none"}
                             : fmt::format("rating sheet{}{}", rated.source.empty() ? "" : ", ",
                                           rated.source),
                       under.empty() ? std::string{"no condition stated"}
                                     : page(fmt::format("{}", fmt::join(under, ", ")))});
        }
    }
    html.close().close();
    if (!run.decision_rule.empty()) {
        html.open("p", {{"class", "rule"}});
        html.element("strong", "Decision rule. ");
        html.outside(page(run.decision_rule), 1200).close();
    }
}

void put_not_tested(Html& html, const RunDocument& run) {
    html.element("h2", {{"id", "not-tested"}}, "Not tested");
    if (run.not_tested.empty()) {
        html.element("p", run.retest ? "Everything that the sheet rates was tested, in this run or "
                                       "in the one that it is a retest of."
                                     : "Everything that the sheet rates was tested.");
    } else {
        html.open("ul");
        for (const std::string& part : run.not_tested) {
            html.open("li").outside(page(part), 200).close();
        }
        html.close();
    }
    if (run.retest && !run.retest->stands.empty()) {
        html.open("p").text("Not measured again, and as they were in run ");
        html.outside(run.retest->run, 80).text(":").close();
        html.open("ul");
        for (const FigureThatStands& figure : run.retest->stands) {
            html.open("li").outside(page(figure.label), 200).text(": ");
            html.outside(words_of(figure.verdict)).close();
        }
        html.close();
    }
}

void put_files(Html& html, const RunDocument& run) {
    html.element("h2", {{"id", "files"}}, "Files and versions");
    {
        Facts facts{html, "Versions"};
        facts.put("run", run.id);
        facts.put("built as", run.build);
        facts.put("started", stamp_text(run.started));
        facts.put("lasted", page(duration_words(run.lasted)));
        if (run.simulation) {
            facts.put("seeds", fmt::format("unit {}, rig {}, run {}", run.simulation->unit_seed,
                                           run.simulation->rig_seed, run.simulation->run_seed));
            for (const sequences::FaultEntry& fault : run.simulation->faults) {
                facts.put("simulated fault",
                          fmt::format("{}, {}, severity {}", words_of(fault.fault),
                                      name(fault.channel), plain(fault.severity, 3)));
            }
        }
        facts.put("records", run.records_kept ? "kept in this folder" : "not kept");
    }
    const std::vector<std::string_view> heads{"file", "what", "SHA-256"};
    html.open("table", {{"class", "list files"}});
    html.element("caption", "Files of this run");
    put_heads(html, heads);
    html.open("tbody");
    const auto row = [&](const std::string& path, const std::string& what, const std::string& sum) {
        html.open("tr");
        html.open("th", {{"scope", "row"}}).outside(path, 120).close();
        html.open("td", {{"data-head", "what"}}).outside(what, 40).close();
        html.open("td", {{"class", "hash"}, {"data-head", "SHA-256"}}).outside(sum, 64).close();
        html.close();
    };
    for (const UsedFile& file : run.files) {
        row(file.path, file.role, file.sha256);
    }
    for (const StepResult& step : run.steps) {
        for (const StoredRecord& record : step.records) {
            row(record.path, record.sound ? "record" : "record, not sound", record.sha256);
        }
    }
    html.close().close();
}

}  // namespace afterload::runner
