#include "runner/acquire.hpp"

#include "analysis/soundness.hpp"
#include "runner/evaluation/record_faults.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr int most_rig_retakes = 3;

bool caused_by_rig(const CaptureFault& fault) {
    switch (fault.kind) {
        case CaptureFaultKind::gap:
        case CaptureFaultKind::repeat:
        case CaptureFaultKind::clipped:
        case CaptureFaultKind::wrong_rate:
        case CaptureFaultKind::not_finite:
        case CaptureFaultKind::too_short:
            return true;
        case CaptureFaultKind::unsettled:
        case CaptureFaultKind::silent:
            return false;
    }
    return false;
}

bool any(const std::vector<CaptureFault>& faults, CaptureFaultKind kind) {
    return std::any_of(faults.begin(), faults.end(),
                       [&](const CaptureFault& fault) { return fault.kind == kind; });
}

/// Faults of a capture: what the instrument reported and what the samples show.
std::vector<CaptureFault> faults_in(const instruments::Captured& captured,
                                    const std::vector<Waveform>& waveforms,
                                    const AcquireRequest& request) {
    std::vector<CaptureFault> faults = captured.reported;
    const auto& calibration = captured.record.calibration;
    const RecordExpected expected{request.driven,
                                  request.seen,
                                  request.mains,
                                  {calibration[0].full_scale, calibration[1].full_scale},
                                  Seconds{0.95 * request.length.in<Seconds>()}};
    const auto found = record_faults({waveforms[0], waveforms[1]}, expected);
    faults.insert(faults.end(), found.begin(), found.end());
    return faults;
}

/// A level that moved can be told from a tone alone.
std::vector<RunEvent> events_in(const std::vector<Waveform>& waveforms,
                                const AcquireRequest& request, Seconds started) {
    std::vector<WaveformView> views;
    std::vector<int> which;
    for (std::size_t c = 0; c < waveforms.size(); ++c) {
        if (request.seen[c]) {
            views.push_back(waveforms[c]);
            which.push_back(static_cast<int>(c) + 1);
        }
    }
    std::vector<RunEvent> events;
    if (request.driven.signal != sequences::Signal::tone || views.empty()) {
        return events;
    }
    for (const auto& level : analysis::level_events(views, request.driven.nominal)) {
        const bool both = level.channel == 0 && views.size() > 1;
        RunEvent event;
        event.kind = "level";
        event.channel = both ? 0 : which[static_cast<std::size_t>(std::max(level.channel, 1)) - 1];
        event.since_start = started + level.start;
        event.size = level.change_db;
        event.unit = "dB";
        event.timeline_intact = true;
        event.blame = both ? Blame::unit_or_mains : Blame::unit_or_lead;
        event.note = fmt::format("level moved by {:+.2f} dB for {:.3g} s, no sample missing",
                                 level.change_db, level.length.in<Seconds>());
        events.push_back(std::move(event));
    }
    return events;
}

}  // namespace

Task<RunResult<Acquired>> acquire(Driver& driver, const RunFolder& folder, AcquireRequest request) {
    Acquired acquired;
    int rig_retakes = 0;
    bool moved_before = false;
    bool waited = false;
    for (int take = 0; take < most_captures; ++take) {
        if (request.stimulus) {
            const auto played = co_await driver.play(*request.stimulus, request.expected);
            if (!played) {
                co_return tl::unexpected(played.error());
            }
        }
        auto captured = co_await driver.record(request.length);
        if (!captured) {
            co_return tl::unexpected(captured.error());
        }
        std::vector<Waveform> waveforms;
        for (std::size_t c = 0; c < captured->record.channels.size(); ++c) {
            waveforms.push_back(calibrated(captured->record, c));
        }
        auto faults = faults_in(*captured, waveforms, request);
        auto events = events_in(waveforms, request, captured->started);
        const bool rig = std::any_of(faults.begin(), faults.end(), caused_by_rig);
        const bool last = take + 1 == most_captures;
        if (rig && rig_retakes < most_rig_retakes && !last) {
            ++rig_retakes;
            acquired.retakes.push_back({captured->started, std::move(faults)});
            continue;
        }
        acquired.events.insert(acquired.events.end(), events.begin(), events.end());
        if (!events.empty() && !moved_before && !last) {
            moved_before = true;
            continue;
        }
        if (any(faults, CaptureFaultKind::unsettled) && events.empty() && !waited && !last) {
            waited = true;
            acquired.retakes.push_back({captured->started, std::move(faults)});
            const auto settled = co_await driver.wait(further_settling);
            if (!settled) {
                co_return tl::unexpected(settled.error());
            }
            continue;
        }
        const auto stored = folder.store(request.stem, captured->record);
        if (!stored) {
            co_return trouble(Trouble::Kind::disk, stored.error());
        }
        StoredRecord& entry = acquired.measured.stored;
        entry.path = stored->path;
        entry.sha256 = stored->sha256;
        entry.sound = !rig;
        entry.unstable = !events.empty() && moved_before;
        entry.faults = std::move(faults);
        entry.driven = request.driven;
        entry.driven.since_start = captured->started;
        entry.rate = captured->record.rate;
        entry.bits = captured->record.bits;
        for (const auto& calibration : captured->record.calibration) {
            entry.full_scale.push_back(calibration.full_scale);
        }
        acquired.measured.record = std::move(captured->record);
        break;
    }
    co_return acquired;
}

}  // namespace afterload::runner
