/// How often an uncertainty holds, counted over many draws.
#pragma once

#include "tests/analysis/bench_and_fit.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <map>
#include <string>

namespace afterload::analysis::test {

inline constexpr int draws = 2000;

/// Counts by name how often a figure held its truth.
class Count {
public:
    void add(const std::string& name, const Figure& figure, double truth) {
        EXPECT_TRUE(figure.unresolved.empty()) << name << ": " << figure.unresolved;
        held_[name] += holds(figure, truth) ? 1 : 0;
        ++of_[name];
    }

    void expect(double least, double most) const {
        for (const auto& [name, held] : held_) {
            const double share = static_cast<double>(held) / of_.at(name);
            std::printf("%-28s %.1f %%\n", name.c_str(), 100.0 * share);
            EXPECT_EQ(of_.at(name), draws) << name;
            EXPECT_GE(share, least) << name;
            // What the gain may do over the last step is no noise.
            EXPECT_LE(share, name == "input sensitivity" ? 1.0 : most) << name;
        }
    }

private:
    std::map<std::string, int> held_;
    std::map<std::string, int> of_;
};

/// The shop's bench with nothing off.
inline BenchShare without_errors() {
    BenchShare perfect = shop_bench();
    perfect.level_u_k1 = perfect.balance_u_k1 = perfect.drive_u_k1 = 0.0;
    perfect.load_u_k1 = perfect.load_heat_u_k1 = 0.0;
    return perfect;
}

}  // namespace afterload::analysis::test
