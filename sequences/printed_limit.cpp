#include "analysis/level.hpp"
#include "sequences/printed_reading.hpp"

#include <fmt/format.h>

#include <cmath>

namespace afterload::sequences {
namespace {

/// Figures that say how far something is off, above or below nothing.
bool around_zero(FigureKind kind) {
    switch (kind) {
        case FigureKind::frequency_response:
        case FigureKind::channel_balance:
        case FigureKind::level_linearity:
        case FigureKind::equalisation_error:
        case FigureKind::volume_tracking:
        case FigureKind::dc_offset:
            return true;
        default:
            return false;
    }
}

/// Four digits: what a tolerance in decibels leaves of a voltage.
double rounded(double value) {
    if (value == 0.0) {
        return value;
    }
    const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - 3.0);
    return std::round(value / step) * step;
}

}  // namespace

void PrintedReading::compose() {
    if (!value_ && volts_in_ && volts_out_ && *volts_in_ > 0.0 && *volts_out_ > 0.0) {
        value_ = std::round(100.0 * gain_of(AmplitudeRatio{*volts_out_ / *volts_in_}).decibels()) /
                 100.0;
        out_.beside.push_back("from the two voltages");
    }
    across_a_resistor();
    if (wrong_) {
        return;
    }
    if (kind_ == FigureKind::tone_range_error) {
        tone_range();
    } else if (around_zero(kind_)) {
        about_zero();
    } else if (range_) {
        limit_of_range();
    } else if (!value_) {
        fail("the value is missing", example());
    } else if (better(kind_) == Better::neither) {
        about_nominal();
    } else {
        one_sided();
    }
}

void PrintedReading::across_a_resistor() {
    if (!volts_across_) {
        return;
    }
    if (!ohms_across_ || *ohms_across_ <= 0.0) {
        fail("a voltage across a resistor is an idle current only with its ohms",
             "write it as 12 mV across 0.33 ohm");
        return;
    }
    const auto amperes = [&](double volts) { return rounded(volts / *ohms_across_); };
    out_.beside.push_back(fmt::format("{} across {}",
                                      quantity_text(*volts_across_, Dimension::volts),
                                      quantity_text(*ohms_across_, Dimension::ohms)));
    if (tolerance_ && has_unit(tolerance_->up, Dimension::volts)) {
        const double up = si(tolerance_->up, Dimension::volts);
        const double down = si(tolerance_->down, Dimension::volts);
        range_ = std::pair{amperes(*volts_across_ - down), amperes(*volts_across_ + up)};
        tolerance_.reset();
    } else {
        value_ = amperes(*volts_across_);
    }
}

void PrintedReading::tone_range() {
    if (!tolerance_ && !value_) {
        fail("the value is missing", example());
        return;
    }
    out_.beside.push_back(
        "boost and cut of " +
        (tolerance_ ? tolerance_->up.printed : quantity_text(std::abs(*value_), dimension_)));
    out_.rated.limit.nominal = 0.0;
}

void PrintedReading::about_zero() {
    Limit& limit = out_.rated.limit;
    const Dimension own = dimension_;
    if (value_ && *value_ == 0.0 && tolerance_) {
        value_.reset();
    }
    if (range_) {
        limit = {range_->first, range_->second, std::nullopt};
    } else if (tolerance_) {
        limit = {-si(tolerance_->down, own), si(tolerance_->up, own), std::nullopt};
    } else if (!value_) {
        fail("how far it may be off is missing", example());
    } else if (kind_ == FigureKind::frequency_response && negative_) {
        limit.at_least = *value_;
    } else if (kind_ == FigureKind::frequency_response && side_ != Bound::Side::at_most) {
        fail(fmt::format("{}: above, below, or both?", quantity_text(*value_, own)),
             "write ±1 dB, or +0/-1 dB");
    } else {
        const double width = std::abs(*value_);
        limit = {-width, width, std::nullopt};
    }
    if (value_ && tolerance_) {
        fail("a value and a tolerance: which is the limit?", example());
    }
}

void PrintedReading::limit_of_range() {
    Limit& limit = out_.rated.limit;
    if (kind_ == FigureKind::power_bandwidth) {
        limit.at_most = range_->first;
        out_.upper_end = Limit{range_->second, std::nullopt, std::nullopt};
        return;
    }
    if (value_) {
        fail("a value and a range: which is the limit?", example());
        return;
    }
    limit = {range_->first, range_->second, std::nullopt};
}

void PrintedReading::one_sided() {
    const Bound::Side due =
        better(kind_) == Better::smaller ? Bound::Side::at_most : Bound::Side::at_least;
    if (side_ && *side_ != due) {
        fail(due == Bound::Side::at_most ? "this figure is the better the smaller it is"
                                         : "this figure is the better the larger it is",
             example());
        return;
    }
    if (tolerance_) {
        if (dimension_ == Dimension::volts || dimension_ == Dimension::watts) {
            about_nominal();
        } else {
            fail("this figure has one limit and no tolerance", example());
        }
        return;
    }
    // A separation or a ratio may be printed with the minus of a level.
    const double value = dimension_ == Dimension::decibels ? std::abs(*value_) : *value_;
    (due == Bound::Side::at_most ? out_.rated.limit.at_most : out_.rated.limit.at_least) = value;
}

void PrintedReading::about_nominal() {
    Limit& limit = out_.rated.limit;
    if (side_) {
        (*side_ == Bound::Side::at_most ? limit.at_most : limit.at_least) = *value_;
        return;
    }
    limit.nominal = *value_;
    if (tolerance_) {
        auto whole = toleranced(limit, *tolerance_);
        if (whole) {
            limit = *whole;
        }
    }
}

std::optional<Limit> PrintedReading::toleranced(const Limit& nominal,
                                                const PrintedTolerance& tolerance) {
    const double middle = *nominal.nominal;
    const PrintedWord& up = tolerance.up;
    const PrintedWord& down = tolerance.down;
    Limit limit;
    const bool decibels_of_volts =
        is_decibels(up) && (dimension_ == Dimension::volts || dimension_ == Dimension::watts);
    if (decibels_of_volts) {
        const auto times = [&](double decibels) {
            const Gain gain{decibels};
            return dimension_ == Dimension::watts ? power_ratio(gain).in<PowerRatio>()
                                                  : amplitude_ratio(gain).in<AmplitudeRatio>();
        };
        limit.at_least = rounded(middle * times(-si(down, Dimension::decibels)));
        limit.at_most = rounded(middle * times(si(up, Dimension::decibels)));
    } else if (up.unit == "%" && dimension_ != Dimension::ratio) {
        limit.at_least = rounded(middle - si(down, Dimension::ratio) * std::abs(middle));
        limit.at_most = rounded(middle + si(up, Dimension::ratio) * std::abs(middle));
    } else {
        limit.at_least = middle - si(down, dimension_);
        limit.at_most = middle + si(up, dimension_);
    }
    if (up.text == down.text) {
        limit.nominal = middle;
    }
    if (!wrong_ && *limit.at_least >= *limit.at_most) {
        fail("a tolerance of nothing: no reading would keep it", "write it as ±1.5 dB or ±10 %");
    }
    return wrong_ ? std::nullopt : std::optional{limit};
}

}  // namespace afterload::sequences
