#include "runner/record/run_index.hpp"

#include "analysis/likeness.hpp"
#include "runner/papers/figure_json.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <sstream>
#include <tuple>
#include <type_traits>
#include <utility>

namespace afterload::runner {
namespace {

constexpr int newest_version = 2;
constexpr std::string_view run_columns =
    "id, folder, job, stage, state, verdict, started, ended, maker, model, serial, sequence, "
    "bench, failed, words, sha256, stamp";

[[noreturn]] void refuse_version(int version, const std::string& path) {
    throw DatabaseError(path + ": was written by a later version of afterload (" +
                        std::to_string(version) +
                        "); use that one, or move the "
                        "file away and run: afterload reindex");
}

/// A new file gets its tables, one of an earlier version new ones, which fill from the folders; one
/// of a later version is left alone.
void make_tables(Database& database, const std::string& path) {
    if (database.version() > newest_version) {
        refuse_version(database.version(), path);
    }
    if (database.version() < newest_version) {
        Transaction whole{database};
        database.execute(
            "DROP TABLE IF EXISTS run;"
            "CREATE TABLE run (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE,"
            " folder TEXT NOT NULL, job TEXT NOT NULL,"
            " stage TEXT NOT NULL, state TEXT NOT NULL, verdict TEXT NOT NULL,"
            " started TEXT NOT NULL, ended TEXT NOT NULL, maker TEXT NOT NULL,"
            " model TEXT NOT NULL, serial TEXT NOT NULL, sequence TEXT NOT NULL,"
            " bench TEXT NOT NULL, failed TEXT NOT NULL, words TEXT NOT NULL,"
            " sha256 TEXT NOT NULL, stamp TEXT NOT NULL, remarks INTEGER NOT NULL) STRICT;"
            "CREATE INDEX run_started ON run (started);"
            "CREATE INDEX run_serial ON run (serial);"
            "CREATE INDEX run_model ON run (model COLLATE NOCASE);"
            "CREATE TABLE point (number INTEGER PRIMARY KEY, kind TEXT NOT NULL,"
            " channel INTEGER NOT NULL, pair_from INTEGER NOT NULL, pair_to INTEGER NOT NULL,"
            " curve INTEGER NOT NULL, label TEXT NOT NULL, path TEXT NOT NULL,"
            " conditions TEXT NOT NULL) STRICT;"
            "CREATE TABLE reading (run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,"
            " point INTEGER NOT NULL REFERENCES point, nth INTEGER NOT NULL, value REAL NOT NULL,"
            " bound INTEGER NOT NULL, u_k1 REAL NOT NULL, verdict TEXT NOT NULL,"
            " PRIMARY KEY (run, point, nth)) STRICT, WITHOUT ROWID");
        database.set_version(newest_version);
        whole.commit();
    }
}

/// What the body throws of the database, as a value.
template <class Body>
auto answered(Body body) -> tl::expected<decltype(body()), std::string> {
    try {
        if constexpr (std::is_void_v<decltype(body())>) {
            body();
            return {};
        } else {
            return body();
        }
    } catch (const DatabaseError& error) {
        return tl::unexpected<std::string>(error.what());
    }
}

/// The columns of a line, in the order of `run_columns`.
constexpr std::array members{&IndexedRun::id,      &IndexedRun::folder, &IndexedRun::job,
                             &IndexedRun::stage,   &IndexedRun::state,  &IndexedRun::verdict,
                             &IndexedRun::started, &IndexedRun::ended,  &IndexedRun::maker,
                             &IndexedRun::model,   &IndexedRun::serial, &IndexedRun::sequence,
                             &IndexedRun::bench,   &IndexedRun::failed, &IndexedRun::words,
                             &IndexedRun::sha256,  &IndexedRun::stamp};
constexpr int column_count = static_cast<int>(members.size());

IndexedRun line_of(const Statement& statement, int from) {
    IndexedRun run;
    int at = from;
    for (const auto member : members) {
        run.*member = statement.text(at++);
    }
    run.remarks = static_cast<std::size_t>(statement.number(at));
    return run;
}

// A bound as the index writes it.
constexpr std::int64_t at_most = -1;
constexpr std::int64_t at_least = 1;

std::int64_t written(const std::optional<Bound::Side>& bound) {
    return !bound ? 0 : *bound == Bound::Side::at_most ? at_most : at_least;
}

std::optional<Bound::Side> bound_of(std::int64_t written) {
    if (written == 0) {
        return std::nullopt;
    }
    return written < 0 ? Bound::Side::at_most : Bound::Side::at_least;
}

/// Takes runs in, and finds for each figure the point at which others were measured alike.
class Intake {
public:
    Intake(Database& database, const NumberedPoints& points)
        : database_{database},
          forget_{database.prepare("DELETE FROM run WHERE id = ?1")},
          line_{database.prepare("INSERT INTO run (" + std::string{run_columns} +
                                 ", remarks) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11,"
                                 " ?12, ?13, ?14, ?15, ?16, ?17, ?18)")},
          point_{database.prepare("INSERT INTO point (kind, channel, pair_from, pair_to, label,"
                                  " path, conditions, curve) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7,"
                                  " ?8)")},
          reading_{database.prepare("INSERT INTO reading (run, point, nth, value, bound, u_k1,"
                                    " verdict) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)")} {
        for (const auto& [number, point] : points) {
            known_[key(point)].push_back({number, point.path, point.figure()});
        }
    }

    void put(const RunToIndex& run) {
        forget_.bind(1, run.line.id).run();
        int at = 0;
        for (const auto member : members) {
            line_.bind(++at, run.line.*member);
        }
        line_.bind(++at, static_cast<std::int64_t>(run.line.remarks)).run();
        const std::int64_t number = database_.last_row();
        std::map<std::int64_t, std::int64_t> times;
        for (const auto& [point, reading] : run.readings) {
            const std::int64_t of = number_of(point);
            reading_.bind(1, number)
                .bind(2, of)
                .bind(3, times[of]++)
                .bind(4, reading.value)
                .bind(5, written(reading.bound))
                .bind(6, reading.u_k1)
                .bind(7, reading.verdict)
                .run();
        }
    }

private:
    using Key = std::tuple<FigureKind, int, std::pair<int, int>>;
    struct Known {
        std::int64_t number;
        std::string path;
        Figure figure;
    };

    static Key key(const FigurePoint& point) {
        return {point.kind, point.channel, point.pair.value_or(std::pair{0, 0})};
    }

    std::int64_t number_of(const FigurePoint& point) {
        std::vector<Known>& alike = known_[key(point)];
        Figure figure = point.figure();
        for (const Known& one : alike) {
            if (one.path == point.path && analysis::same_point(one.figure, figure) &&
                analysis::unlike_conditions(one.figure, figure).empty()) {
                return one.number;
            }
        }
        const auto [from, to] = point.pair.value_or(std::pair{0, 0});
        point_.bind(1, name(point.kind))
            .bind(2, std::int64_t{point.channel})
            .bind(3, std::int64_t{from})
            .bind(4, std::int64_t{to})
            .bind(5, point.label)
            .bind(6, point.path)
            .bind(7, json_line(conditions_json(point.conditions)))
            .bind(8, std::int64_t{point.curve ? 1 : 0})
            .run();
        const std::int64_t number = database_.last_row();
        alike.push_back({number, point.path, std::move(figure)});
        return number;
    }

    Database& database_;
    Statement forget_;
    Statement line_;
    Statement point_;
    Statement reading_;
    std::map<Key, std::vector<Known>> known_;
};

/// One line of words: whose, and what.
void add_words(std::string& words, std::string_view whose, std::string_view what) {
    if (what.empty()) {
        return;
    }
    std::string line = fmt::format("{}: {}", whose, what);
    std::replace(line.begin(), line.end(), '\n', ' ');
    add_line(words, line);
}

std::string words_of(const RunDocument& run, const sequences::Job* job,
                     const std::vector<Remark>& remarks) {
    std::string words;
    if (job != nullptr) {
        add_words(words, "complaint", job->complaint);
        add_words(words, "cause", job->cause);
        for (const std::string& work : job->work) {
            add_words(words, "work", work);
        }
        for (const sequences::PartEntry& part : job->parts) {
            add_words(words, "part",
                      part.position + (part.part.empty() ? "" : " " + part.part) +
                          (part.reason.empty() ? "" : ", " + part.reason));
        }
        for (const std::string& note : job->notes) {
            add_words(words, "job", note);
        }
    }
    for (const StepResult& step : run.steps) {
        if (step.soak) {
            add_words(words, "cause", step.soak->cause);
        }
    }
    for (const std::string& note : run.notes) {
        add_words(words, "run", note);
    }
    for (const Remark& remark : remarks) {
        add_words(words, remark.by.empty() ? "somebody" : remark.by, remark.text);
    }
    return words;
}

/// A figure as a reading, where it has a number or a bound.
std::optional<IndexedReading> reading_of(const ScoredFigure& scored) {
    IndexedReading reading;
    if (scored.figure.bound) {
        reading.value = scored.figure.bound->value;
        reading.bound = scored.figure.bound->side;
    } else if (scored.figure.value) {
        reading.value = *scored.figure.value;
    } else {
        return std::nullopt;
    }
    reading.u_k1 = combined(scored.figure.budget);
    reading.verdict = scored.verdict ? name(scored.verdict->kind) : std::string_view{};
    return reading;
}

FigurePoint point_of(const ScoredFigure& scored, const std::string& path) {
    const Figure& figure = scored.figure;
    // The label of a response names its worst frequency, which differs from run to run.
    const bool response = figure.curve && unit_of(figure.kind) == Unit::decibel;
    return {figure.kind,
            figure.channel,
            figure.pair,
            response,
            response || scored.label.empty() ? std::string{words(figure.kind)} : scored.label,
            path,
            figure.conditions};
}

}  // namespace

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> all;
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) {
        all.push_back(line);
    }
    return all;
}

void add_line(std::string& text, std::string_view line) {
    if (!text.empty()) {
        text += '\n';
    }
    text += line;
}

Figure FigurePoint::figure() const {
    Figure made;
    made.kind = kind;
    made.channel = channel;
    made.pair = pair;
    made.conditions = conditions;
    if (curve) {
        made.curve.emplace();
    }
    return made;
}

RunToIndex to_index(const RunDocument& run, const std::string& folder, const std::string& sha256,
                    const sequences::Job* job, const std::vector<Remark>& remarks) {
    RunToIndex out;
    IndexedRun& line = out.line;
    line.id = run.id;
    line.folder = folder;
    line.job = run.job;
    line.stage = name(run.stage);
    line.state = name(run.state);
    line.verdict = name(run.verdict);
    line.started = run.started;
    line.ended = run.ended;
    line.maker = run.unit.maker;
    line.model = run.unit.model;
    line.serial = run.serial;
    line.sequence = run.sequence_name;
    line.bench = run.bench.name;
    line.sha256 = sha256;
    line.remarks = remarks.size();
    line.words = words_of(run, job, remarks);
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& scored : step.figures) {
            if (scored.verdict && scored.verdict->kind == analysis::VerdictKind::fail) {
                add_line(line.failed, scored.label);
            }
        }
    }
    for (const RowGroup& group : figure_rows(run)) {
        for (const FigureRow& row : group.rows) {
            for (const ScoredFigure* scored : row.figures()) {
                if (auto reading = reading_of(*scored)) {
                    out.readings.push_back({point_of(*scored, group.heading), *std::move(reading)});
                }
            }
        }
    }
    return out;
}

tl::expected<RunIndex, std::string> RunIndex::open(const std::string& path) {
    return answered([&] {
        Database database{path};
        make_tables(database, path);
        return RunIndex{std::move(database)};
    });
}

tl::expected<RunIndex, std::string> RunIndex::open_to_read(const std::string& path) {
    return answered([&] {
        Database database = Database::to_read(path);
        if (database.version() > newest_version) {
            refuse_version(database.version(), path);
        }
        if (database.version() < newest_version) {
            throw DatabaseError(path + ": is kept by an earlier version of afterload, which runs");
        }
        return RunIndex{std::move(database)};
    });
}

NumberedPoints RunIndex::points() {
    NumberedPoints found;
    auto statement = database_.prepare(
        "SELECT number, kind, channel, pair_from, pair_to, label, path, conditions, curve"
        " FROM point");
    while (statement.step()) {
        FigurePoint point;
        const auto kind = figure_kind(statement.text(1));
        const auto conditions = parse_json(statement.text(7));
        if (!kind || !conditions) {
            continue;  // of another version: no reading of ours falls on it
        }
        point.kind = *kind;
        point.channel = static_cast<int>(statement.number(2));
        if (statement.number(3) != 0) {
            point.pair = {static_cast<int>(statement.number(3)),
                          static_cast<int>(statement.number(4))};
        }
        point.label = statement.text(5);
        point.path = statement.text(6);
        point.curve = statement.number(8) != 0;
        try {
            point.conditions = get_conditions(JsonPlace{*conditions});
        } catch (const JsonMisfit&) {
            continue;
        }
        found.emplace(statement.number(0), std::move(point));
    }
    return found;
}

tl::expected<void, std::string> RunIndex::change(const std::function<void(const Put&)>& body,
                                                 bool anew) {
    return answered([&] {
        Transaction whole{database_};
        if (anew) {
            database_.execute("DELETE FROM reading; DELETE FROM point; DELETE FROM run");
        }
        std::optional<Intake> intake;  // most looks find nothing new: then no point is read
        body([&](const RunToIndex& run) {
            if (!intake) {
                intake.emplace(database_, points());
            }
            intake->put(run);
        });
        whole.commit();
    });
}

tl::expected<std::vector<IndexedRun>, std::string> RunIndex::find(const RunQuery& query) {
    return answered([&] {
        auto statement = database_.prepare(
            "SELECT " + std::string{run_columns} +
            ", remarks FROM run WHERE (?1 = '' OR job = ?1) AND (?2 = '' OR serial = ?2)"
            " AND (?3 = '' OR model = ?3 COLLATE NOCASE) AND (?4 = '' OR state = ?4)"
            " AND (?5 = '' OR verdict = ?5) AND started >= ?6"
            " AND (?7 = '' OR instr(lower(id || ' ' || job || ' ' || maker || ' ' || model || ' '"
            " || serial || ' ' || sequence || ' ' || failed || ' ' || words), lower(?7)) > 0)"
            " AND (?8 = '' OR stage = ?8) AND (?9 = '' OR substr(started, 1, length(?9)) <= ?9)"
            " AND (?10 = '' OR instr(lower(failed), lower(?10)) > 0)"
            " AND (?11 = '' OR instr(lower(words), lower(?11)) > 0)"
            " ORDER BY started DESC, id DESC LIMIT ?12");
        statement.bind(1, query.job)
            .bind(2, query.serial)
            .bind(3, query.model)
            .bind(4, query.state)
            .bind(5, query.verdict)
            .bind(6, query.since)
            .bind(7, query.text)
            .bind(8, query.stage)
            .bind(9, query.until)
            .bind(10, query.failed)
            .bind(11, query.said)
            .bind(12, std::int64_t{query.most});
        std::vector<IndexedRun> found;
        while (statement.step()) {
            found.push_back(line_of(statement, 0));
        }
        return found;
    });
}

tl::expected<std::map<std::string, std::string>, std::string> RunIndex::finished() {
    return answered([&] {
        auto statement = database_.prepare("SELECT id, stamp FROM run WHERE state <> 'running'");
        std::map<std::string, std::string> found;
        while (statement.step()) {
            found.emplace(statement.text(0), statement.text(1));
        }
        return found;
    });
}

tl::expected<FoundReadings, std::string> RunIndex::readings(const ReadingQuery& query) {
    return answered([&] {
        FoundReadings found;
        found.points = points();
        const std::string wanted =
            " WHERE (?1 = '' OR model = ?1 COLLATE NOCASE) AND (?2 = '' OR serial = ?2)"
            " AND (?3 = '' OR stage = ?3) AND state <> 'running'";
        auto runs =
            database_.prepare("SELECT " + std::string{run_columns} + ", remarks, number FROM run" +
                              wanted + (query.failed ? " AND failed <> ''" : ""));
        runs.bind(1, query.model).bind(2, query.serial).bind(3, query.stage);
        while (runs.step()) {
            found.runs.emplace(runs.number(column_count + 1), line_of(runs, 0));
        }
        auto readings = database_.prepare(
            "SELECT reading.point, reading.run, reading.value, reading.bound, reading.u_k1,"
            " reading.verdict FROM run CROSS JOIN reading ON reading.run = run.number" +
            wanted + (query.failed ? " AND failed <> '' AND reading.verdict = 'fail'" : "") +
            " ORDER BY run.started, run.id, reading.point, reading.nth");
        readings.bind(1, query.model).bind(2, query.serial).bind(3, query.stage);
        while (readings.step()) {
            found.readings.push_back({readings.number(0), readings.number(1), readings.real(2),
                                      bound_of(readings.number(3)), readings.real(4),
                                      readings.text(5)});
        }
        return found;
    });
}

}  // namespace afterload::runner
