#include "runner/papers/run_json.hpp"

#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace afterload::runner {
namespace {

using testing::HasSubstr;

std::string replaced(std::string text, const std::string& what, const std::string& with) {
    const std::size_t at = text.find(what);
    EXPECT_NE(at, std::string::npos) << what;
    return text.replace(at, what.size(), with);
}

TEST(RunJson, ReadsBackToTheSameText) {
    RunDocument transformer = passing_run();
    transformer.unit.output_transformer = true;
    for (const RunDocument& run : {sample_run(), transformer, received_run()}) {
        const std::string text = run_json_text(run);
        const auto back = read_run_json(text);
        ASSERT_TRUE(back) << back.error();
        EXPECT_EQ(run_json_text(*back), text);
    }
}

TEST(RunJson, ReadsBackToTheSameValues) {
    const RunDocument run = sample_run();
    const auto back = read_run_json(run_json_text(run));
    ASSERT_TRUE(back) << back.error();
    ASSERT_EQ(back->steps.size(), run.steps.size());
    for (std::size_t s = 0; s < run.steps.size(); ++s) {
        ASSERT_EQ(back->steps[s].figures.size(), run.steps[s].figures.size());
        for (std::size_t f = 0; f < run.steps[s].figures.size(); ++f) {
            const ScoredFigure& a = run.steps[s].figures[f];
            const ScoredFigure& b = back->steps[s].figures[f];
            EXPECT_EQ(a.id, b.id);
            EXPECT_EQ(a.figure.value, b.figure.value);
            EXPECT_EQ(a.figure.conditions, b.figure.conditions);
            EXPECT_EQ(a.figure.rig_added, b.figure.rig_added);
            EXPECT_EQ(a.figure.assumed, b.figure.assumed);
            EXPECT_EQ(combined(a.figure.budget), combined(b.figure.budget));
            EXPECT_EQ(a.rating.has_value(), b.rating.has_value());
            if (a.rating && b.rating) {
                EXPECT_EQ(a.rating->limit, b.rating->limit);
                EXPECT_EQ(a.rating->origin, b.rating->origin);
            }
            ASSERT_EQ(a.verdict.has_value(), b.verdict.has_value());
            if (a.verdict) {
                EXPECT_EQ(a.verdict->kind, b.verdict->kind);
                EXPECT_EQ(a.verdict->margin, b.verdict->margin);
                EXPECT_EQ(a.verdict->reason, b.verdict->reason);
            }
            EXPECT_EQ(a.figure.details, b.figure.details);
        }
    }
    EXPECT_EQ(back->verdict, run.verdict);
    EXPECT_EQ(back->counts, run.counts);
    EXPECT_EQ(back->bench.simulated->faults.front().begins, Seconds{12.5});
}

TEST(RunJson, DoublesSurviveToTheLastBit) {
    RunDocument run = sample_run();
    Figure& figure = run.steps[1].figures[0].figure;
    for (const double value : {0.1, 1.0 / 3.0, 5e-324, 1.7976931348623157e308, -2.5e-17,
                               123456789.0, std::nextafter(1.0, 2.0)}) {
        figure.value = value;
        const auto back = read_run_json(run_json_text(run));
        ASSERT_TRUE(back) << back.error();
        EXPECT_EQ(back->steps[1].figures[0].figure.value, value);
    }
}

TEST(RunJson, HoldsNoNumberThatIsNotFinite) {
    RunDocument run = sample_run();
    run.steps[1].figures[0].figure.details = {{"odd", std::numeric_limits<double>::quiet_NaN()},
                                              {"odder", std::numeric_limits<double>::infinity()}};
    run.steps[1].records[0].driven.heat_sink = std::numeric_limits<double>::quiet_NaN();
    const std::string text = run_json_text(run);
    EXPECT_THAT(text, testing::Not(HasSubstr("nan")));
    EXPECT_THAT(text, testing::Not(HasSubstr("inf,")));
    EXPECT_THAT(text, HasSubstr(R"("heat_sink_degc": null)"));
    const auto back = read_run_json(text);
    ASSERT_TRUE(back) << back.error();
    EXPECT_TRUE(std::isnan(back->steps[1].records[0].driven.heat_sink));
}

TEST(RunJson, UnlimitedDegreesOfFreedomAreNull) {
    const Json json = run_json(sample_run());
    const Json& budget = json["steps"][1]["figures"][0]["budget"];
    EXPECT_EQ(budget[0]["dof"], 38.0);
    EXPECT_THAT(run_json_text(sample_run()), HasSubstr(R"("dof": null)"));
    const auto back = read_run_json(run_json_text(sample_run()));
    ASSERT_TRUE(back) << back.error();
    EXPECT_TRUE(std::isinf(back->steps[1].figures[0].figure.budget[1].degrees_of_freedom));
}

TEST(RunJson, StatesWhatTheContractNames) {
    const Json json = run_json(sample_run());
    EXPECT_EQ(json["schema"], "afterload/run/1");
    EXPECT_EQ(json["stage"], "repaired");
    EXPECT_EQ(json["state"], "done");
    EXPECT_EQ(json["seeds"]["unit"], 7);
    EXPECT_EQ(json["seeds"]["rig"], 1);
    EXPECT_EQ(json["seeds"]["run"], 42);
    EXPECT_EQ(json["verdict"], "fail");
    const Json& figure = json["steps"][1]["figures"][0];
    for (const char* key :
         {"id", "figure", "channel", "value", "unit", "u_k1", "u_k2", "rig_added", "rig_cancelled",
          "conditions", "budget", "rating", "verdict", "margin", "reason"}) {
        EXPECT_TRUE(figure.contains(key)) << key;
    }
    EXPECT_EQ(figure["unit"], "1");
    EXPECT_EQ(figure["conditions"]["output_level"], "50 mW");
    EXPECT_EQ(figure["conditions"]["load_ohm"], 8.0);
    EXPECT_EQ(figure["rating"]["origin"], "page 3");
    EXPECT_EQ(figure["rating"]["limit"]["at_most"], 0.0005);
}

TEST(RunJson, BoundHasNoValue) {
    const Json json = run_json(sample_run());
    bool seen = false;
    for (const Json& figure : json["steps"][5]["figures"]) {
        if (figure.contains("bound") && figure["figure"] == "thd") {
            seen = true;
            EXPECT_TRUE(figure["value"].is_null());
            EXPECT_EQ(figure["bound_is"], "at_most");
        }
    }
    EXPECT_TRUE(seen);
}

TEST(RunJson, TornFileIsCalledTorn) {
    const std::string text = run_json_text(sample_run());
    for (const double part : {0.999, 0.5, 0.1}) {
        const auto back =
            read_run_json(text.substr(0, static_cast<std::size_t>(part * double(text.size()))));
        ASSERT_FALSE(back);
        EXPECT_THAT(back.error(), HasSubstr("torn: the text ends at line"));
    }
    EXPECT_THAT(read_run_json("").error(), HasSubstr("empty"));
    EXPECT_THAT(read_run_json(" \n").error(), HasSubstr("empty"));
}

TEST(RunJson, MistakeIsNamedWithItsPlace) {
    const std::string text = run_json_text(sample_run());
    EXPECT_THAT(read_run_json(replaced(text, R"("state": "done")", R"("state": "fine")")).error(),
                HasSubstr("state: \"fine\" is not known here"));
    EXPECT_THAT(read_run_json(replaced(text, R"("bits": 24)", R"("bits": "24")")).error(),
                HasSubstr("bench.card.bits: a whole number is needed, found text"));
    EXPECT_THAT(read_run_json(replaced(text, "afterload/run/1", "afterload/run/2")).error(),
                HasSubstr("this program reads \"afterload/run/1\""));
    EXPECT_THAT(read_run_json(replaced(text, R"("started_s": )", R"("startd_s": )")).error(),
                HasSubstr("steps[0]: \"started_s\" is missing"));
    EXPECT_THAT(read_run_json("[1, 2]").error(), HasSubstr("an object is needed, found a list"));
    EXPECT_THAT(read_run_json("{\"schema\": oops}").error(), HasSubstr("not JSON at line 1"));
}

TEST(RunJson, EditedVerdictIsRefused) {
    const std::string text = run_json_text(sample_run());
    const std::size_t at = text.find("\n  \"verdict\": \"fail\"");
    ASSERT_NE(at, std::string::npos);
    std::string edited = text;
    edited.replace(at, 20, "\n  \"verdict\": \"pass\"");
    EXPECT_THAT(read_run_json(edited).error(),
                HasSubstr("verdict: says pass, the figures of the file give fail"));
}

TEST(RunJson, EditedUncertaintyIsRefused) {
    const std::string text = run_json_text(sample_run());
    const std::size_t at = text.find("\"u_k1\"", text.find("\"figures\": [\n"));
    std::string edited = text;
    edited.insert(edited.find(':', at) + 2, "9");
    EXPECT_THAT(read_run_json(edited).error(), HasSubstr("its budget gives"));
}

TEST(RunJson, KeyThatStandsTwiceIsRefused) {
    EXPECT_THAT(read_run_json(R"({"schema": "afterload/run/1", "schema": "x"})").error(),
                HasSubstr("\"schema\" stands twice"));
}

TEST(RunJson, DeepNestingIsRefused) {
    const std::string deep(200000, '[');
    EXPECT_THAT(read_run_json(deep).error(), HasSubstr("nested deeper"));
}

TEST(RunJson, FieldsOfALaterVersionAreIgnored) {
    Json json = run_json(sample_run());
    json["weather"] = {{"outside", "rain"}};
    json["steps"][1]["figures"][0]["colour"] = 4;
    EXPECT_TRUE(read_run_json(pretty_json(json)));
}

TEST(RunJson, BrokenUtf8AndControlCharactersDoNotBreakTheDocument) {
    RunDocument run = sample_run();
    run.notes = {std::string{"bad \xff\xfe bytes \x1b[2J and \n newline"}};
    const std::string text = run_json_text(run);
    const auto back = read_run_json(text);
    ASSERT_TRUE(back) << back.error();
    EXPECT_THAT(back->notes.front(), HasSubstr("\x1b[2J and \n newline"));
}

TEST(JsonText, LineHoldsNoNewline) {
    RunDocument run = sample_run();
    run.notes = {"two\nlines"};
    EXPECT_EQ(json_line(run_json(run)).find('\n'), std::string::npos);
}

TEST(JsonText, NumbersAreShortest) {
    EXPECT_EQ(json_line(Json{{"a", 0.1}, {"b", 100.0}, {"c", 1e-5}, {"d", 3}}),
              R"({"a": 0.1, "b": 100.0, "c": 1e-05, "d": 3})");
}

}  // namespace
}  // namespace afterload::runner
