#include "runner/soak/soak_file.hpp"

#include "instruments/recording.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

constexpr double longest_seconds = 600.0;  // held in memory
constexpr std::size_t block_frames = 65536;

using Reader = tl::expected<instruments::RecordingReader, instruments::RecordingFailure>;

double seconds(std::size_t frames, SampleRate rate) {
    return static_cast<double>(frames) / rate.frequency().in<Hertz>();
}

std::optional<std::string> wrong_length(double seconds) {
    if (seconds > longest_seconds || seconds < 1.0) {
        return fmt::format("it lasts {:.3g} s: between 1 s and 10 min are played round and round",
                           seconds);
    }
    return std::nullopt;
}

std::optional<std::string> wrong_form(const instruments::RecordingReader& file, SampleRate rate) {
    if (file.rate() != rate) {
        return fmt::format("its rate is {:.6g} Hz, the card's {:.6g} Hz: convert it first",
                           file.rate().frequency().in<Hertz>(), rate.frequency().in<Hertz>());
    }
    if (file.channels() > 2) {
        return fmt::format("it has {} channels: one or two are played", file.channels());
    }
    // Where the header does not know, it is found while reading.
    return file.frames()
               ? wrong_length(seconds(static_cast<std::size_t>(file.frames()->count()), rate))
               : std::nullopt;
}

/// Block by block: a small file can hold much sound.
std::optional<std::string> wrong_with(Reader opened, SampleRate rate) {
    if (!opened) {
        return opened.error().what;
    }
    instruments::RecordingReader& file = *opened;
    if (auto wrong = wrong_form(file, rate)) {
        return wrong;
    }
    const std::vector<double> scale(file.channels(), 1.0);
    std::vector<std::vector<double>> blocks(file.channels(), std::vector<double>(block_frames));
    std::vector<std::span<double>> into(blocks.begin(), blocks.end());
    std::vector<bool> sounds(file.channels(), false);
    std::size_t frames = 0;
    std::size_t got = block_frames;
    while (got == block_frames && seconds(frames, rate) <= longest_seconds) {
        got = file.read(into, scale);
        frames += got;
        for (std::size_t c = 0; c < blocks.size(); ++c) {
            for (const double sample : into[c].first(got)) {
                if (!std::isfinite(sample)) {
                    return "it holds what is no number";
                }
                sounds[c] = sounds[c] || sample != 0.0;
            }
        }
    }
    if (auto wrong = wrong_length(seconds(frames, rate))) {
        return wrong;
    }
    const bool all = std::find(sounds.begin(), sounds.end(), false) == sounds.end();
    return all ? std::nullopt : std::optional<std::string>{"a channel of it is silent"};
}

double largest(const std::vector<double>& samples) {
    double peak = 0.0;
    for (const double sample : samples) {
        peak = std::max(peak, std::abs(sample));
    }
    return peak;
}

std::string name_of(const std::string& path) {
    return std::filesystem::path{path}.filename().string();
}

std::string stored_name(const std::string& name) {
    return std::string{stimulus_role} + "-" + name;
}

const InputText* sound_of(const RunPlan& plan, const std::string& name) {
    const auto found =
        std::find_if(plan.inputs.begin(), plan.inputs.end(), [&](const InputText& one) {
            const std::string own = name_of(one.path);
            // A run that is continued has it under the name that its folder gave it.
            return one.role == stimulus_role && (own == name || own == stored_name(name));
        });
    return found == plan.inputs.end() ? nullptr : &*found;
}

}  // namespace

bool plays_file(const sequences::Step& step) {
    return step.soak != nullptr && step.soak->signal == sequences::SoakSignal::file;
}

std::string soak_file_path(const std::string& sequence_path, const std::string& file) {
    const std::filesystem::path wanted{file};
    return wanted.is_absolute()
               ? file
               : (std::filesystem::path{sequence_path}.parent_path() / wanted).string();
}

std::optional<sequences::Diagnostics> cannot_be_looped(const sequences::Step& step,
                                                       const RunPlan& plan) {
    if (!plays_file(step)) {
        return std::nullopt;
    }
    const std::string name = name_of(step.soak->file);
    const InputText* const sound = sound_of(plan, name);
    if (sound == nullptr) {
        return sequences::mistake_of_file(
            step.soak->file, "step " + step.name + " plays it, and it did not come with the run");
    }
    auto file = instruments::RecordingReader::open_bytes(sound->path, sound->text);
    if (auto wrong = wrong_with(std::move(file), plan.bench.card.rate)) {
        return sequences::mistake_of_file(sound->path, *std::move(wrong));
    }
    return std::nullopt;
}

RunResult<SoakLoop> soak_file_loop(const sequences::Step& step, const RunPlan& plan,
                                   const RunFolder& folder) {
    if (!plays_file(step)) {
        return SoakLoop{};
    }
    // As it is stored among the inputs: the file itself may have changed since.
    const std::string path = folder.path() + "/inputs/" + stored_name(name_of(step.soak->file));
    if (const auto wrong =
            wrong_with(instruments::RecordingReader::open(path), plan.bench.card.rate)) {
        return trouble(Trouble::Kind::limit, path + ": " + *wrong);
    }
    auto recording = instruments::read_recording(path);
    if (!recording) {
        return trouble(Trouble::Kind::limit,
                       recording.error().path + ": " + recording.error().what);
    }
    double peak = 0.0;
    for (const std::vector<double>& channel : recording->channels) {
        peak = std::max(peak, largest(channel));
    }
    SoakLoop loop;
    for (std::size_t c = 0; c < recording->channels.size(); ++c) {
        auto samples = std::make_shared<std::vector<double>>(std::move(recording->channels[c]));
        double sum = 0.0;
        for (double& sample : *samples) {
            sample /= peak;
            sum += sample * sample;
        }
        loop.rms[c] = std::sqrt(sum / static_cast<double>(samples->size()));
        loop.samples[c] = std::move(samples);
    }
    if (recording->channels.size() == 1) {
        loop.rms[1] = loop.rms[0];
        loop.samples[1] = loop.samples[0];
    }
    return loop;
}

}  // namespace afterload::runner
