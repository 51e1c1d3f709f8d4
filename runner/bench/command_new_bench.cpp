#include "runner/bench/new_bench.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/durable_file.hpp"
#include "runner/exit_status.hpp"
#include "runner/known_faults.hpp"
#include "runner/mistakes.hpp"
#include "runner/run_to_end.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/bench_reader.hpp"

#include <filesystem>
#include <iostream>

namespace afterload::runner {

int new_bench(const NewBenchOptions& command, const OutputOptions& output) {
    if (std::filesystem::exists(command.file)) {
        return refuse(output,
                      command.file +
                          ": is there already; nothing was overwritten. Choose another "
                          "name, or move it away",
                      exit_cannot_write);
    }
    const auto cards = bench_cards(instruments::cards_found(command.devices));
    if (cards.empty()) {
        return refuse(output,
                      "no sound card is there that plays and records: plug it in; afterload "
                      "instruments says what is there and why it cannot be used",
                      exit_no_device);
    }
    const auto wires = run_to_end(instruments::wires_found(command.addresses));
    for (const instruments::WireFound& wire : wires) {
        if (wire.identity.empty()) {
            print_error(wire.address + ": " + wire.why_not + "\n");
        }
    }
    Questions questions{std::cin, std::cerr};
    const auto text = bench_asked_for(questions, cards, wires, wall_clock_stamp().substr(0, 10));
    if (!text) {
        return refuse(output, "the answers ended: nothing was written", exit_stopped);
    }
    // What is written must be taken: a mistake here is the program's own.
    const auto bench = sequences::read_bench(*text, command.file, known_faults());
    if (!bench) {
        return show_mistakes(output, {bench.error()}, exit_internal);
    }
    if (const auto written = write_durably(command.file, *text); !written) {
        return refuse(output, written.error(), exit_cannot_write);
    }
    print(command.file + "\nnext: afterload calibrate " + command.file +
          ", then afterload rig-check " + command.file + "\n");
    return exit_pass;
}

}  // namespace afterload::runner
