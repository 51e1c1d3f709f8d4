// The folder of a run is held while the run goes on: who reads the record tells a run that goes on
// from one that was interrupted by this lock alone.
#include "runner/run_folder.hpp"

#include "tests/support/simulated_run.hpp"

#include <gtest/gtest.h>

#include <cerrno>
#include <filesystem>
#include <string>
#include <sys/resource.h>
#include <system_error>

namespace afterload::test {
namespace {

using runner::RunFolder;

/// No further file can be opened while this lives.
class NoDescriptors {
public:
    NoDescriptors() {
        EXPECT_EQ(getrlimit(RLIMIT_NOFILE, &before_), 0);
        rlimit none = before_;
        none.rlim_cur = 0;
        EXPECT_EQ(setrlimit(RLIMIT_NOFILE, &none), 0);
    }
    ~NoDescriptors() { EXPECT_EQ(setrlimit(RLIMIT_NOFILE, &before_), 0); }
    NoDescriptors(const NoDescriptors&) = delete;
    NoDescriptors& operator=(const NoDescriptors&) = delete;

private:
    rlimit before_{};
};

TEST(RunFolder, ThatIsMadeCanBeTakenUpOnlyWhenItIsLetGo) {
    const TemporaryFolder parent;
    auto made = RunFolder::make(parent.path(), "one");
    ASSERT_TRUE(made) << made.error();
    ASSERT_TRUE(made->write("run.json", "{}"));
    const std::string path = made->path();
    const auto second = RunFolder::take_up(path);
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error(), path + ": its run is being carried out");
    made = tl::unexpected(std::string{});
    EXPECT_TRUE(RunFolder::take_up(path));
}

TEST(RunFolder, ThatCannotBeLockedIsRefusedAndNothingIsRunInIt) {
    const TemporaryFolder parent;
    // A sanitizer that meets an object for the first time looks at it with descriptors of its own.
    const std::error_code seen{EMFILE, std::generic_category()};
    ASSERT_FALSE(runner::FileLock::is_held(seen));
    ASSERT_EQ(seen.message(), "Too many open files");
    const auto refused = [&] {
        const NoDescriptors none;
        return RunFolder::make(parent.path(), "one");
    }();
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().find("/one: cannot be locked: Too many open files; "),
              std::string::npos)
        << refused.error();
    EXPECT_FALSE(std::filesystem::exists(parent.path() + "/one"));
}

}  // namespace
}  // namespace afterload::test
