#include "runner/evaluation/step_path.hpp"

namespace afterload::runner {

StepPath path_after(StepPath path, const sequences::Step& step) {
    if (step.prompt) {
        std::string bass = "centre";
        std::string treble = "centre";
        bool tone_set = false;
        for (const auto& [control, position] : step.prompt->controls) {
            if (control == "input") {
                path.input = position;
            } else if (control == "output") {
                path.output = position;
            } else if (control == "volume") {
                path.volume = position;
            } else if (control == "speakers") {
                path.output = position == "B" ? "speaker_b" : "speaker_a";
            } else if (control == "tone") {
                path.path = position == "defeat" ? "direct" : "tone";
                path.tone_controls = position == "defeat" ? "defeat" : "flat";
            } else if (control == "bass") {
                bass = position;
                tone_set = true;
            } else if (control == "treble") {
                treble = position;
                tone_set = true;
            }
        }
        if (tone_set) {
            path.tone_controls = bass == "centre" && treble == "centre"
                                     ? "flat"
                                     : "bass " + bass + ", treble " + treble;
        }
    }
    if (step.input) {
        path.input = *step.input;
    }
    if (step.output) {
        path.output = *step.output;
    }
    if (step.path) {
        path.path = *step.path;
        if (path.path == "direct") {
            path.tone_controls = "defeat";
        } else if (path.tone_controls == "defeat") {
            path.tone_controls = "flat";
        }
    }
    if (step.volume) {
        path.volume = *step.volume;
    }
    return path;
}

std::string terminals_of(const StepPath& path) {
    return path.input + "|" + path.output + "|" + path.volume;
}

std::string key_of(const StepPath& path) {
    return path.input + "|" + path.output + "|" + path.path + "|" + path.volume + "|" +
           path.tone_controls;
}

}  // namespace afterload::runner
