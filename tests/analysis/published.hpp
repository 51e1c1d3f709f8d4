/// Checks against published values, told to a table when somebody asks for one.
#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <iomanip>
#include <string>

namespace afterload::analysis::test {

/// Expects `computed` within `tolerance` of the published `reference`. With AFTERLOAD_PUBLISHED in
/// the environment the check is added to the file of that name: source, check, reference, computed,
/// tolerance, between tabs (tests/outside/published_test.py makes the table from it).
inline void expect_published(const std::string& source, const std::string& check, double computed,
                             double reference, double tolerance) {
    EXPECT_NEAR(computed, reference, tolerance) << source << ": " << check;
    const char* const path = std::getenv("AFTERLOAD_PUBLISHED");
    if (path != nullptr) {
        std::ofstream file{path, std::ios::app};
        file << std::setprecision(17) << source << '\t' << check << '\t' << reference << '\t'
             << computed << '\t' << tolerance << '\n';
    }
}

}  // namespace afterload::analysis::test
