#include "runner/daemon/daemon_options.hpp"

#include "runner/exit_status.hpp"

#include <CLI/CLI.hpp>

#include <array>
#include <utility>

namespace afterload::runner {

DaemonOptions read_daemon_options(int count, const char* const* words) {
    CLI::App app{
        "Owns the bench of a shop: carries out the runs that are handed to it, keeps their "
        "record, and answers the command line `afterload`.",
        "afterloadd"};
    app.set_version_flag("--version", std::string{"afterloadd "} + AFTERLOAD_BUILD);
    app.footer(
        "Software is the second line: mains, charged capacitors, hot loads and unattended running "
        "need cut-outs of their own. Local codes and licensed practice come first.");
    constexpr std::array<std::pair<const char*, const char*>, 10> settings{
        {{"config", "the settings file (afterload: daemon/1)"},
         {"bench", "the bench file of the bench it owns"},
         {"runs", "folder that holds the runs' folders"},
         {"state", "folder of the queue and the events"},
         {"socket", "path of the socket that the command line speaks to"},
         {"log", "journal, stderr, or a file"},
         {"queue-limit", "runs that may wait"},
         {"tcp-address", "IP address of a door over TCP; 127.0.0.1 unless stated"},
         {"tcp-port", "port of that door; without it there is none"},
         {"tcp-token-file", "file whose first line clients over TCP must show"}}};
    std::array<std::string, settings.size()> values;
    for (std::size_t n = 0; n < settings.size(); ++n) {
        app.add_option(std::string{"--"} + settings[n].first, values[n], settings[n].second);
    }
    DaemonOptions options;
    app.add_flag("--print-settings", options.print_settings,
                 "print every setting with where it came from, and serve nothing");
    try {
        app.parse(count, words);
        for (std::size_t n = 0; n < settings.size(); ++n) {
            if (app.count(std::string{"--"} + settings[n].first) > 0) {
                options.flags[settings[n].first] = values[n];
            }
        }
    } catch (const CLI::CallForHelp&) {
        options.text = app.help();
    } catch (const CLI::CallForVersion& version) {
        options.text = std::string{version.what()} + "\n";
    } catch (const CLI::ParseError& error) {
        options.text =
            std::string{"afterloadd: "} + error.what() + "\nafterloadd --help says what there is\n";
        options.exit_status = exit_usage;
    }
    return options;
}

}  // namespace afterload::runner
