// Every fault of the simulated bench, one scenario each as data: which figures must fail and which
// must not. The files are fixtures/scenarios/*.scenario.yaml.
#include "tests/scenarios/scenario.hpp"

#include <gtest/gtest.h>

#include <filesystem>

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

INSTANTIATE_TEST_SUITE_P(Files, Scenarios, testing::ValuesIn(scenario_files()), name_of_file);

}  // namespace
}  // namespace afterload::test
