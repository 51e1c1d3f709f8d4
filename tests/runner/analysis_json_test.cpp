#include "runner/papers/analysis_json.hpp"

#include "tests/runner/sample_capture.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload::runner {
namespace {

TEST(AnalysisJson, StatesWhatTheContractNames) {
    const Json json = analysis_json(sample_capture());
    EXPECT_EQ(json["schema"], "afterload/analysis/1");
    EXPECT_EQ(json["uncertainty"], "fit_only");
    EXPECT_EQ(json["capture"]["file"], "a.wav");
    EXPECT_EQ(json["capture"]["rate_hz"], 48000.0);
    EXPECT_EQ(json["capture"]["frames"], 96000);
    EXPECT_EQ(json["capture"]["sound"], true);
    const Json& figures = json["channels"][0]["figures"];
    EXPECT_EQ(json["channels"][0]["channel"], 1);
    EXPECT_EQ(figures[0]["figure"], "thd");
    EXPECT_EQ(figures[0]["value"], 1.2e-4);
    EXPECT_EQ(figures[0]["unit"], "1");
    EXPECT_EQ(figures[0]["u_k1"], 1e-6);
    EXPECT_EQ(figures[0]["u_k2"], 2e-6);
    EXPECT_EQ(figures[0]["conditions"]["highest_order"], 9);
    EXPECT_EQ(figures[0]["conditions"]["bandwidth_hz"], (Json{20.0, 21600.0}));
    EXPECT_EQ(json["pairs"][0]["from"], 1);
    EXPECT_EQ(json["pairs"][0]["to"], 2);
    EXPECT_EQ(json["pairs"][0]["figures"][0]["figure"], "channel_separation");
}

TEST(AnalysisJson, TableAndCurveHaveNoValueAndABoundHasNull) {
    const Json json = analysis_json(sample_capture());
    const Json& figures = json["channels"][0]["figures"];
    EXPECT_EQ(figures[1]["figure"], "harmonic");
    EXPECT_FALSE(figures[1].contains("value"));
    EXPECT_EQ(figures[1]["table"][0]["order"], 2);
    EXPECT_EQ(figures[1]["table"][0]["phase_deg"], 12.0);
    EXPECT_EQ(figures[2]["figure"], "frequency_response");
    EXPECT_FALSE(figures[2].contains("value"));
    EXPECT_EQ(figures[2]["conditions"]["reference_hz"], 1000.0);
    EXPECT_EQ(figures[2]["curve"]["frequency_hz"].size(), 3U);
    EXPECT_EQ(figures[3]["figure"], "noise_voltage");
    EXPECT_TRUE(figures[3]["value"].is_null());
    EXPECT_EQ(figures[3]["bound"], 2e-5);
    EXPECT_EQ(figures[3]["bound_is"], "at_most");
}

TEST(AnalysisJson, IsOneLine) {
    const std::string line = json_line(analysis_json(sample_capture()));
    EXPECT_EQ(line.find('\n'), std::string::npos);
    EXPECT_EQ(line.find('\r'), std::string::npos);
    EXPECT_TRUE(parse_json(line));
}

TEST(AnalysisJson, UnsoundCaptureSaysSoWithItsFaults) {
    CaptureAnalysis capture = sample_capture();
    capture.faults = {{CaptureFaultKind::gap, 0, Seconds{1.25}, "480 samples missing"},
                      {CaptureFaultKind::too_short, 2, Seconds{0.0}, ""}};
    const Json json = analysis_json(capture);
    EXPECT_EQ(json["capture"]["sound"], false);
    EXPECT_EQ(json["capture"]["faults"][0]["kind"], "gap");
    EXPECT_EQ(json["capture"]["faults"][0]["start_s"], 1.25);
    EXPECT_EQ(json["capture"]["faults"][1]["kind"], "short");
    EXPECT_EQ(json["capture"]["faults"][1]["channel"], 2);
}

TEST(AnalysisJson, OfAWatchedCaptureListsItsEvents) {
    const Json json = analysis_json(sample_watched_capture());
    ASSERT_EQ(json["events"].size(), 2U);
    EXPECT_EQ(json["events"][0]["class"], "dropout");
    EXPECT_EQ(json["events"][0]["channel"], 2);
    EXPECT_EQ(json["events"][0]["start_s"], 0.5);
    EXPECT_EQ(json["events"][0]["duration_s"], 0.005);
    EXPECT_EQ(json["events"][0]["size"], -120.0);
    EXPECT_EQ(json["events"][0]["unit"], "dB");
    EXPECT_EQ(json["events"][0]["timeline_intact"], true);
    EXPECT_EQ(json["events"][0]["blame"], "unit_or_lead");
    EXPECT_EQ(json["events"][1]["class"], "gap");
    EXPECT_EQ(json["events"][1]["unit"], "samples");
    EXPECT_EQ(json["events"][1]["timeline_intact"], false);
    EXPECT_EQ(json["events"][1]["blame"], "rig");
    EXPECT_EQ(json["events_left_out"], 0);
    EXPECT_EQ(json["unwatched"][0]["why"], "silent");
    EXPECT_FALSE(analysis_json(sample_capture()).contains("events"));
}

}  // namespace
}  // namespace afterload::runner
