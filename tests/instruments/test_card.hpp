/// The card of tests/support/test_card as a device of ALSA, and what is to go wrong with it.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <unistd.h>

namespace afterload::instruments::test {

/// Makes “testcard” known to ALSA and gives it its faults, one a line.
class TestCard {
public:
    explicit TestCard(const std::string& faults = "")
        : folder_{std::filesystem::temp_directory_path() /
                  ("afterload-test-card-" + std::to_string(getpid()))} {
        std::filesystem::create_directories(folder_);
        std::ofstream{folder_ / "asound.conf"}
            << "pcm_type.afterload_test { lib \"" AFTERLOAD_TEST_CARD_LIBRARY "\" }\n"
            << "pcm.testcard { type afterload_test }\n";
        std::ofstream{folder_ / "faults"} << faults;
        const std::string path = "/usr/share/alsa/alsa.conf:" + (folder_ / "asound.conf").string();
        // NOLINTBEGIN(concurrency-mt-unsafe): before any thread of the test
        setenv("ALSA_CONFIG_PATH", path.c_str(), 1);
        setenv("AFTERLOAD_TEST_CARD", (folder_ / "faults").c_str(), 1);
        // NOLINTEND(concurrency-mt-unsafe)
    }
    TestCard(const TestCard&) = delete;
    TestCard& operator=(const TestCard&) = delete;
    ~TestCard() { std::filesystem::remove_all(folder_); }

private:
    std::filesystem::path folder_;
};

}  // namespace afterload::instruments::test
