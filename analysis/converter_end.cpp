#include "analysis/converter_end.hpp"

#include <cmath>

namespace afterload::analysis {

ConverterEnd::ConverterEnd(int channel, double full_scale, double rate_hz)
    : channel_{channel},
      rate_hz_{rate_hz},
      end_{full_scale * (1.0 - std::ldexp(1.0, -15)) * (1.0 - 1e-9)} {}

void ConverterEnd::look(std::span<const double> samples, std::int64_t first,
                        std::vector<WatchEvent>& events) {
    for (std::size_t i = 0; i < samples.size(); ++i) {
        if (!(std::abs(samples[i]) >= end_)) {
            continue;
        }
        const std::int64_t n = first + static_cast<std::int64_t>(i);
        const int sign = samples[i] < 0.0 ? -1 : 1;
        run_ = n == last_ + 1 && sign == sign_ ? run_ + 1 : 1;
        last_ = n;
        sign_ = sign;
        if (run_ < 2) {
            continue;
        }
        if (count_ > 0 && static_cast<double>(n - until_) > 0.1 * rate_hz_) {
            finish(events);
        }
        if (count_ == 0) {
            first_ = n - 1;
        }
        count_ += run_ == 2 ? 2 : 1;
        until_ = n + 1;
    }
}

void ConverterEnd::finish(std::vector<WatchEvent>& events) {
    if (count_ == 0) {
        return;
    }
    WatchEvent event;
    event.kind = WatchEvent::Kind::clipping;
    event.channel = channel_;
    event.start = Seconds{static_cast<double>(first_) / rate_hz_};
    event.duration = Seconds{static_cast<double>(until_ - first_) / rate_hz_};
    event.size = static_cast<double>(count_);
    events.push_back(event);
    count_ = 0;
}

}  // namespace afterload::analysis
