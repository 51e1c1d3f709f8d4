#include "runner/rig/open_rig.hpp"

#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/input_file.hpp"
#include "runner/known_faults.hpp"
#include "runner/mistakes.hpp"
#include "runner/open_bench.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/run_to_end.hpp"
#include "runner/stop_signal.hpp"
#include "sequences/bench_reader.hpp"

#include <atomic>
#include <iostream>
#include <utility>

namespace afterload::runner {
namespace {

instruments::Task<RunResult<bool>> open_and_work(sequences::BenchFile bench, Operator& person,
                                                 sequences::RigFile& rig, const RigWork& work,
                                                 const std::atomic<bool>& stop) {
    sequences::BenchFile copy = bench;
    auto opened = co_await open_bench(std::move(copy), std::nullopt, std::nullopt, person);
    if (!opened) {
        co_return trouble(Trouble::Kind::bench_failed, opened.error());
    }
    Driver driver{*opened->bench, bench, stop};
    auto done = co_await work(driver, person, rig);
    const auto muted = co_await opened->bench->source().mute();
    if (done && !muted) {
        co_return trouble(muted.error());
    }
    co_return done;
}

}  // namespace

int work_on_rig(const std::string& bench_path, const OutputOptions& output, const RigWork& work) {
    const auto text = read_input(bench_path);
    if (!text) {
        return refuse(output, text.error(), exit_no_input);
    }
    auto bench = sequences::read_bench(*text, bench_path, known_faults());
    if (!bench) {
        return show_mistakes(output, {bench.error()}, exit_bad_input);
    }
    const auto stored = stored_rig(*bench);
    if (!stored) {
        return show_mistakes(output, {stored.error()}, exit_bad_input);
    }
    sequences::RigFile rig;
    rig.bench = bench->name;
    if (*stored) {
        rig = (*stored)->rig;
        sequences::lay_over(*bench, rig);
    }
    const std::atomic<bool>& stop = stop_on_signals();
    TerminalOperator person{std::cin, std::cerr};
    const std::string path = rig_path(*bench);
    const auto done = run_to_end(open_and_work(*std::move(bench), person, rig, work, stop));
    if (!done) {
        return refuse(
            output, done.error().what,
            done.error().kind == Trouble::Kind::bench_failed ? exit_no_device : exit_stopped);
    }
    if (*done) {
        if (const auto written = store_rig(path, rig); !written) {
            return refuse(output, written.error(), exit_cannot_write);
        }
        if (!output.json && !output.quiet) {
            print("written to " + path + "\n");
        }
    }
    return exit_pass;
}

}  // namespace afterload::runner
