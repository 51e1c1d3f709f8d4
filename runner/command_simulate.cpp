#include "instruments/wire/served_bench.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/input_file.hpp"
#include "runner/known_faults.hpp"
#include "runner/mistakes.hpp"
#include "runner/open_bench.hpp"
#include "runner/run_until_signal.hpp"
#include "sequences/bench_reader.hpp"

#include <fmt/format.h>

#include <array>
#include <cstdint>
#include <system_error>

namespace afterload::runner {

int simulate(const SimulateOptions& command, const OutputOptions& output) {
    const auto text = read_input(command.bench);
    if (!text) {
        return refuse(output, text.error(), exit_no_input);
    }
    const auto bench = sequences::read_bench(*text, command.bench, known_faults());
    if (!bench) {
        return show_mistakes(output, {bench.error()}, exit_bad_input);
    }
    if (!bench->simulated) {
        return refuse(output,
                      command.bench + ": simulates nothing: add simulated:", exit_bad_input);
    }
    const auto changed = [](Seconds when, const std::string& what) {
        print(fmt::format("{:.6f} {}\n", when.in<Seconds>(), what));
    };
    try {
        const auto port = static_cast<std::uint16_t>(command.port);
        const auto next = [&](int n) {
            return static_cast<std::uint16_t>(command.port == 0 ? 0 : port + n);
        };
        instruments::ServedBench served{simulation_of(*bench, std::nullopt, std::nullopt),
                                        {next(0), next(1), next(2), next(3), next(4)},
                                        changed};
        const auto ports = served.ports();
        print(
            fmt::format("source tcp://127.0.0.1:{}\nmeter tcp://127.0.0.1:{}\n"
                        "relays tcp://127.0.0.1:{}\ndigitiser tcp://127.0.0.1:{}\n"
                        "load tcp://127.0.0.1:{}\n",
                        ports[0], ports[1], ports[2], ports[3], ports[4]));
        run_until_signal(served.serve());
    } catch (const std::system_error& error) {
        return refuse(output, error.what(), exit_no_device);
    }
    return exit_pass;
}

}  // namespace afterload::runner
