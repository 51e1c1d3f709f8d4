#include "runner/soak/soak_stream.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

namespace afterload::runner {

using instruments::BenchResult;
using instruments::Task;

SoakStream::SoakStream(instruments::Bench& bench, const sequences::BenchFile& file,
                       std::optional<Hertz> mains)
    : bench_{bench}, rate_{file.card.rate}, mains_{mains} {}

/// A watch knows one range: another one gets another watch, its events numbered on.
void SoakStream::make_watch() {
    analysis::StimulusWatchSettings settings;
    settings.rate = rate_;
    settings.full_scale = full_scale_;
    settings.mains = mains_;
    ids_before_ = highest_id_;
    frames_before_ += watch_ ? watch_->frames().count() : 0;
    watch_.emplace(settings, analysis::WatchedStimulus{});
}

Task<BenchResult<void>> SoakStream::begin(Seconds now, analysis::WatchedStimulus watched) {
    auto opened = co_await bench_.capture().stream();
    if (!opened) {
        co_return tl::unexpected(std::move(opened.error()));
    }
    stream_ = *std::move(opened);
    std::vector<VoltsPeak> full_scale;
    for (const ChannelCalibration& one : stream_->calibration()) {
        full_scale.push_back(one.full_scale);
    }
    if (!watch_ || full_scale != full_scale_) {
        full_scale_ = full_scale;
        make_watch();
        away_ = bench_.clock().now();
    } else {
        away_ += bench_.clock().now() - closed_at_;
    }
    watch_->relearn(watched);
    anchors_.push_back({this->watched(), now});
    told_time_ = now;
    co_return BenchResult<void>{};
}

void SoakStream::end(Seconds /*now*/) {
    stream_.reset();
    closed_at_ = bench_.clock().now();
}

Task<BenchResult<void>> SoakStream::next(SoakPlayer& player, Seconds now) {
    const Frames frames = frames_in(soak_block, rate_);
    const auto came = co_await stream_->next(frames, block_);
    if (!came) {
        co_return came;
    }
    block_from_ = now;
    loudest_ = 0.0;
    std::array<std::span<const double>, 2> record;
    std::array<std::span<const double>, 2> stimulus;
    for (std::size_t c = 0; c < 2; ++c) {
        const std::vector<std::int32_t>& codes = block_.channels[c];
        volts_[c].resize(codes.size());
        played_[c].resize(codes.size());
        const double scale = std::ldexp(full_scale_[c].in<VoltsPeak>(), 1 - stream_->bits());
        double sum = 0.0;
        double squares = 0.0;
        for (std::size_t i = 0; i < codes.size(); ++i) {
            const double volts = scale * static_cast<double>(codes[i]);
            volts_[c][i] = volts;
            sum += volts;
            squares += volts * volts;
        }
        const auto count = static_cast<double>(codes.size());
        loudest_ = std::max(
            loudest_, std::sqrt(std::max(0.0, squares / count - sum * sum / (count * count))));
        record[c] = volts_[c];
    }
    player.render(played_[0], played_[1]);
    stimulus = {std::span<const double>{played_[0]}, std::span<const double>{played_[1]}};
    watch_->feed(record, player.what() == SoakPlayer::What::nothing
                             ? std::span<const std::span<const double>>{}
                             : std::span<const std::span<const double>>{stimulus});
    if (now - told_time_ >= Seconds{1.0}) {
        told_time_ = now;
        watch_->came_by(block_.came_by - away_);
    }
    co_return BenchResult<void>{};
}

void SoakStream::relearn(analysis::WatchedStimulus watched) {
    if (watch_) {
        watch_->relearn(watched);
    }
}

void SoakStream::drive_changed(Gain change) {
    if (watch_) {
        watch_->drive_changed(change);
    }
}

bool SoakStream::learning() const {
    return !watch_ || watch_->learning();
}

std::optional<Frames> SoakStream::latency() const {
    const auto frames = watch_ ? watch_->latency_frames() : std::nullopt;
    return frames ? std::optional{Frames{std::llround(*frames)}} : std::nullopt;
}

std::vector<analysis::SoakEvent> SoakStream::take_events() {
    std::vector<analysis::SoakEvent> events = watch_->take_events();
    for (analysis::SoakEvent& event : events) {
        event.id += ids_before_;
        event.part_of += event.part_of == 0 ? 0 : ids_before_;
        highest_id_ = std::max(highest_id_, event.id);
        event.seen.start += duration(Frames{frames_before_}, rate_);
    }
    return events;
}

std::vector<analysis::SoakReading> SoakStream::take_readings() {
    std::vector<analysis::SoakReading> readings = watch_->take_readings();
    for (analysis::SoakReading& reading : readings) {
        reading.start += duration(Frames{frames_before_}, rate_);
    }
    return readings;
}

Seconds SoakStream::soak_time(Seconds of_the_watch) const {
    const Anchor* best = &anchors_.front();
    for (const Anchor& anchor : anchors_) {
        best = anchor.of_the_watch <= of_the_watch ? &anchor : best;
    }
    return best->of_the_soak + of_the_watch - best->of_the_watch;
}

Seconds SoakStream::watched() const {
    return duration(Frames{frames_before_ + (watch_ ? watch_->frames().count() : 0)}, rate_);
}

}  // namespace afterload::runner
