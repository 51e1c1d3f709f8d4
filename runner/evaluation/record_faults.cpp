#include "runner/evaluation/record_faults.hpp"

#include "analysis/measure_sweep.hpp"
#include "analysis/multitone_timeline.hpp"
#include "analysis/soundness.hpp"
#include "runner/evaluation/driven_stimulus.hpp"

#include <algorithm>

namespace afterload::runner {
namespace {

using sequences::Signal;

analysis::Expectation expectation(const RecordExpected& expected, std::size_t channel) {
    analysis::Expectation wanted;
    wanted.mains = expected.mains;
    wanted.full_scale = expected.full_scale[channel];
    wanted.least = expected.least;
    wanted.silence = expected.driven.silent();
    return wanted;
}

/// A tone or two: the samples and the timeline are looked at together.
void add_tone_faults(const std::array<WaveformView, 2>& channels, const RecordExpected& expected,
                     std::vector<CaptureFault>& faults) {
    std::vector<WaveformView> with_tone;
    std::vector<std::size_t> which;
    for (std::size_t c = 0; c < 2; ++c) {
        if (expected.seen[c]) {
            with_tone.push_back(channels[c]);
            which.push_back(c);
        }
    }
    if (with_tone.empty()) {
        return;
    }
    analysis::Expectation wanted = expectation(expected, which.front());
    if (expected.driven.signal == Signal::two_tones) {
        wanted.tone = expected.driven.tones.back();
        wanted.beside = expected.driven.tones.front();
    } else {
        wanted.tone = expected.driven.nominal;
    }
    for (CaptureFault fault : analysis::faults_of_all(with_tone, wanted)) {
        if (fault.channel > 0) {
            fault.channel =
                static_cast<int>(which[static_cast<std::size_t>(fault.channel) - 1]) + 1;
        }
        faults.push_back(std::move(fault));
    }
}

void add_multitone_faults(const std::array<WaveformView, 2>& channels,
                          const RecordExpected& expected, std::vector<CaptureFault>& faults) {
    const auto source = multitone_source_of(expected.driven, channels[0].rate, expected.mains);
    if (!source) {
        return;  // its figures say why there is no such signal
    }
    std::vector<std::vector<Hertz>> tones(2);
    for (std::size_t c = 0; c < 2; ++c) {
        for (const analysis::SourceTone& tone : source->channels[c]) {
            if (expected.seen[c]) {
                tones[c].push_back(tone.frequency);
            }
        }
    }
    for (CaptureFault& fault :
         analysis::multitone_faults_of_all({channels[0], channels[1]}, tones)) {
        faults.push_back(std::move(fault));
    }
}

/// One channel tells for both: they run on one clock.
void add_sweep_faults(const std::array<WaveformView, 2>& channels, const RecordExpected& expected,
                      std::vector<CaptureFault>& faults) {
    for (std::size_t c = 0; c < 2; ++c) {
        if (!expected.seen[c]) {
            continue;
        }
        const WaveformView record = channels[c];
        const analysis::SweepPlan plan = sweep_plan(expected.driven);
        const auto response = analysis::swept_response(
            record, sweep_played(expected.driven, c, record.rate), plan, {1, 1});
        if (!response) {
            faults.push_back(analysis::sweep_fault(response.error()));
            faults.back().channel = static_cast<int>(c) + 1;
            continue;
        }
        const Frames frames{static_cast<std::int64_t>(record.volts.size())};
        const auto found = analysis::sweep_faults(*response, plan, duration(frames, record.rate));
        faults.insert(faults.end(), found.begin(), found.end());
        return;
    }
}

}  // namespace

std::vector<CaptureFault> record_faults(const std::array<WaveformView, 2>& channels,
                                        const RecordExpected& expected) {
    const Signal signal = expected.driven.signal;
    const bool tones = signal == Signal::tone || signal == Signal::two_tones;
    std::vector<CaptureFault> faults;
    bool readable = true;
    for (std::size_t c = 0; c < 2; ++c) {
        if (tones && expected.seen[c]) {
            continue;
        }
        for (CaptureFault fault : analysis::faults_of(channels[c], expectation(expected, c))) {
            fault.channel = static_cast<int>(c) + 1;
            readable = readable && fault.kind != CaptureFaultKind::not_finite &&
                       fault.kind != CaptureFaultKind::too_short;
            faults.push_back(std::move(fault));
        }
    }
    if (tones) {
        add_tone_faults(channels, expected, faults);
    } else if (readable && signal == Signal::multitone) {
        add_multitone_faults(channels, expected, faults);
    } else if (readable && signal == Signal::sweep) {
        add_sweep_faults(channels, expected, faults);
    }
    return faults;
}

}  // namespace afterload::runner
