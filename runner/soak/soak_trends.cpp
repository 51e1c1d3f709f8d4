#include "runner/soak/soak_trends.hpp"

#include "analysis/soak/trend.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::runner {

namespace {

/// How much of a quantity matters: within it the quantity stands still.
double tolerance_of(const std::string& quantity, double scale) {
    if (quantity == "level_drift" || quantity == "channel_difference") {
        return 0.05;  // dB
    }
    if (quantity == "heat_sink" || quantity == "ambient" || quantity == "load_temperature") {
        return 2.0;  // K
    }
    if (quantity == "offset") {
        return 0.01;  // V
    }
    // What is larger than half of itself matters, of distortion, hum, noise and power.
    return std::max(0.5 * std::abs(scale), 1e-9);
}

}  // namespace

std::size_t SoakTrends::index_of(const std::string& quantity, int channel,
                                 const std::string& unit) {
    const auto [place, fresh] = places_.try_emplace({quantity, channel}, trends_.size());
    if (fresh) {
        SoakTrend trend;
        trend.quantity = quantity;
        trend.channel = channel;
        trend.unit = unit;
        trends_.push_back(std::move(trend));
        minutes_.emplace_back();
    }
    return place->second;
}

void SoakTrends::add(const std::string& quantity, int channel, const std::string& unit,
                     double value) {
    if (!std::isfinite(value)) {
        return;
    }
    Minute& minute = minutes_[index_of(quantity, channel, unit)];
    minute.low = minute.count == 0 ? value : std::min(minute.low, value);
    minute.high = minute.count == 0 ? value : std::max(minute.high, value);
    minute.sum += value;
    ++minute.count;
}

void SoakTrends::close_minute(Seconds at) {
    for (std::size_t i = 0; i < trends_.size(); ++i) {
        Minute& minute = minutes_[i];
        if (minute.count > 0) {
            trends_[i].points.push_back(
                {at, minute.sum / static_cast<double>(minute.count), minute.low, minute.high});
        }
        minute = {};
    }
}

void SoakTrends::flag_at(const std::string& quantity, int channel, std::optional<double> high,
                         std::optional<double> low) {
    const auto place = places_.find({quantity, channel});
    if (place != places_.end()) {
        trends_[place->second].flag = high;
        trends_[place->second].flag_low = low;
    }
}

void SoakTrends::go_on_from(std::vector<SoakTrend> earlier) {
    trends_ = std::move(earlier);
    minutes_.assign(trends_.size(), {});
    places_.clear();
    for (std::size_t i = 0; i < trends_.size(); ++i) {
        places_[{trends_[i].quantity, trends_[i].channel}] = i;
    }
}

std::vector<SoakTrend> SoakTrends::all(bool over) const {
    std::vector<SoakTrend> out = trends_;
    if (!over) {
        return out;
    }
    for (SoakTrend& trend : out) {
        std::vector<analysis::DatedFigure> figures;
        for (const SoakTrendPoint& point : trend.points) {
            figures.push_back({point.at, point.mean, 0.0});
        }
        if (figures.size() < 2) {
            continue;
        }
        analysis::TrendSettings settings;
        settings.tolerance = tolerance_of(trend.quantity, figures.front().value);
        const analysis::Trend found = analysis::trend_of(figures, settings);
        trend.verdict = analysis::name(found.verdict);
        trend.what = found.what;
    }
    return out;
}

}  // namespace afterload::runner
