#include "tests/runner/sample_capture.hpp"

namespace afterload::runner {

CaptureAnalysis sample_capture() {
    CaptureAnalysis capture;
    capture.file = "a.wav";
    capture.rate = SampleRate{48000.0};
    capture.frames = Frames{96000};

    Figure thd;
    thd.kind = FigureKind::thd;
    thd.channel = 1;
    thd.value = 1.2e-4;
    thd.budget = {{"record noise", BudgetLine::Kind::noise, 1e-6, 47.0}};
    thd.conditions.highest_order = 9;
    thd.conditions.bandwidth = Band{Hertz{20.0}, Hertz{21600.0}};

    Figure harmonics;
    harmonics.kind = FigureKind::harmonic;
    harmonics.channel = 1;
    harmonics.table = {{2, 1e-4, 12.0, 1e-6}, {3, 6e-5, -170.5, 1e-6}};

    Figure response;
    response.kind = FigureKind::frequency_response;
    response.channel = 1;
    response.curve = Curve{{100.0, 1000.0, 10000.0}, {-0.01, 0.0, -0.2}, {}, {0.001, 0.0, 0.001}};
    response.conditions.reference_frequency = Hertz{1000.0};

    Figure noise;
    noise.kind = FigureKind::noise_voltage;
    noise.channel = 1;
    noise.bound = Bound{2e-5, Bound::Side::at_most};

    Figure separation;
    separation.kind = FigureKind::channel_separation;
    separation.pair = {1, 2};
    separation.value = 64.1;
    separation.budget = {{"record noise", BudgetLine::Kind::noise, 0.1}};

    capture.channels = {{1, {thd, harmonics, response, noise}}};
    capture.pairs = {{1, 2, {separation}}};
    return capture;
}

CaptureAnalysis sample_watched_capture() {
    CaptureAnalysis capture = sample_capture();
    using analysis::WatchEvent;
    capture.watched = CaptureEvents{};
    capture.watched->events = {{WatchEvent::Kind::dropout, 2, Seconds{0.5}, Seconds{0.005}, -120.0,
                                true, WatchEvent::Blame::unit_or_lead},
                               {WatchEvent::Kind::gap, 0, Seconds{1.0}, Seconds{0.01}, 480.0, false,
                                WatchEvent::Blame::rig}};
    capture.watched->unwatched = {
        {analysis::UnwatchedPart::Why::silent, Seconds{0.0}, Seconds{0.25}}};
    return capture;
}

}  // namespace afterload::runner
