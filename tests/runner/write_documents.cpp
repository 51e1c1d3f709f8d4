// Writes the documents of the invented runs and capture into a folder, for the schema check.
#include "runner/papers/analysis_json.hpp"
#include "runner/papers/run_json.hpp"
#include "tests/runner/sample_capture.hpp"
#include "tests/runner/sample_run.hpp"

#include <fstream>
#include <iostream>
#include <string>

namespace {

bool write(const std::string& path, const std::string& text) {
    std::ofstream file{path, std::ios::binary};
    file << text;
    return static_cast<bool>(file.flush());
}

}  // namespace

int main(int count, char** words) {
    using namespace afterload;
    using namespace afterload::runner;
    if (count != 2) {
        std::cerr << "write_documents FOLDER\n";
        return 64;
    }
    const std::string folder = words[1];
    RunDocument real = passing_run();
    real.bench.simulated.reset();
    real.simulation.reset();
    RunDocument empty;
    conclude(empty);
    CaptureAnalysis unsound = sample_capture();
    unsound.faults = {{CaptureFaultKind::clipped, 1, Seconds{0.5}, "12 samples"}};
    const bool written =
        write(folder + "/sample.run.json", run_json_text(sample_run())) &&
        write(folder + "/passing.run.json", run_json_text(passing_run())) &&
        write(folder + "/received.run.json", run_json_text(received_run())) &&
        write(folder + "/real.run.json", run_json_text(real)) &&
        write(folder + "/empty.run.json", run_json_text(empty)) &&
        write(folder + "/sound.analysis.json", json_line(analysis_json(sample_capture()))) &&
        write(folder + "/unsound.analysis.json", json_line(analysis_json(unsound))) &&
        write(folder + "/watched.analysis.json",
              json_line(analysis_json(sample_watched_capture())));
    return written ? 0 : 73;
}
