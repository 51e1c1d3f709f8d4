#include "runner/power_search.hpp"

#include "analysis/harmonic.hpp"
#include "analysis/level.hpp"
#include "runner/level_steps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr double raise_db = 0.25;
constexpr double raise_far_db = 3.0;  // while the distortion is below a tenth of what is looked for
constexpr double lower_db = 1.0;
constexpr double lowest_db = -20.0;  // re the target: 1 % of its power
constexpr int halvings = 5;
constexpr double give_way_db = 0.1;

/// One channel's search, in decibels re the drive at which the target was reached.
struct Search {
    bool active = false;
    double start_drive = 0.0;
    double good = 0.0;  ///< highest drive known to be within the distortion
    double bad = 0.0;   ///< lowest drive known to be beyond it
    bool good_known = false;
    bool bad_known = false;
    bool capped = false;  ///< the largest output or drive allowed was reached first
    double now = 0.0;
    double output = 0.0;
    double thd = 0.0;     ///< of the last look
    bool within = false;  ///< what the last look said
    // The two looks nearest to the limit, for the slope between them.
    double good_thd = 0.0;
    double bad_thd = 0.0;
    double bad_at = 0.0;
    double good_at = 0.0;

    [[nodiscard]] double drive() const { return start_drive * ratio(now); }
};

/// THD of a look, or infinity where nothing can be seen.
double distortion_of(const std::optional<analysis::ToneFit>& fit) {
    if (!fit) {
        return std::numeric_limits<double>::infinity();
    }
    const auto thd =
        analysis::total_harmonic_distortion(*fit, {20, analysis::default_upper_edge(fit->rate)});
    return thd ? thd->ratio.value : std::numeric_limits<double>::infinity();
}

/// Relative change of distortion for a relative change of level, between the two looks nearest to
/// the limit; 0 where the limit was never met.
double slope_of(const Search& search) {
    const bool both = search.good_known && search.bad_known && search.good_thd > 0.0 &&
                      std::isfinite(search.bad_thd) && search.bad_at > search.good_at;
    return both ? std::log(search.bad_thd / search.good_thd) /
                      std::log(ratio(search.bad_at - search.good_at))
                : 0.0;
}

class PowerSearch {
public:
    PowerSearch(Driver& driver, LevelFinder& finder, const PowerSearchRequest& request)
        : driver_{driver}, finder_{finder}, request_{request} {}

    void start(const LevelReached& reached) {
        for (std::size_t c = 0; c < 2; ++c) {
            searches_[c].active = reached.drive[c] > 0.0 && reached.seen[c];
            searches_[c].start_drive = reached.drive[c];
            searches_[c].output = reached.output[c];
            idle_drive_[c] = searches_[c].active ? 0.0 : reached.drive[c];
        }
    }

    /// Plays the levels as they stand and looks at the distortion.
    Task<RunResult<void>> look() {
        ToneDrive drive{request_.level.frequency, {0.0, 0.0}};
        ExpectedOutput expected{};
        for (std::size_t c = 0; c < 2; ++c) {
            drive.volts[c] = searches_[c].active ? searches_[c].drive() : idle_drive_[c];
            expected[c] = drive.volts[c] *
                          finder_.known_gain(request_.level.path, c, request_.level.frequency);
        }
        const auto played = co_await driver_.play(drive, expected);
        if (!played) {
            co_return played;
        }
        const auto waited = co_await driver_.wait(request_.level.settle);
        if (!waited) {
            co_return waited;
        }
        const auto seen = co_await judge();
        co_return seen;
    }

    /// Looks at the distortion under the drive that is on.
    Task<RunResult<void>> judge() {
        auto fits =
            co_await finder_.look(request_.level.frequency, request_.level.mains, search_look);
        if (!fits) {
            co_return tl::unexpected(fits.error());
        }
        for (std::size_t c = 0; c < 2; ++c) {
            Search& search = searches_[c];
            if (!search.active) {
                continue;
            }
            const auto& fit = (*fits)[c];
            search.output = fit ? fit->fundamental.amplitude / std::numbers::sqrt2 : 0.0;
            search.thd = distortion_of(fit);
            search.within = search.thd <= request_.thd;
            if (search.within) {
                search.good_thd = search.thd;
                search.good_at = search.now;
                search.good = search.good_known ? std::max(search.good, search.now) : search.now;
                search.good_known = true;
            } else {
                search.bad_thd = search.thd;
                search.bad_at = search.now;
                search.bad = search.bad_known ? std::min(search.bad, search.now) : search.now;
                search.bad_known = true;
            }
        }
        co_return RunResult<void>{};
    }

    /// Moves every channel that is still coarse; false when none is.
    bool step_coarse() {
        bool moved = false;
        for (std::size_t c = 0; c < 2; ++c) {
            Search& search = searches_[c];
            if (!search.active || search.capped || (search.good_known && search.bad_known)) {
                continue;
            }
            if (search.within) {
                const bool far = request_.drive_at_most < std::numeric_limits<double>::infinity() &&
                                 search.thd < 0.1 * request_.thd;
                const double raise = far ? raise_far_db : raise_db;
                if (search.output * ratio(raise) > request_.at_most[c] ||
                    search.drive() * ratio(raise) > request_.drive_at_most ||
                    at_the_end(search, raise)) {
                    search.capped = true;
                    continue;
                }
                search.now += raise;
            } else {
                if (search.now - lower_db < lowest_db) {
                    search.active = false;
                    idle_drive_[c] = search.drive();
                    continue;
                }
                search.now -= lower_db;
            }
            moved = true;
        }
        return moved;
    }

    bool step_fine() {
        bool moved = false;
        for (Search& search : searches_) {
            if (search.active && !search.capped && search.good_known && search.bad_known) {
                search.now = 0.5 * (search.good + search.bad);
                moved = true;
            }
        }
        return moved;
    }

    void back_to_good() {
        for (Search& search : searches_) {
            if (search.active && search.good_known) {
                search.now = search.good;
            }
        }
    }

    /// False when every channel is within the distortion.
    bool give_way() {
        bool moved = false;
        for (Search& search : searches_) {
            if (search.active && !search.within) {
                search.now -= give_way_db;
                search.good = search.now;
                moved = true;
            }
        }
        return moved;
    }

    void write_to(LevelReached& reached) const {
        for (std::size_t c = 0; c < 2; ++c) {
            const Search& search = searches_[c];
            if (search.start_drive <= 0.0) {
                continue;
            }
            reached.drive[c] = search.active ? search.drive() : idle_drive_[c];
            reached.output[c] = search.output;
            reached.reached[c] = search.active && search.within;
            reached.distortion_slope = std::max(reached.distortion_slope, slope_of(search));
            const double target = request_.level.target[c];
            const bool at_its_end = search.within && at_the_end(search, raise_db);
            reached.short_of_level[c] = at_its_end && search.output < target * ratio(reached_db)
                                            ? short_of(search.drive(), search.output, target)
                                            : std::string{};
            if (!search.active && reached.seen[c]) {
                reached.findings.push_back(fmt::format(
                    "{}: the distortion stays over {:.3g} % down to a hundredth of the rated power",
                    side_of(c), 100.0 * request_.thd));
            }
        }
    }

private:
    /// Is a raise more than the drive that there is?
    [[nodiscard]] bool at_the_end(const Search& search, double raise) const {
        return search.drive() * ratio(raise) > driver_.largest_drive();
    }

    Driver& driver_;
    LevelFinder& finder_;
    const PowerSearchRequest& request_;
    std::array<Search, 2> searches_;
    std::array<double, 2> idle_drive_{0.0, 0.0};
};

}  // namespace

Task<RunResult<LevelReached>> largest_at_distortion(Driver& driver, LevelFinder& finder,
                                                    PowerSearchRequest request) {
    auto reached = co_await finder.reach(request.level);
    if (!reached) {
        co_return reached;
    }
    PowerSearch search{driver, finder, request};
    search.start(*reached);
    auto looked = co_await search.judge();
    if (!looked) {
        co_return tl::unexpected(looked.error());
    }
    constexpr int most_coarse = most_search_looks - halvings - 2 * most_search_holds;
    for (int coarse = 0; coarse < most_coarse && search.step_coarse(); ++coarse) {
        looked = co_await search.look();
        if (!looked) {
            co_return tl::unexpected(looked.error());
        }
    }
    for (int halving = 0; halving < halvings && search.step_fine(); ++halving) {
        looked = co_await search.look();
        if (!looked) {
            co_return tl::unexpected(looked.error());
        }
    }
    search.back_to_good();
    looked = co_await search.look();
    if (!looked) {
        co_return tl::unexpected(looked.error());
    }
    for (int times = 0; times < most_search_holds; ++times) {
        const auto held = co_await driver.wait(request.dwell);
        if (!held) {
            co_return tl::unexpected(held.error());
        }
        reached->held += request.dwell;
        looked = co_await search.judge();
        if (!looked) {
            co_return tl::unexpected(looked.error());
        }
        if (!search.give_way()) {
            break;
        }
        looked = co_await search.look();
        if (!looked) {
            co_return tl::unexpected(looked.error());
        }
    }
    search.write_to(*reached);
    co_return reached;
}

}  // namespace afterload::runner
