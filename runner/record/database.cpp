#include "runner/record/database.hpp"

#include <sqlite3.h>

namespace afterload::runner {
namespace {

/// "afld", so that another program's database is not taken for ours.
constexpr int application = 0x61666C64;

constexpr const char* remedy =
    "The runs themselves are in their folders: move this file away and run: afterload reindex";

sqlite3* of(void* connection) {
    return static_cast<sqlite3*>(connection);
}

sqlite3_stmt* statement_of(void* statement) {
    return static_cast<sqlite3_stmt*>(statement);
}

}  // namespace

void Statement::Close::operator()(void* statement) const {
    sqlite3_finalize(statement_of(statement));
}

Statement& Statement::bind(int parameter, std::string_view text) {
    sqlite3_bind_text(statement_of(statement_.get()), parameter, text.data(),
                      static_cast<int>(text.size()), SQLITE_TRANSIENT);
    return *this;
}

Statement& Statement::bind(int parameter, std::int64_t number) {
    sqlite3_bind_int64(statement_of(statement_.get()), parameter, number);
    return *this;
}

Statement& Statement::bind(int parameter, double number) {
    sqlite3_bind_double(statement_of(statement_.get()), parameter, number);
    return *this;
}

bool Statement::step() {
    sqlite3_stmt* statement = statement_of(statement_.get());
    const int result = sqlite3_step(statement);
    if (result == SQLITE_ROW) {
        return true;
    }
    if (result != SQLITE_DONE) {
        throw DatabaseError(path_ + ": " + sqlite3_errmsg(sqlite3_db_handle(statement)));
    }
    return false;
}

void Statement::run() {
    while (step()) {
    }
    sqlite3_reset(statement_of(statement_.get()));
}

std::string Statement::text(int column) const {
    sqlite3_stmt* statement = statement_of(statement_.get());
    const auto* bytes = sqlite3_column_text(statement, column);
    const int length = sqlite3_column_bytes(statement, column);
    return bytes == nullptr
               ? std::string{}
               // NOLINTNEXTLINE(cppcoreguidelines-pro-type-reinterpret-cast): as SQLite gives it
               : std::string{reinterpret_cast<const char*>(bytes),
                             static_cast<std::size_t>(length)};
}

std::int64_t Statement::number(int column) const {
    return sqlite3_column_int64(statement_of(statement_.get()), column);
}

double Statement::real(int column) const {
    return sqlite3_column_double(statement_of(statement_.get()), column);
}

void Database::CloseConnection::operator()(void* connection) const {
    sqlite3_close_v2(of(connection));
}

Database::Database(const std::string& path) : path_{path} {
    // Somebody who only asks is soon done.
    constexpr std::chrono::seconds patience{5};
    auto lock = FileLock::of_file(path + ".lock", patience);
    if (!lock) {
        throw DatabaseError(FileLock::is_held(lock.error())
                                ? path +
                                      ": another program has the record open; ask again when it "
                                      "is done"
                                : path + ".lock: " + lock.error().message());
    }
    lock_ = *std::move(lock);
    sqlite3* connection = nullptr;
    const int opened = sqlite3_open_v2(path.c_str(), &connection,
                                       SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
    connection_.reset(connection);
    if (opened != SQLITE_OK) {
        throw DatabaseError(path + ": " + sqlite3_errstr(opened));
    }
    sqlite3_db_config(connection, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    try {
        look_at();
    } catch (const DatabaseError& error) {
        const int kind = sqlite3_errcode(connection);
        if (kind == SQLITE_CORRUPT || kind == SQLITE_NOTADB) {
            throw DatabaseError(std::string{error.what()} + ". " + remedy);
        }
        throw;
    }
}

Database Database::to_read(const std::string& path) {
    Database database;
    database.path_ = path;
    sqlite3* connection = nullptr;
    const int opened = sqlite3_open_v2(path.c_str(), &connection, SQLITE_OPEN_READONLY, nullptr);
    database.connection_.reset(connection);
    if (opened != SQLITE_OK) {
        throw DatabaseError(path + ": " + sqlite3_errstr(opened));
    }
    sqlite3_busy_timeout(connection, 2000);
    database.execute("PRAGMA trusted_schema=0; PRAGMA query_only=1");
    if (database.number("PRAGMA application_id") != application) {
        throw DatabaseError(path + ": is another program's database");
    }
    return database;
}

void Database::look_at() {
    sqlite3_busy_timeout(of(connection_.get()), 2000);
    execute("PRAGMA trusted_schema=0; PRAGMA cell_size_check=1; PRAGMA foreign_keys=1");
    const bool owned = number("PRAGMA application_id") == application;
    const bool empty = number("SELECT count(*) FROM sqlite_schema") == 0;
    if (!owned && !empty) {
        throw DatabaseError(path_ + ": is another program's database; nothing was changed in it");
    }
    execute("PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL");
    if (!owned) {
        execute("PRAGMA application_id=" + std::to_string(application));
    }
    auto sound = prepare("PRAGMA quick_check(1)");
    if (!sound.step() || sound.text(0) != "ok") {
        throw DatabaseError(path_ + ": is damaged. " + remedy);
    }
}

void Database::execute(const std::string& statements) {
    char* message = nullptr;
    const int result =
        sqlite3_exec(of(connection_.get()), statements.c_str(), nullptr, nullptr, &message);
    if (result != SQLITE_OK) {
        const std::string what = message == nullptr ? sqlite3_errstr(result) : message;
        sqlite3_free(message);
        throw DatabaseError(path_ + ": " + what);
    }
}

Statement Database::prepare(std::string_view statement) {
    sqlite3_stmt* made = nullptr;
    const int result = sqlite3_prepare_v2(of(connection_.get()), statement.data(),
                                          static_cast<int>(statement.size()), &made, nullptr);
    if (result != SQLITE_OK) {
        throw DatabaseError(path_ + ": " + sqlite3_errmsg(of(connection_.get())));
    }
    return {made, path_};
}

std::int64_t Database::number(std::string_view statement) {
    auto asked = prepare(statement);
    return asked.step() ? asked.number(0) : 0;
}

int Database::version() {
    return static_cast<int>(number("PRAGMA user_version"));
}

void Database::set_version(int version) {
    execute("PRAGMA user_version=" + std::to_string(version));
}

std::int64_t Database::last_row() const {
    return sqlite3_last_insert_rowid(of(connection_.get()));
}

Transaction::~Transaction() {
    if (!open_) {
        return;
    }
    try {
        database_.execute("ROLLBACK");
    } catch (const DatabaseError&) {
        // SQLite rolls a broken transaction back by itself; a second time is refused.
        open_ = false;
    }
}

void Transaction::commit() {
    database_.execute("COMMIT");
    open_ = false;
}

}  // namespace afterload::runner
