// Every fault of the simulated bench, one scenario each as data: which figures must fail and which
// must not. The files are fixtures/scenarios/*.scenario.yaml: the slow program takes all of them,
// the ordinary one every second.
#include "tests/scenarios/scenario.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <string>
#include <vector>

namespace afterload::test {
namespace {

class Scenarios : public testing::TestWithParam<std::string> {};

TEST_P(Scenarios, FailsWhatItMustAndNothingElse) {
    const Scenario scenario = read_scenario(GetParam());
    SCOPED_TRACE(scenario.name);
    const TemporaryFolder folder;
    const auto run = carry_out(scenario.run, folder.path());
    for (const std::string& objection : objections(scenario, run.document)) {
        ADD_FAILURE() << objection;
    }
}

std::string name_of_file(const testing::TestParamInfo<std::string>& info) {
    std::string name = std::filesystem::path{info.param}.filename().string();
    name = name.substr(0, name.find('.'));
    for (char& letter : name) {
        letter = letter == '-' ? '_' : letter;
    }
    return name;
}

std::vector<std::string> files() {
    std::vector<std::string> all = scenario_files();
#ifndef AFTERLOAD_ALL_SCENARIOS
    std::vector<std::string> some;
    for (std::size_t i = 0; i < all.size(); i += 2) {
        some.push_back(all[i]);
    }
    all = some;
#endif
    return all;
}

INSTANTIATE_TEST_SUITE_P(Files, Scenarios, testing::ValuesIn(files()), name_of_file);

}  // namespace
}  // namespace afterload::test
