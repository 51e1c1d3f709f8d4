#include "analysis/event_names.hpp"

#include "analysis/soak/reaction.hpp"
#include "analysis/watch_event.hpp"

#include <gtest/gtest.h>

#include <set>
#include <string_view>

namespace afterload::analysis {
namespace {

template <class Kind>
void add_up_to(Kind last, std::set<std::string_view>& all) {
    for (int kind = 0; kind <= static_cast<int>(last); ++kind) {
        all.insert(name(static_cast<Kind>(kind)));
    }
}

TEST(EventNames, AreThoseOfWhatIsWatchedLimitedAndReportedEachOnce) {
    std::set<std::string_view> made{mains_event, sensor_event, temperature_event};
    add_up_to(WatchEvent::Kind::distortion, made);
    add_up_to(SoakQuantity::events_an_hour, made);
    add_up_to(BenchNews::Kind::wall_clock_jumped, made);
    const auto& names = event_names();
    EXPECT_EQ(std::set<std::string_view>(names.begin(), names.end()), made);
    EXPECT_EQ(names.size(), made.size());
}

}  // namespace
}  // namespace afterload::analysis
