#include "instruments/card/pcm.hpp"

#include "instruments/card/alsa_messages.hpp"
#include "instruments/card/sample_layout.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <alsa/asoundlib.h>
#include <array>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

std::int32_t value_of(const std::byte* from, const SampleLayout& layout) {
    std::uint32_t raw = 0;
    std::memcpy(&raw, from, layout.bytes);
    if (layout.format == SND_PCM_FORMAT_FLOAT_LE) {
        float share = 0.0F;
        std::memcpy(&share, from, sizeof share);
        const double scaled = std::nearbyint(static_cast<double>(share) * 0x1p31);
        return static_cast<std::int32_t>(
            std::clamp(std::isfinite(scaled) ? scaled : 0.0,
                       static_cast<double>(std::numeric_limits<std::int32_t>::min()),
                       static_cast<double>(std::numeric_limits<std::int32_t>::max())));
    }
    return static_cast<std::int32_t>(raw << (32 - layout.bits));
}

void put(std::int32_t value, std::byte* to, const SampleLayout& layout) {
    if (layout.format == SND_PCM_FORMAT_FLOAT_LE) {
        const auto share = static_cast<float>(static_cast<double>(value) * 0x1p-31);
        std::memcpy(to, &share, sizeof share);
        return;
    }
    const std::int32_t shifted = value >> (32 - layout.bits);
    std::memcpy(to, &shifted, layout.bytes);
}

std::string said(int error) {
    return snd_strerror(error);
}

}  // namespace

struct Pcm::Handle {
    snd_pcm_t* pcm = nullptr;
    SampleLayout layout = sample_layouts[0];
    Direction direction = Direction::play;
    std::vector<std::byte> bytes;

    Handle() = default;
    Handle(const Handle&) = delete;
    Handle& operator=(const Handle&) = delete;
    ~Handle() {
        if (pcm != nullptr) {
            snd_pcm_close(pcm);
        }
    }

    [[nodiscard]] Moved failed(long error) const {
        if (error == -EAGAIN) {
            return {Outcome::moved, 0, {}};
        }
        if (error == -EPIPE || error == -ESTRPIPE) {
            return {Outcome::stopped, 0, {}};
        }
        return {Outcome::vanished, 0, said(static_cast<int>(error))};
    }
};

Pcm::Pcm() : handle_{std::make_unique<Handle>()} {}
Pcm::~Pcm() = default;

BenchResult<std::unique_ptr<Pcm>> Pcm::open(const PcmSettings& settings, Direction direction) {
    const bool plays = direction == Direction::play;
    const std::string asked =
        fmt::format("open “{}” to {}", settings.device, plays ? "play" : "record");
    const auto failure = [&](BenchFailure::Kind kind, std::string answered) {
        return tl::unexpected(
            BenchFailure{kind, "sound card", asked, std::move(answered), Seconds{0.0}});
    };
    silence_alsa_messages();
    std::unique_ptr<Pcm> made{new Pcm};
    Handle& handle = *made->handle_;
    handle.direction = direction;
    int error =
        snd_pcm_open(&handle.pcm, settings.device.c_str(),
                     plays ? SND_PCM_STREAM_PLAYBACK : SND_PCM_STREAM_CAPTURE, SND_PCM_NONBLOCK);
    if (error == -EBUSY) {
        return failure(BenchFailure::Kind::refused,
                       "another program holds it: close that, or stop the desktop's audio server");
    }
    if (error < 0) {
        return failure(BenchFailure::Kind::lost,
                       said(error) + "; `afterload instruments` lists what is there");
    }
    const bool hardware = snd_pcm_type(handle.pcm) == SND_PCM_TYPE_HW;
    if (!hardware && !settings.stand_in) {
        return failure(
            BenchFailure::Kind::refused,
            fmt::format("it is no card but ALSA's “{}”, behind which samples may be changed: name "
                        "the card itself (hw:…), or say stand_in: true in the bench file",
                        snd_pcm_type_name(snd_pcm_type(handle.pcm))));
    }

    snd_pcm_hw_params_t* hw = nullptr;
    snd_pcm_hw_params_alloca(&hw);
    error = snd_pcm_hw_params_any(handle.pcm, hw);
    if (error < 0) {
        return failure(BenchFailure::Kind::lost, said(error));
    }
    snd_pcm_hw_params_set_rate_resample(handle.pcm, hw, 0);
    error = snd_pcm_hw_params_set_access(handle.pcm, hw, SND_PCM_ACCESS_RW_INTERLEAVED);
    if (error < 0) {
        return failure(BenchFailure::Kind::refused, "it takes no interleaved frames");
    }
    const auto rate = static_cast<unsigned>(std::lround(settings.rate.frequency().in<Hertz>()));
    error = snd_pcm_hw_params_set_rate(handle.pcm, hw, rate, 0);
    if (error < 0) {
        unsigned lowest = 0;
        unsigned highest = 0;
        snd_pcm_hw_params_get_rate_min(hw, &lowest, nullptr);
        snd_pcm_hw_params_get_rate_max(hw, &highest, nullptr);
        return failure(BenchFailure::Kind::refused,
                       fmt::format("{} Hz is no rate of this card; it has rates from {} to {} Hz",
                                   rate, lowest, highest));
    }
    unsigned channels = 0;
    error = snd_pcm_hw_params_get_channels_min(hw, &channels);
    channels = std::max(channels, static_cast<unsigned>(settings.channels));
    if (error >= 0) {
        error = snd_pcm_hw_params_set_channels_near(handle.pcm, hw, &channels);
    }
    if (error < 0 || channels < static_cast<unsigned>(settings.channels)) {
        return failure(BenchFailure::Kind::refused, fmt::format("{} channels are needed, it has {}",
                                                                settings.channels, channels));
    }
    const auto layout =
        std::find_if(sample_layouts.begin(), sample_layouts.end(), [&](const SampleLayout& one) {
            return one.bits >= settings.bits &&
                   snd_pcm_hw_params_test_format(handle.pcm, hw, one.format) == 0;
        });
    if (layout == sample_layouts.end()) {
        std::vector<std::string> has;
        for (const SampleLayout& one : sample_layouts) {
            if (snd_pcm_hw_params_test_format(handle.pcm, hw, one.format) == 0) {
                has.emplace_back(snd_pcm_format_name(one.format));
            }
        }
        return failure(BenchFailure::Kind::refused,
                       fmt::format("{} bits are no format of this card; it has {}", settings.bits,
                                   has.empty() ? "none that is read here"
                                               : fmt::format("{}", fmt::join(has, ", "))));
    }
    snd_pcm_hw_params_set_format(handle.pcm, hw, layout->format);
    handle.layout = *layout;
    // Short enough that a stalled program falls silent within a tenth of a second, long enough for
    // a small computer.
    unsigned period_us = 10000;
    unsigned buffer_us = 80000;
    snd_pcm_hw_params_set_period_time_near(handle.pcm, hw, &period_us, nullptr);
    snd_pcm_hw_params_set_buffer_time_near(handle.pcm, hw, &buffer_us, nullptr);
    error = snd_pcm_hw_params(handle.pcm, hw);
    if (error < 0) {
        return failure(BenchFailure::Kind::refused, said(error));
    }

    unsigned got_rate = 0;
    snd_pcm_uframes_t buffer = 0;
    snd_pcm_uframes_t period = 0;
    snd_pcm_hw_params_get_rate(hw, &got_rate, nullptr);
    snd_pcm_hw_params_get_buffer_size(hw, &buffer);
    snd_pcm_hw_params_get_period_size(hw, &period, nullptr);
    if (got_rate != rate) {
        return failure(BenchFailure::Kind::refused,
                       fmt::format("it runs at {} Hz and not at {} Hz", got_rate, rate));
    }
    const int significant = snd_pcm_hw_params_get_sbits(hw);
    made->bits_ = std::min(layout->bits, significant > 0 ? significant : layout->bits);
    if (made->bits_ < settings.bits) {
        return failure(BenchFailure::Kind::refused,
                       fmt::format("of {} bits only {} mean anything", layout->bits, made->bits_));
    }

    snd_pcm_sw_params_t* sw = nullptr;
    snd_pcm_sw_params_alloca(&sw);
    snd_pcm_sw_params_current(handle.pcm, sw);
    // It starts when told, and stops by itself when it is not fed (the threshold that ALSA has
    // anyway): a program that stalls falls silent.
    snd_pcm_sw_params_set_start_threshold(handle.pcm, sw, buffer * 4);
    snd_pcm_sw_params_set_stop_threshold(handle.pcm, sw, buffer);
    snd_pcm_sw_params_set_avail_min(handle.pcm, sw, period);
    error = snd_pcm_sw_params(handle.pcm, sw);
    if (error < 0) {
        return failure(BenchFailure::Kind::refused, said(error));
    }
    made->channels_ = static_cast<int>(channels);
    made->buffer_ = buffer;
    made->period_ = period;
    made->format_ =
        fmt::format("{} bits in {}, {} channels, {} Hz, buffer {} frames", made->bits_,
                    snd_pcm_format_name(layout->format), channels, got_rate, made->buffer_);
    return made;
}

Pcm::Moved Pcm::start() {
    const int error = snd_pcm_start(handle_->pcm);
    return error < 0 ? handle_->failed(error) : Moved{};
}

bool Pcm::prepare() {
    return snd_pcm_prepare(handle_->pcm) >= 0;
}

void Pcm::drop() {
    snd_pcm_drop(handle_->pcm);
}

void Pcm::wait(Seconds at_most) {
    snd_pcm_wait(handle_->pcm, static_cast<int>(std::ceil(at_most.in<Seconds>() * 1e3)));
}

Pcm::Moved Pcm::read(std::span<std::int32_t> interleaved) {
    const auto channels = static_cast<std::size_t>(channels_);
    const SampleLayout& layout = handle_->layout;
    const std::size_t frames = interleaved.size() / channels;
    handle_->bytes.resize(frames * channels * layout.bytes);
    const snd_pcm_sframes_t got = snd_pcm_readi(handle_->pcm, handle_->bytes.data(), frames);
    if (got < 0) {
        return handle_->failed(got);
    }
    const std::size_t samples = static_cast<std::size_t>(got) * channels;
    for (std::size_t i = 0; i < samples; ++i) {
        interleaved[i] = value_of(&handle_->bytes[i * layout.bytes], layout);
    }
    return {Outcome::moved, static_cast<std::size_t>(got), {}};
}

Pcm::Moved Pcm::write(std::span<const std::int32_t> interleaved) {
    const auto channels = static_cast<std::size_t>(channels_);
    const SampleLayout& layout = handle_->layout;
    handle_->bytes.resize(interleaved.size() * layout.bytes);
    for (std::size_t i = 0; i < interleaved.size(); ++i) {
        put(interleaved[i], &handle_->bytes[i * layout.bytes], layout);
    }
    const snd_pcm_sframes_t got =
        snd_pcm_writei(handle_->pcm, handle_->bytes.data(), interleaved.size() / channels);
    return got < 0 ? handle_->failed(got)
                   : Moved{Outcome::moved, static_cast<std::size_t>(got), {}};
}

std::optional<std::int64_t> Pcm::delay() const {
    snd_pcm_sframes_t frames = 0;
    if (snd_pcm_delay(handle_->pcm, &frames) < 0) {
        return std::nullopt;
    }
    return frames;
}

Pcm::Moved Pcm::ready() const {
    const snd_pcm_sframes_t frames = snd_pcm_avail(handle_->pcm);
    return frames < 0 ? handle_->failed(frames)
                      : Moved{Outcome::moved, static_cast<std::size_t>(frames), {}};
}

}  // namespace afterload::instruments
