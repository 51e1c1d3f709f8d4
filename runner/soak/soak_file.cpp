#include "runner/soak/soak_file.hpp"

#include "instruments/recording.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

constexpr double longest_seconds = 600.0;  // held in memory

double largest(const std::vector<double>& samples) {
    double peak = 0.0;
    for (const double sample : samples) {
        peak = std::max(peak, std::abs(sample));
    }
    return peak;
}

std::optional<std::string> wrong_with(const instruments::Recording& recording, SampleRate rate) {
    if (recording.rate != rate) {
        return fmt::format("its rate is {:.6g} Hz, the card's {:.6g} Hz: convert it first",
                           recording.rate.frequency().in<Hertz>(), rate.frequency().in<Hertz>());
    }
    if (recording.channels.size() > 2) {
        return fmt::format("it has {} channels: one or two are played", recording.channels.size());
    }
    const double seconds =
        static_cast<double>(recording.channels.front().size()) / rate.frequency().in<Hertz>();
    if (seconds > longest_seconds || seconds < 1.0) {
        return fmt::format("it lasts {:.3g} s: between 1 s and 10 min are played round and round",
                           seconds);
    }
    for (const std::vector<double>& channel : recording.channels) {
        const bool finite = std::all_of(channel.begin(), channel.end(),
                                        [](double sample) { return std::isfinite(sample); });
        if (!finite || !(largest(channel) > 0.0)) {
            return finite ? "a channel of it is silent" : "it holds what is no number";
        }
    }
    return std::nullopt;
}

}  // namespace

std::string soak_file_path(const std::string& sequence_path, const std::string& file) {
    const std::filesystem::path wanted{file};
    return wanted.is_absolute()
               ? file
               : (std::filesystem::path{sequence_path}.parent_path() / wanted).string();
}

std::optional<std::string> cannot_be_looped(const std::string& path, SampleRate rate) {
    const auto recording = instruments::read_recording(path);
    if (!recording) {
        return recording.error().path + ": " + recording.error().what;
    }
    if (auto wrong = wrong_with(*recording, rate)) {
        return path + ": " + *wrong;
    }
    return std::nullopt;
}

RunResult<SoakLoop> soak_file_loop(const sequences::Step& step, const RunPlan& plan,
                                   const RunFolder& folder) {
    if (step.soak == nullptr || step.soak->signal != sequences::SoakSignal::file) {
        return SoakLoop{};
    }
    // As it is stored among the inputs: the file itself may have changed since.
    const std::string name = std::filesystem::path{step.soak->file}.filename().string();
    const std::string path = fmt::format("{}/inputs/{}-{}", folder.path(), stimulus_role, name);
    auto recording = instruments::read_recording(path);
    if (!recording) {
        return trouble(Trouble::Kind::limit,
                       recording.error().path + ": " + recording.error().what);
    }
    if (const auto wrong = wrong_with(*recording, plan.bench.card.rate)) {
        return trouble(Trouble::Kind::limit, path + ": " + *wrong);
    }
    double peak = 0.0;
    for (const std::vector<double>& channel : recording->channels) {
        peak = std::max(peak, largest(channel));
    }
    SoakLoop loop;
    for (std::size_t c = 0; c < 2; ++c) {
        std::vector<double>& channel =
            recording->channels[std::min(c, recording->channels.size() - 1)];
        auto samples = std::make_shared<std::vector<double>>(channel);
        double sum = 0.0;
        for (double& sample : *samples) {
            sample /= peak;
            sum += sample * sample;
        }
        loop.rms[c] = std::sqrt(sum / static_cast<double>(samples->size()));
        loop.samples[c] = std::move(samples);
    }
    return loop;
}

}  // namespace afterload::runner
