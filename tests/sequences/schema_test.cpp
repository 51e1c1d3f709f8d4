// The JSON Schemas against the readers: the same keys, the same required ones, the same units.

#include "analysis/capture_fault.hpp"
#include "analysis/event_names.hpp"
#include "analysis/figure.hpp"
#include "sequences/key_lists.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <set>
#include <string>

namespace afterload::sequences {
namespace {

using Json = nlohmann::json;
using Words = std::set<std::string>;

Json schema(const std::string& kind) {
    return Json::parse(file_text(source_path("sequences/schemas/" + kind + ".schema.json")));
}

Words words(const std::vector<std::string_view>& all) {
    return {all.begin(), all.end()};
}

void expect_same_keys(const std::string& kind, const std::vector<KeyList>& lists) {
    const Json definitions = schema(kind).at("definitions");
    EXPECT_EQ(definitions.size(), lists.size()) << kind;
    for (const KeyList& list : lists) {
        const std::string mapping{list.mapping};
        ASSERT_TRUE(definitions.contains(mapping)) << kind << " " << mapping;
        const Json& definition = definitions.at(mapping);
        Words known;
        for (const auto& [key, value] : definition.at("properties").items()) {
            known.insert(key);
        }
        EXPECT_EQ(known, words(list.keys)) << kind << " " << mapping;
        Words required;
        if (definition.contains("required")) {
            required = definition.at("required").get<Words>();
        }
        EXPECT_EQ(required, words(list.required)) << kind << " " << mapping;
        EXPECT_EQ(definition.at("additionalProperties"), false) << kind << " " << mapping;
    }
}

TEST(Schema, HasTheKeysOfTheReaders) {
    expect_same_keys("rating", rating_key_lists());
    expect_same_keys("bench", bench_key_lists());
    expect_same_keys("sequence", sequence_key_lists());
    expect_same_keys("job", job_key_lists());
    expect_same_keys("daemon", daemon_key_lists());
    expect_same_keys("hints", hint_key_lists());
}

std::string units_pattern(Dimension dimension) {
    std::string pattern = "(";
    for (const std::string_view unit : units_of(dimension)) {
        pattern += pattern.size() > 1 ? "|" : "";
        pattern += unit;
    }
    return pattern + ")";
}

TEST(Schema, StatesEachRatedFigureInTheUnitsOfItsReader) {
    const Json rules = schema("rating").at("definitions").at("figure").at("allOf");
    for (const FigureKind kind : all_figure_kinds()) {
        int found = 0;
        for (const Json& rule : rules) {
            const Words kinds = rule.at("if").at("properties").at("figure").at("enum").get<Words>();
            if (!kinds.contains(std::string{name(kind)})) {
                continue;
            }
            ++found;
            const Json& limit = rule.at("then").at("properties").at("at_least");
            if (dimension_of(kind) == Dimension::number) {
                EXPECT_EQ(limit.at("type"), "number") << name(kind);
            } else {
                const std::string pattern = limit.at("pattern").get<std::string>();
                EXPECT_NE(pattern.find(units_pattern(dimension_of(kind))), std::string::npos)
                    << name(kind) << " " << pattern;
            }
        }
        EXPECT_EQ(found, 1) << name(kind);
    }
}

TEST(Schema, KnowsTheFiguresCautionsAndReadingsOfTheReaders) {
    const Json rating = schema("rating").at("definitions");
    const Json sequence = schema("sequence").at("definitions");
    Words figures;
    for (const FigureKind kind : all_figure_kinds()) {
        figures.insert(std::string{name(kind)});
    }
    EXPECT_EQ(rating.at("figure").at("properties").at("figure").at("enum").get<Words>(), figures);
    EXPECT_EQ(sequence.at("figure").at("properties").at("figure").at("enum").get<Words>(), figures);
    Words cautions;
    for (const Caution& caution : shipped_cautions()) {
        cautions.insert(std::string{caution.name});
    }
    EXPECT_EQ(sequence.at("step")
                  .at("properties")
                  .at("cautions")
                  .at("items")
                  .at("anyOf")
                  .at(0)
                  .at("enum")
                  .get<Words>(),
              cautions);
    EXPECT_EQ(sequence.at("meter").at("properties").at("reads").at("enum").get<Words>(),
              words(step_quantities()));
    EXPECT_EQ(schema("bench")
                  .at("definitions")
                  .at("meter")
                  .at("properties")
                  .at("reads")
                  .at("items")
                  .at("enum")
                  .get<Words>(),
              words(meter_quantities()));
}

TEST(Schema, KnowsTheEventsAndTheFaultsOfRecordsThatAHintMayCount) {
    const Json fact = schema("hints").at("definitions").at("fact").at("properties");
    EXPECT_EQ(fact.at("events").at("enum").get<Words>(), words(event_names()));
    Words faults;
    for (const CaptureFaultKind kind : capture_fault_kinds()) {
        faults.insert(std::string{name(kind)});
    }
    EXPECT_EQ(fact.at("retakes").at("enum").get<Words>(), faults);
}

}  // namespace
}  // namespace afterload::sequences
