#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/rig/open_rig.hpp"
#include "runner/rig/rig_check.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace afterload::runner {
namespace {

/// "2.83 V: -104 dB" for the level nearest to a third of the range.
std::string distortion_words(const sequences::CheckedRange& range) {
    if (range.own_distortion.size() < 3) {
        return "distortion unknown";
    }
    const sequences::OwnDistortion& own = range.own_distortion[2];
    const double both = own.source.in<AmplitudeRatio>() + own.input.in<AmplitudeRatio>();
    return fmt::format("distortion {:.0f} dB at {:.3g} V", 20.0 * std::log10(both),
                       own.at.in<VoltsRms>());
}

std::string range_words(const sequences::CheckedRange& range) {
    return fmt::format(
        "  {:<10} noise {:.3g} uV A, hum {:.3g} uV, separation {:.0f} dB, {}\n", range.name,
        1e6 * range.own_noise_a->in<VoltsRms>(), 1e6 * range.own_hum->in<VoltsRms>(),
        -20.0 * std::log10(range.own_separation.value_or(AmplitudeRatio{1.0}).in<AmplitudeRatio>()),
        distortion_words(range));
}

Json finding_json(const RigFinding& finding) {
    Json out;
    out["what"] = finding.what;
    out["stops"] = finding.stops;
    return out;
}

}  // namespace

int rig_check(const RigCheckOptions& command, const OutputOptions& output) {
    bool stops = false;
    Json document;
    document["schema"] = "afterload/rig_check/1";
    const auto work = [&](Driver& driver, Operator& person,
                          sequences::RigFile& rig) -> instruments::Task<RunResult<bool>> {
        RigCheckSettings settings;
        settings.now = wall_clock_stamp();
        settings.mixer = mixer_now(driver.file());
        auto checked = co_await check_rig(driver, person, std::move(settings));
        if (!checked) {
            co_return tl::unexpected<Trouble>(checked.error());
        }
        std::string text = "This rig can today resolve, at the unit's terminals:\n";
        for (const sequences::CheckedRange& range : checked->found.ranges) {
            text += range_words(range);
        }
        document["findings"] = Json::array();
        for (const RigFinding& finding : checked->findings) {
            text += (finding.stops ? "STOP  " : "look  ") + finding.what + "\n";
            stops = stops || finding.stops;
            document["findings"].push_back(finding_json(finding));
        }
        if (checked->findings.empty()) {
            text += "Nothing is otherwise than it should be.\n";
        }
        if (!output.json) {
            print(text);
        }
        // A level that is wrong makes everything else wrong that was found with it.
        if (!stops) {
            rig.check = std::move(checked->found);
        }
        co_return !stops;
    };
    const int status = work_on_rig(command.bench, output, work);
    if (output.json) {
        document["exit_status"] = stops ? exit_fail : status;
        print(json_line(document) + "\n");
    }
    return status == exit_pass && stops ? exit_fail : status;
}

}  // namespace afterload::runner
