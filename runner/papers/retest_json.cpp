#include "runner/papers/retest_json.hpp"

#include "runner/papers/json_list.hpp"
#include "runner/papers/run_document.hpp"

namespace afterload::runner {
namespace {

constexpr std::string_view retest_schema = "afterload/retest/1";

}  // namespace

Json retest_json(const RetestOf& retest) {
    Json out;
    out["schema"] = retest_schema;
    out["of"] = retest.run;
    out["started"] = retest.started;
    out["verdict"] = retest.verdict;
    out["measured_again"] = Json::array();
    for (const StepAgain& step : retest.steps) {
        out["measured_again"].push_back({{"step", step.step}, {"because", step.because}});
    }
    out["not_measured_again"] = Json::array();
    for (const FigureThatStands& figure : retest.stands) {
        out["not_measured_again"].push_back({{"id", figure.id},
                                             {"label", figure.label},
                                             {"rating", figure.rating},
                                             {"verdict", figure.verdict}});
    }
    return out;
}

RetestOf get_retest(const JsonPlace& place) {
    if (place.at("schema").text() != retest_schema) {
        place.at("schema").misfit("is not afterload/retest/1");
    }
    RetestOf retest;
    retest.run = place.at("of").text();
    retest.started = place.at("started").text();
    retest.verdict = name(named_value(place.at("verdict"), run_verdict));
    retest.steps = get_list(place, "measured_again", [](const JsonPlace& entry) {
        return StepAgain{entry.at("step").text(), entry.at("because").texts()};
    });
    retest.stands = get_list(place, "not_measured_again", [](const JsonPlace& entry) {
        return FigureThatStands{entry.at("id").text(), entry.at("label").text(),
                                entry.at("rating").text(), entry.at("verdict").text()};
    });
    return retest;
}

tl::expected<RetestOf, std::string> read_retest(std::string_view text) {
    const auto document = parse_json(text);
    if (!document) {
        return tl::unexpected(document.error());
    }
    try {
        return get_retest(JsonPlace{*document});
    } catch (const JsonMisfit& misfit) {
        return tl::unexpected(std::string{misfit.what()});
    }
}

}  // namespace afterload::runner
