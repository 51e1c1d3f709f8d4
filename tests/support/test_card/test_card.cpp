// A sound card for tests, as an ALSA plugin: what is played comes back on the first channel of the
// capture 480 frames later, and the second numbers the captured frames, from 0, in the upper 24 of
// its 32 bits. Time is the machine's monotonic clock. It fails when told: the file that
// AFTERLOAD_TEST_CARD names holds lines
//
//     lose FRAME COUNT     the capture loses COUNT frames at FRAME (an overrun)
//     starve FRAME         playing stops for want of samples when FRAME is due (an underrun)
//     unplug FRAME         the card is gone when FRAME is due
//     stall FRAME          no frame moves any more from FRAME on, and nobody says why
//
// Source  alsa-lib, pcm_ioplug.h: the external I/O plugin interface.
#include <algorithm>
#include <alsa/asoundlib.h>
#include <alsa/pcm_external.h>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <mutex>
#include <sstream>
#include <string>
#include <sys/timerfd.h>
#include <unistd.h>
#include <vector>

namespace {

constexpr std::int64_t loop_delay = 480;
constexpr std::size_t ring_frames = std::size_t{1} << 17U;

double monotonic() {
    const auto since = std::chrono::steady_clock::now().time_since_epoch();
    return std::chrono::duration<double>(since).count();
}

struct Fault {
    std::string kind;
    std::int64_t frame = 0;
    std::int64_t count = 0;
    bool done = false;
};

// What both directions of the card share.
struct Loop {
    std::mutex mutex;
    std::array<std::int32_t, ring_frames> ring{};  // by played frame
    double play_start = 0.0;                       // when played frame play_first was due
    std::int64_t play_first = 0;
    std::int64_t written = 0;
    bool playing = false;
};
Loop& loop() {
    static Loop one;
    return one;
}

struct Card {
    snd_pcm_ioplug_t io{};
    int timer = -1;
    double started = 0.0;
    std::int64_t before = 0;  // frames that had passed when it was started last
    std::int64_t moved = 0;   // frames handed over since the opening
    bool running = false;
    bool gone = false;
    std::vector<Fault> faults;

    [[nodiscard]] bool plays() const { return io.stream == SND_PCM_STREAM_PLAYBACK; }
    // Frames that are due by now, since the opening.
    [[nodiscard]] std::int64_t due() const {
        return running ? before + static_cast<std::int64_t>((monotonic() - started) * io.rate)
                       : before;
    }
    Fault* fault(const char* kind, std::int64_t due_now) {
        for (Fault& one : faults) {
            if (!one.done && one.kind == kind && one.frame <= due_now) {
                return &one;
            }
        }
        return nullptr;
    }
};

Card& card_of(snd_pcm_ioplug_t* io) {
    return *static_cast<Card*>(io->private_data);
}

int start(snd_pcm_ioplug_t* io) {
    Card& card = card_of(io);
    if (card.gone) {
        return -ENODEV;
    }
    card.started = monotonic();
    card.before = card.plays() ? card.before : card.moved;
    card.running = true;
    if (card.plays()) {
        const std::lock_guard lock{loop().mutex};
        loop().play_start = card.started;
        loop().play_first = card.before;
        loop().playing = true;
    }
    itimerspec every{};
    every.it_value.tv_nsec = 2000000;
    every.it_interval.tv_nsec = 2000000;
    timerfd_settime(card.timer, 0, &every, nullptr);
    return 0;
}

int stop(snd_pcm_ioplug_t* io) {
    Card& card = card_of(io);
    card.before = card.moved;
    card.running = false;
    if (card.plays()) {
        const std::lock_guard lock{loop().mutex};
        loop().playing = false;
    }
    return 0;
}

snd_pcm_sframes_t pointer(snd_pcm_ioplug_t* io) {
    Card& card = card_of(io);
    std::int64_t due = card.due();
    const auto size = static_cast<std::int64_t>(io->buffer_size);
    if (card.gone || card.fault("unplug", due) != nullptr) {
        card.gone = true;
        return -ENODEV;
    }
    if (const Fault* stalled = card.fault("stall", due)) {
        due = stalled->frame;
    }
    if (card.plays()) {
        if (Fault* starved = card.fault("starve", due)) {
            starved->done = true;
            return -EPIPE;
        }
        if (due > card.moved) {
            return card.running ? -EPIPE : card.moved % size;
        }
        return due % size;
    }
    if (Fault* lost = card.fault("lose", due)) {
        lost->done = true;
        card.moved += lost->count;  // their numbers are gone as well
        return -EPIPE;
    }
    if (due - card.moved > size) {  // nobody fetched them: they and their numbers are gone
        card.moved = due;
        return -EPIPE;
    }
    return due % size;
}

std::int32_t heard(std::int64_t frame, const Card& card) {
    const double at = card.started + static_cast<double>(frame - card.before) / card.io.rate;
    Loop& shared = loop();
    if (!shared.playing) {
        return 0;
    }
    const std::int64_t played =
        shared.play_first +
        static_cast<std::int64_t>(std::llround((at - shared.play_start) * card.io.rate)) -
        loop_delay;
    const bool kept = played >= 0 && played < shared.written &&
                      shared.written - played < static_cast<std::int64_t>(ring_frames);
    return kept ? shared.ring[static_cast<std::size_t>(played) % ring_frames] : 0;
}

snd_pcm_sframes_t transfer(snd_pcm_ioplug_t* io, const snd_pcm_channel_area_t* areas,
                           snd_pcm_uframes_t offset, snd_pcm_uframes_t size) {
    Card& card = card_of(io);
    const std::lock_guard lock{loop().mutex};
    const auto sample = [&](unsigned channel, snd_pcm_uframes_t n) {
        const auto& area = areas[channel];
        return reinterpret_cast<std::int32_t*>(static_cast<char*>(area.addr) +
                                               (area.first + (offset + n) * area.step) / 8);
    };
    for (snd_pcm_uframes_t n = 0; n < size; ++n) {
        const std::int64_t frame = card.moved++;
        if (card.plays()) {
            loop().ring[static_cast<std::size_t>(frame) % ring_frames] = *sample(0, n);
            loop().written = card.moved;
        } else {
            *sample(0, n) = heard(frame, card);
            *sample(1, n) = static_cast<std::int32_t>(static_cast<std::uint32_t>(frame) << 8U);
        }
    }
    return static_cast<snd_pcm_sframes_t>(size);
}

int prepare(snd_pcm_ioplug_t* io) {
    Card& card = card_of(io);
    if (card.gone) {
        return -ENODEV;
    }
    card.before = card.moved;
    card.running = false;
    return 0;
}

int poll_revents(snd_pcm_ioplug_t* io, pollfd* descriptors, unsigned count,
                 unsigned short* events) {
    if (count != 1) {
        return -EINVAL;
    }
    std::uint64_t ticks = 0;
    if ((descriptors->revents & POLLIN) != 0) {
        [[maybe_unused]] const auto got = read(descriptors->fd, &ticks, sizeof ticks);
    }
    *events = io->stream == SND_PCM_STREAM_PLAYBACK ? POLLOUT : POLLIN;
    return 0;
}

int close_card(snd_pcm_ioplug_t* io) {
    Card* const card = &card_of(io);
    close(card->timer);
    delete card;
    return 0;
}

const snd_pcm_ioplug_callback_t callbacks = [] {
    snd_pcm_ioplug_callback_t table{};
    table.start = start;
    table.stop = stop;
    table.pointer = pointer;
    table.transfer = transfer;
    table.prepare = prepare;
    table.poll_revents = poll_revents;
    table.close = close_card;
    return table;
}();

std::vector<Fault> faults_told() {
    std::vector<Fault> faults;
    // NOLINTNEXTLINE(concurrency-mt-unsafe): nobody sets it while a card opens
    const char* const path = std::getenv("AFTERLOAD_TEST_CARD");
    std::ifstream file{path != nullptr ? path : ""};
    for (std::string line; std::getline(file, line);) {
        std::istringstream words{line};
        Fault fault;
        words >> fault.kind >> fault.frame >> fault.count;
        faults.push_back(fault);
    }
    return faults;
}

int open_card(snd_pcm_t** made, const char* name, snd_pcm_stream_t stream, int mode) {
    auto* const card = new Card;
    card->timer = timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
    card->faults = faults_told();
    if (stream == SND_PCM_STREAM_PLAYBACK) {
        const std::lock_guard lock{loop().mutex};
        loop().written = 0;
        loop().playing = false;
    }
    card->io.version = SND_PCM_IOPLUG_VERSION;
    card->io.name = "a card for tests";
    card->io.poll_fd = card->timer;
    card->io.poll_events = POLLIN;
    card->io.callback = &callbacks;
    card->io.private_data = card;
    int error = snd_pcm_ioplug_create(&card->io, name, stream, mode);
    if (error < 0) {
        close(card->timer);
        delete card;
        return error;
    }
    const std::array<unsigned, 1> access{SND_PCM_ACCESS_RW_INTERLEAVED};
    const std::array<unsigned, 1> format{SND_PCM_FORMAT_S32};
    const std::array<unsigned, 3> rates{44100, 48000, 96000};
    snd_pcm_ioplug_set_param_list(&card->io, SND_PCM_IOPLUG_HW_ACCESS, 1, access.data());
    snd_pcm_ioplug_set_param_list(&card->io, SND_PCM_IOPLUG_HW_FORMAT, 1, format.data());
    snd_pcm_ioplug_set_param_list(&card->io, SND_PCM_IOPLUG_HW_RATE, 3, rates.data());
    snd_pcm_ioplug_set_param_minmax(&card->io, SND_PCM_IOPLUG_HW_CHANNELS, 2, 2);
    snd_pcm_ioplug_set_param_minmax(&card->io, SND_PCM_IOPLUG_HW_PERIOD_BYTES, 1024, 65536);
    snd_pcm_ioplug_set_param_minmax(&card->io, SND_PCM_IOPLUG_HW_BUFFER_BYTES, 4096, 262144);
    snd_pcm_ioplug_set_param_minmax(&card->io, SND_PCM_IOPLUG_HW_PERIODS, 2, 256);
    *made = card->io.pcm;
    return 0;
}

}  // namespace

extern "C" {
SND_PCM_PLUGIN_DEFINE_FUNC(afterload_test) {
    for (auto i = snd_config_iterator_first(conf); i != snd_config_iterator_end(conf);
         i = snd_config_iterator_next(i)) {
        // its only settings are the type and what every device may have
    }
    (void)root;
    return open_card(pcmp, name, stream, mode);
}
SND_PCM_PLUGIN_SYMBOL(afterload_test);
}
