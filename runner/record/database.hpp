/// SQLite as this program uses it; the one door to it.
///
/// One connection in one process writes (a lock beside the file holds others off), in WAL mode with
/// synchronous=FULL: what was said to be written is there after a power cut.
#pragma once

#include "runner/file_lock.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// What SQLite refused, in one line that begins with the file.
class DatabaseError : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

/// A prepared statement. Parameters count from 1, columns from 0.
class Statement {
public:
    Statement& bind(int parameter, std::string_view text);
    Statement& bind(int parameter, std::int64_t number);
    Statement& bind(int parameter, double number);
    /// True while there is a row. Throws DatabaseError.
    [[nodiscard]] bool step();
    /// Carries out a statement that gives no rows.
    void run();
    [[nodiscard]] std::string text(int column) const;
    [[nodiscard]] std::int64_t number(int column) const;
    [[nodiscard]] double real(int column) const;

private:
    friend class Database;
    struct Close {
        void operator()(void* statement) const;
    };
    Statement(void* statement, std::string path) : statement_{statement}, path_{std::move(path)} {}
    std::unique_ptr<void, Close> statement_;
    std::string path_;
};

class Database {
public:
    /// Opens or makes `path`. Throws DatabaseError when it is not a database of this program, is
    /// damaged, is of a later version of it, or is held by another process.
    explicit Database(const std::string& path);
    /// A database that another process writes meanwhile: what it committed, to be read. Throws
    /// DatabaseError when it is not there, or not of this program.
    [[nodiscard]] static Database to_read(const std::string& path);

    void execute(const std::string& statements);
    [[nodiscard]] Statement prepare(std::string_view statement);
    [[nodiscard]] int version();
    void set_version(int version);
    /// The key that the last row was given.
    [[nodiscard]] std::int64_t last_row() const;

private:
    Database() = default;
    struct CloseConnection {
        void operator()(void* connection) const;
    };
    /// Holds the open file to be ours and whole, and sets how it is written.
    void look_at();
    /// What a statement of one number gives; 0 when it gives none.
    [[nodiscard]] std::int64_t number(std::string_view statement);

    std::string path_;
    std::optional<FileLock> lock_;
    std::unique_ptr<void, CloseConnection> connection_;
};

/// Everything between is there after it, or nothing: rolled back unless commit() was called.
class Transaction {
public:
    explicit Transaction(Database& database) : database_{database} {
        database_.execute("BEGIN IMMEDIATE");
    }
    Transaction(const Transaction&) = delete;
    Transaction& operator=(const Transaction&) = delete;
    ~Transaction();
    void commit();

private:
    Database& database_;
    bool open_ = true;
};

}  // namespace afterload::runner
