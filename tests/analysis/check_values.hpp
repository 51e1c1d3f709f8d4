/// Tables of published or derived values that tests compare against (fixtures/check-values).
#pragma once

#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace afterload::analysis::test {

/// One row by column name. Empty cells stand as empty text.
class CheckRow {
public:
    explicit CheckRow(std::map<std::string, std::string> cells) : cells_{std::move(cells)} {}
    [[nodiscard]] const std::string& text(const std::string& column) const {
        return cells_.at(column);
    }
    [[nodiscard]] double number(const std::string& column) const {
        return std::stod(cells_.at(column));
    }

private:
    std::map<std::string, std::string> cells_;
};

/// Rows of fixtures/check-values/`name`; lines that begin with # name the source.
inline std::vector<CheckRow> check_values(const std::string& name) {
    std::ifstream file{std::string{AFTERLOAD_SOURCE_DIR} + "/fixtures/check-values/" + name};
    if (!file) {
        throw std::runtime_error{"no table " + name};
    }
    const auto split = [](const std::string& line) {
        std::vector<std::string> cells;
        std::istringstream stream{line};
        for (std::string cell; std::getline(stream, cell, ',');) {
            cells.push_back(cell);
        }
        return cells;
    };
    std::vector<std::string> columns;
    std::vector<CheckRow> rows;
    for (std::string line; std::getline(file, line);) {
        if (line.empty() || line.front() == '#') {
            continue;
        }
        const std::vector<std::string> cells = split(line);
        if (columns.empty()) {
            columns = cells;
            continue;
        }
        std::map<std::string, std::string> row;
        for (std::size_t i = 0; i < columns.size(); ++i) {
            row[columns[i]] = i < cells.size() ? cells[i] : std::string{};
        }
        rows.emplace_back(std::move(row));
    }
    return rows;
}

}  // namespace afterload::analysis::test
