#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/rig/calibration.hpp"
#include "runner/rig/open_rig.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/wall_clock.hpp"

#include <utility>

namespace afterload::runner {

int calibrate(const CalibrateOptions& command, const OutputOptions& output) {
    const bool lines = !output.json && !output.quiet;
    const auto say = [lines](const std::string& line) {
        if (lines) {
            print(line + "\n");
        }
    };
    const auto work = [&](Driver& driver, Operator& person,
                          sequences::RigFile& rig) -> instruments::Task<RunResult<bool>> {
        CalibrationSettings settings;
        settings.meter = command.meter;
        settings.meter_u_k1 = command.meter_u_k1;
        settings.ohms_u_k1 = command.ohms_u_k1;
        settings.today = wall_clock_stamp().substr(0, 10);
        settings.mixer = mixer_now(driver.file());
        settings.say = say;
        auto found = co_await calibrate_bench(driver, person, std::move(settings));
        if (!found) {
            co_return tl::unexpected<Trouble>(found.error());
        }
        rig.calibration = *std::move(found);
        // What was checked was checked with the levels of before.
        rig.check.reset();
        say("levels are calibrated; afterload rig-check tells what the bench resolves with them");
        co_return true;
    };
    const int status = work_on_rig(command.bench, output, work);
    if (output.json && status == 0) {
        Json document;
        document["schema"] = "afterload/calibration/1";
        document["bench"] = command.bench;
        document["exit_status"] = status;
        print(json_line(document) + "\n");
    }
    return status;
}

}  // namespace afterload::runner
