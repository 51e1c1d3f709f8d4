#include "runner/record/run_index.hpp"

#include <array>
#include <cstdint>
#include <type_traits>
#include <utility>

namespace afterload::runner {
namespace {

constexpr int newest_version = 1;
constexpr std::string_view columns =
    "id, folder, job, stage, state, verdict, started, ended, maker, model, serial, sequence, "
    "failed, sha256";

/// A new file gets its tables; one of a later version is left alone.
void make_tables(Database& database, const std::string& path) {
    if (database.version() > newest_version) {
        throw DatabaseError(path + ": was written by a later version of afterload (" +
                            std::to_string(database.version()) +
                            "); use that one, or move the "
                            "file away and run: afterload reindex");
    }
    if (database.version() < 1) {
        Transaction whole{database};
        database.execute(
            "CREATE TABLE run (id TEXT PRIMARY KEY, folder TEXT NOT NULL, job TEXT NOT NULL,"
            " stage TEXT NOT NULL, state TEXT NOT NULL, verdict TEXT NOT NULL,"
            " started TEXT NOT NULL, ended TEXT NOT NULL, maker TEXT NOT NULL,"
            " model TEXT NOT NULL, serial TEXT NOT NULL, sequence TEXT NOT NULL,"
            " failed TEXT NOT NULL, sha256 TEXT NOT NULL) STRICT;"
            "CREATE INDEX run_started ON run (started);"
            "CREATE INDEX run_serial ON run (serial)");
        database.set_version(1);
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

/// The columns of a line, in the order of `columns`.
constexpr std::array members{&IndexedRun::id,      &IndexedRun::folder, &IndexedRun::job,
                             &IndexedRun::stage,   &IndexedRun::state,  &IndexedRun::verdict,
                             &IndexedRun::started, &IndexedRun::ended,  &IndexedRun::maker,
                             &IndexedRun::model,   &IndexedRun::serial, &IndexedRun::sequence,
                             &IndexedRun::failed,  &IndexedRun::sha256};

void insert(Database& database, const std::vector<IndexedRun>& runs) {
    auto statement =
        database.prepare("INSERT OR REPLACE INTO run (" + std::string{columns} +
                         ") VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)");
    for (const IndexedRun& run : runs) {
        int at = 0;
        for (const auto member : members) {
            statement.bind(++at, run.*member);
        }
        statement.run();
    }
}

}  // namespace

IndexedRun indexed(const RunDocument& run, const std::string& folder, const std::string& sha256) {
    IndexedRun line;
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
    line.sha256 = sha256;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& scored : step.figures) {
            if (scored.verdict && scored.verdict->kind == analysis::VerdictKind::fail) {
                line.failed += (line.failed.empty() ? "" : "\n") + scored.label;
            }
        }
    }
    return line;
}

tl::expected<RunIndex, std::string> RunIndex::open(const std::string& path) {
    return answered([&] {
        Database database{path};
        make_tables(database, path);
        return RunIndex{std::move(database)};
    });
}

tl::expected<void, std::string> RunIndex::put(const std::vector<IndexedRun>& runs) {
    return answered([&] {
        Transaction whole{database_};
        insert(database_, runs);
        whole.commit();
    });
}

tl::expected<std::vector<IndexedRun>, std::string> RunIndex::find(const RunQuery& query) {
    return answered([&] {
        auto statement = database_.prepare(
            "SELECT " + std::string{columns} +
            " FROM run WHERE (?1 = '' OR job = ?1) AND (?2 = '' OR serial = ?2)"
            " AND (?3 = '' OR model = ?3 COLLATE NOCASE) AND (?4 = '' OR state = ?4)"
            " AND (?5 = '' OR verdict = ?5) AND started >= ?6"
            " AND (?7 = '' OR instr(lower(id || ' ' || job || ' ' || maker || ' ' || model || ' '"
            " || serial || ' ' || sequence || ' ' || failed), lower(?7)) > 0)"
            " ORDER BY started DESC, id DESC LIMIT ?8");
        statement.bind(1, query.job)
            .bind(2, query.serial)
            .bind(3, query.model)
            .bind(4, query.state)
            .bind(5, query.verdict)
            .bind(6, query.since)
            .bind(7, query.text)
            .bind(8, std::int64_t{query.most});
        std::vector<IndexedRun> found;
        while (statement.step()) {
            IndexedRun run;
            int at = 0;
            for (const auto member : members) {
                run.*member = statement.text(at++);
            }
            found.push_back(std::move(run));
        }
        return found;
    });
}

tl::expected<std::set<std::string>, std::string> RunIndex::finished() {
    return answered([&] {
        auto statement = database_.prepare("SELECT id FROM run WHERE state <> 'running'");
        std::set<std::string> found;
        while (statement.step()) {
            found.insert(statement.text(0));
        }
        return found;
    });
}

tl::expected<void, std::string> RunIndex::replace_all(const std::vector<IndexedRun>& runs) {
    return answered([&] {
        Transaction whole{database_};
        database_.execute("DELETE FROM run");
        insert(database_, runs);
        whole.commit();
    });
}

}  // namespace afterload::runner
