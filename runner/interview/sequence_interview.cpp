#include "runner/interview/sequence_interview.hpp"

#include "sequences/quantity_text.hpp"
#include "sequences/shipped_sequences.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <optional>
#include <string_view>
#include <tuple>
#include <vector>

namespace afterload::runner {
namespace {

/// `text` of a shipped file under another title, without the line that is for the folder it lies
/// in.
std::string retitled(std::string_view text, const std::string& title) {
    std::string out;
    while (!text.empty()) {
        const std::size_t end = text.find('\n');
        const std::string_view line =
            text.substr(0, end == std::string_view::npos ? text.size() : end + 1);
        if (line.starts_with("title:")) {
            out += "title: " + sequences::yaml_value(title) + "\n";
        } else if (!line.starts_with("# yaml-language-server:")) {
            out += line;
        }
        text.remove_prefix(line.size());
    }
    return out;
}

struct Template {
    std::string title;
    std::string input;
    std::string output;
    std::string level;
};

// Common practice: offset before any drive, then quiet, then 1 W; power last and behind a prompt.
std::string template_text(const Template& asked) {
    return fmt::format(
        R"(afterload: sequence/1
title: {title}

# Shown before anything is driven. Loads, not loudspeakers; local codes and licensed practice first.
cautions: [loads_not_loudspeakers, mains, local_code]

# Figures that the unit's rating sheet must have, or the sequence is refused.
needs:
  rated: [output_power]

# What can be changed from outside: afterload run ... --set level=0.5W
parameters:
  level:
    default: {level}
    help: output at which gain, distortion and response are measured

steps:
  # DC at the outputs is read before anything drives: out of its limit, the run ends here.
  - name: controls and offset
    prompt:
      title: Controls for the direct path
      controls: {{input: {input}, volume: maximum, tone: defeat}}
      checks:
        - loudness, filters, muting and tape monitor off
      cautions: [offset_before_load, mains, local_code]
    meters:
      - {{reads: dc_offset, gate: true}}
      - mains_voltage

  # Nothing is played: hum and noise.
  - name: quiet
    input: {input}
    output: {output}
    path: direct
    volume: maximum
    signal: silence
    record: 2 s
    figures:
      - hum_voltage
      - {{figure: signal_to_noise, weighting: A, reference_level: rated}}

  # 997 Hz and not 1 kHz: no harmonic falls on a line of the mains.
  - name: level
    signal: tone
    frequency: 997 Hz
    level: ${{level}}
    record: 1 s
    figures: [gain, channel_balance, thd]

  - name: response
    signal: tone
    level: ${{level}}
    record: 1.4 s
    for_each:
      frequencies: [19.7 Hz, 99 Hz, 997 Hz, 9997 Hz, 19997 Hz]
    figures:
      - {{figure: frequency_response, reference_frequency: 997 Hz}}

  # Power comes last: a fault that it brings out does not spoil the figures before it. Take the #
  # away when the unit has shown that it is sound.
  # - name: power
  #   signal: tone
  #   frequency: 997 Hz
  #   driven: both
  #   level: {{distortion: as rated, up_to: rated + 1 dB}}
  #   dwell: 10 s
  #   figures: [output_power]
  #   stop_on: fail
  #   cautions: [hot_load, stay_at_the_bench]
)",
        fmt::arg("title", sequences::yaml_value(asked.title)),
        fmt::arg("input", sequences::yaml_value(asked.input)),
        fmt::arg("output", sequences::yaml_value(asked.output)), fmt::arg("level", asked.level));
}

std::string needed(const std::string& typed) {
    return typed.empty() ? "a name is needed here" : "";
}

/// A name that can stand in `{...}` and that ${} does not touch.
std::string path_name(const std::string& typed) {
    const bool plain = !typed.empty() && typed.size() <= 40 &&
                       typed.find_first_not_of(
                           "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") ==
                           std::string::npos;
    return plain ? "" : "a name as in the rating sheet: letters, digits, _ and -";
}

std::string title_fits(const std::string& typed) {
    if (typed.size() > 200) {
        return "at most 200 bytes";
    }
    return typed.find("${") == std::string::npos ? needed(typed) : "no ${ in a title";
}

std::string output_level(const std::string& typed) {
    const auto level =
        sequences::read_level(typed, sequences::LevelUse::step, "an output to reach");
    if (!level) {
        return words(level.error());
    }
    const bool power = level->kind == LevelTarget::Kind::output_power && level->value <= 10.0;
    return power ? "" : "a power up to 10 W, as in 1 W";
}

}  // namespace

AskedFile sequence_asked_for(Questions& questions, const std::string& today) {
    AskedFile file;
    std::vector<std::string> choices;
    for (const sequences::ShippedSequence& shipped : sequences::shipped_sequences()) {
        choices.push_back(fmt::format("{}: {}", shipped.title, shipped.purpose));
    }
    choices.emplace_back("none of these: a short one with comments, to be written on");
    questions.say("Enter takes what stands in brackets.");
    const auto choice = questions.choice("What job is it for", choices);
    if (!choice) {
        return file;
    }
    const auto& shipped = sequences::shipped_sequences();
    const bool own = *choice == shipped.size();
    const auto title = questions.ask(
        "What is it called", own ? "A short look" : std::string{shipped[*choice].title} + ", ours",
        title_fits);
    if (!title) {
        return file;
    }
    file.text = sequences::yaml_comment(
        "Made by afterload new sequence on " + today +
        (own ? std::string{"."} : fmt::format(", from “{}” that ships.", shipped[*choice].title)));
    file.text += "# afterload run with --plan drives nothing and tells what it would do.\n";
    if (own) {
        Template asked{*title, "line", "speaker_a", "1 W"};
        for (const auto& [question, into, fits] :
             {std::tuple{"Input, as the rating sheet names it", &asked.input, &path_name},
              std::tuple{"Output", &asked.output, &path_name},
              std::tuple{"Output level of the tones", &asked.level, &output_level}}) {
            const auto answer = questions.ask(question, *into, *fits);
            if (!answer) {
                return {};
            }
            *into = *answer;
        }
        file.text += template_text(asked);
    } else {
        file.text += retitled(shipped[*choice].text, *title);
    }
    return file;
}

}  // namespace afterload::runner
