/// The last samples of a few channels, in one piece each.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace afterload::analysis {

class BlockBuffer {
public:
    /// The first sample that comes has the number `first`.
    explicit BlockBuffer(std::size_t channels, std::int64_t first = 0)
        : samples_(channels), begin_{first} {}

    void append(std::span<const std::span<const double>> block) {
        for (std::size_t c = 0; c < samples_.size(); ++c) {
            samples_[c].insert(samples_[c].end(), block[c].begin(), block[c].end());
        }
    }
    /// Forgets what lies before sample `first`, once that is more than three quarters of all:
    /// moving the rest then costs little.
    void keep_from(std::int64_t first) {
        if (4 * (first - begin_) <= 3 * (end() - begin_)) {
            return;
        }
        for (auto& channel : samples_) {
            channel.erase(channel.begin(),
                          channel.begin() + static_cast<std::ptrdiff_t>(first - begin_));
        }
        begin_ = first;
    }

    [[nodiscard]] std::size_t channels() const { return samples_.size(); }
    /// First sample there is, and first that is not there yet.
    [[nodiscard]] std::int64_t begin() const { return begin_; }
    [[nodiscard]] std::int64_t end() const {
        return begin_ + static_cast<std::int64_t>(samples_.front().size());
    }
    /// Samples [first, last) of channel c; both must be there.
    [[nodiscard]] std::span<double> at(std::size_t c, std::int64_t first, std::int64_t last) {
        return std::span{samples_[c]}.subspan(static_cast<std::size_t>(first - begin_),
                                              static_cast<std::size_t>(last - first));
    }

private:
    std::vector<std::vector<double>> samples_;
    std::int64_t begin_;
};

}  // namespace afterload::analysis
