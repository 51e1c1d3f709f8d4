/// Every quantity of a soak against its time: a point a minute, so that a night stays small.
#pragma once

#include "runner/papers/soak_document.hpp"

#include <map>
#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {

class SoakTrends {
public:
    /// One value; `unit` of the first one counts.
    void add(const std::string& quantity, int channel, const std::string& unit, double value);
    /// A minute is over, its middle was `at`.
    void close_minute(Seconds at);
    /// Where a quantity is flagged.
    void flag_at(const std::string& quantity, int channel, std::optional<double> high,
                 std::optional<double> low = std::nullopt);
    /// Those of an earlier segment go on.
    void go_on_from(std::vector<SoakTrend> earlier);

    /// In the order in which they first came; with the verdict of each when the soak is `over`.
    [[nodiscard]] std::vector<SoakTrend> all(bool over) const;

private:
    struct Minute {
        double sum = 0.0;
        double low = 0.0;
        double high = 0.0;
        long count = 0;
    };
    [[nodiscard]] std::size_t index_of(const std::string& quantity, int channel,
                                       const std::string& unit);

    std::vector<SoakTrend> trends_;
    std::vector<Minute> minutes_;
    std::map<std::pair<std::string, int>, std::size_t> places_;
};

}  // namespace afterload::runner
