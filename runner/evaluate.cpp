#include "runner/evaluate.hpp"

#include "analysis/measure.hpp"
#include "analysis/projection.hpp"
#include "analysis/verdict.hpp"
#include "runner/bench_share.hpp"
#include "runner/measured_conditions.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace afterload::runner {
namespace {

using analysis::BenchShare;
using analysis::ToneFit;
using sequences::FigureRequest;

/// One channel of one record, fitted once for all the figures asked of it.
struct ChannelOfRecord {
    Waveform waveform;
    std::optional<ToneFit> fit;  ///< of the channel's own tone
    std::string failure;         ///< why there is no fit
    double drive = 0.0;          ///< open-circuit V rms; 0: not driven
    BenchShare bench;
};

struct OpenedRecord {
    const MeasuredRecord* measured = nullptr;
    std::array<ChannelOfRecord, 2> channels;
    Conditions conditions;  ///< as driven, with the nominal frequency
};

const char* side(int channel) {
    return channel == 1 ? "left" : channel == 2 ? "right" : "both";
}

OpenedRecord open_record(const MeasuredRecord& measured, const StepPath& path,
                         const EvaluationContext& context) {
    OpenedRecord opened;
    opened.measured = &measured;
    const DrivenAs& driven = measured.stored.driven;
    opened.conditions = measured_conditions(path, driven, context.bench);
    const auto* range = find_range(context.bench, driven.range);
    for (std::size_t c = 0; c < 2; ++c) {
        ChannelOfRecord& channel = opened.channels[c];
        channel.waveform = calibrated(measured.record, c);
        channel.drive = c == 0 ? driven.drive_left_volts : driven.drive_right_volts;
        if (range != nullptr) {
            channel.bench = bench_share(context.bench, *range, static_cast<int>(c) + 1);
            if (!path.output.starts_with("speaker")) {
                channel.bench.load.reset();
            }
        }
        if (driven.silent || channel.drive <= 0.0) {
            continue;
        }
        analysis::ToneFitSettings settings;
        settings.nominal = driven.nominal;
        settings.mains = context.mains_nominal;
        auto fit = analysis::fit_tone(channel.waveform, settings);
        if (fit) {
            channel.fit = *std::move(fit);
        } else {
            channel.failure = fit.error().what;
        }
    }
    return opened;
}

/// The rating a figure is held against: the one asked for by id, else the maker's that applies,
/// else the house's.
const RatedFigure* rating_for(const FigureRequest& request, const Conditions& conditions,
                              const RatingSheet& sheet) {
    if (!request.scored) {
        return nullptr;
    }
    const RatedFigure* best = nullptr;
    for (const RatedFigure& rated : sheet.figures) {
        if (request.rated) {
            if (rated.id == *request.rated) {
                return &rated;
            }
            continue;
        }
        if (!applies(rated, request.figure, conditions)) {
            continue;
        }
        if (best == nullptr || (best->origin == RatedFigure::Origin::house &&
                                rated.origin == RatedFigure::Origin::maker)) {
            best = &rated;
        }
    }
    return best;
}

void hold_against(ScoredFigure& scored, const RatedFigure* rated, bool unstable) {
    if (rated == nullptr) {
        return;
    }
    scored.rating = *rated;
    for (const NeededCondition& missing : missing_conditions(*rated)) {
        scored.figure.assumed.push_back(missing.key);
    }
    scored.verdict = analysis::judge(scored.figure, *rated);
    if (scored.verdict->kind == analysis::VerdictKind::not_comparable) {
        scored.figure.assumed.clear();
    }
    if (unstable && scored.verdict->kind != analysis::VerdictKind::not_comparable) {
        scored.verdict->kind = analysis::VerdictKind::conditional_fail;
        scored.verdict->reason =
            "unstable: the level moved by itself in two records, no sample missing; clear the lead "
            "first, then look for a joint or a contact";
    }
}

std::string unsound_reason(const StoredRecord& stored) {
    if (stored.sound) {
        return {};
    }
    std::string text = "the capture stayed unsound";
    for (const CaptureFault& fault : stored.faults) {
        text += fmt::format(": {} at {:.3g} s", name(fault.kind), fault.start.in<Seconds>());
        break;
    }
    return text + "; look at the card before the unit";
}

/// What one request adds to the conditions before its rating is chosen.
Conditions with_request(Conditions conditions, const FigureRequest& request) {
    if (request.weighting) {
        conditions.weighting = request.weighting;
    }
    if (request.reference_level) {
        conditions.reference_level = request.reference_level;
    }
    return conditions;
}

analysis::HarmonicBand harmonic_band(const FigureRequest& request, const RatedFigure* rated,
                                     SampleRate rate) {
    analysis::HarmonicBand band;
    band.upper = analysis::default_upper_edge(rate);
    const auto stated = request.bandwidth  ? request.bandwidth
                        : rated != nullptr ? rated->conditions.bandwidth
                                           : std::nullopt;
    if (stated) {
        band.upper = std::min(band.upper, stated->high);
    }
    if (request.highest_order) {
        band.highest_order = *request.highest_order;
    } else if (rated != nullptr && rated->conditions.highest_order) {
        band.highest_order = *rated->conditions.highest_order;
    }
    return band;
}

analysis::NoiseSettings noise_settings(const FigureRequest& request, const RatedFigure* rated,
                                       SampleRate rate) {
    analysis::NoiseSettings settings;
    if (request.bandwidth) {
        settings.bandwidth = *request.bandwidth;
    } else if (rated != nullptr && rated->conditions.bandwidth) {
        settings.bandwidth = *rated->conditions.bandwidth;
    }
    settings.bandwidth.high = std::min(settings.bandwidth.high, analysis::default_upper_edge(rate));
    if (request.weighting) {
        settings.weighting = *request.weighting;
    } else if (rated != nullptr && rated->conditions.weighting) {
        settings.weighting = *rated->conditions.weighting;
    }
    return settings;
}

Figure unresolved(FigureKind kind, int channel, const Conditions& conditions, std::string why) {
    Figure figure;
    figure.kind = kind;
    figure.channel = channel;
    figure.conditions = conditions;
    figure.unresolved = std::move(why);
    return figure;
}

/// Turns the requests of one step into figures.
class Evaluation {
public:
    Evaluation(const sequences::Step& step, const StepPath& path,
               const std::vector<MeasuredRecord>& records, const EvaluationContext& context)
        : step_{step}, context_{context} {
        for (const MeasuredRecord& record : records) {
            opened_.push_back(open_record(record, path, context));
        }
    }

    std::vector<ScoredFigure> figures() {
        for (const FigureRequest& request : step_.figures) {
            switch (request.figure) {
                case FigureKind::frequency_response:
                case FigureKind::bandwidth_low:
                case FigureKind::bandwidth_high:
                    over_frequencies(request);
                    break;
                case FigureKind::channel_balance:
                    balance(request);
                    break;
                case FigureKind::channel_separation:
                    separation(request);
                    break;
                case FigureKind::noise_voltage:
                case FigureKind::hum_voltage:
                case FigureKind::signal_to_noise:
                    of_silence(request);
                    break;
                default:
                    of_tone(request);
                    break;
            }
        }
        return std::move(figures_);
    }

private:
    void add(Figure figure, const Conditions& nominal, const RatedFigure* rated,
             const MeasuredRecord* record) {
        ScoredFigure scored;
        Conditions named = figure.conditions;
        named.frequency = nominal.frequency;
        scored.label = label_of(figure.kind, named, context_.sheet);
        scored.id = step_.name + "/" + std::string{name(figure.kind)};
        if (figure.conditions.weighting && figure.kind != FigureKind::thd_plus_noise) {
            scored.id += "/" + std::string{name(*figure.conditions.weighting)};
        }
        if (nominal.output_level) {
            scored.id += "/" + text(*nominal.output_level);
        }
        if (nominal.frequency) {
            scored.id += fmt::format("/{:g}Hz", nominal.frequency->in<Hertz>());
        }
        if (figure.pair) {
            scored.id += fmt::format("/{}-{}", side(figure.pair->first), side(figure.pair->second));
        } else {
            scored.id += std::string{"/"} + side(figure.channel);
        }
        if (record != nullptr && !record->stored.sound) {
            figure.unresolved = unsound_reason(record->stored);
        }
        scored.figure = std::move(figure);
        hold_against(scored, rated, record != nullptr && record->stored.unstable);
        figures_.push_back(std::move(scored));
    }

    /// Figures of one driven channel of one record.
    void of_tone(const FigureRequest& request) {
        for (const OpenedRecord& opened : opened_) {
            if (opened.measured->stored.driven.silent) {
                continue;
            }
            for (int channel = 1; channel <= 2; ++channel) {
                const auto& own = opened.channels[static_cast<std::size_t>(channel) - 1];
                if (own.drive <= 0.0) {
                    continue;
                }
                Conditions conditions = with_request(opened.conditions, request);
                if (request.figure == FigureKind::output_power) {
                    conditions.thd = request.thd ? request.thd : power_thd(conditions);
                }
                const RatedFigure* rated = rating_for(request, conditions, context_.sheet);
                add(tone_figure(request, rated, opened, channel, conditions), opened.conditions,
                    rated, opened.measured);
            }
        }
    }

    /// The distortion a power is stated at: the one of the power rating for this load.
    [[nodiscard]] std::optional<double> power_thd(const Conditions& conditions) const {
        const auto rated =
            sequences::rated_power(context_.sheet, conditions.load.value_or(Ohms{8.0}),
                                   conditions.channels_driven.value_or(Channels::both));
        return rated ? rated->thd : std::nullopt;
    }

    [[nodiscard]] Figure tone_figure(const FigureRequest& request, const RatedFigure* rated,
                                     const OpenedRecord& opened, int channel,
                                     const Conditions& conditions) const {
        const auto& own = opened.channels[static_cast<std::size_t>(channel) - 1];
        const auto& other = opened.channels[static_cast<std::size_t>(2 - channel)];
        std::optional<ToneFit> fit = own.fit;
        const bool of_level = request.figure == FigureKind::output_voltage ||
                              request.figure == FigureKind::output_power ||
                              request.figure == FigureKind::gain;
        if (!fit && of_level) {
            // A dead channel has a level, too: what it holds at the frequency that was played.
            const Hertz frequency = other.fit ? other.fit->fundamental.frequency
                                              : opened.measured->stored.driven.nominal;
            const auto buried = analysis::fit_at(own.waveform, frequency);
            if (buried) {
                fit = *buried;
            }
        }
        if (!fit) {
            return unresolved(request.figure, channel, conditions, "no output: " + own.failure);
        }
        analysis::ToneRecord tone{own.waveform.view(), *fit, channel, own.bench, conditions};
        if (context_.sheet.unit) {
            tone.nominal_mains = context_.sheet.unit->mains_voltage;
        }
        const SampleRate rate = own.waveform.rate;
        switch (request.figure) {
            case FigureKind::output_voltage:
                return analysis::output_voltage(tone);
            case FigureKind::output_power:
                return analysis::output_power(tone);
            case FigureKind::gain:
                return analysis::gain(tone, VoltsRms{own.drive});
            case FigureKind::frequency:
                return analysis::frequency(tone);
            case FigureKind::thd:
                return analysis::thd(tone, harmonic_band(request, rated, rate));
            case FigureKind::harmonic:
                return analysis::harmonics(tone, harmonic_band(request, rated, rate));
            case FigureKind::thd_plus_noise:
                return analysis::thd_plus_noise(tone, noise_settings(request, rated, rate));
            case FigureKind::sinad:
                return analysis::sinad(tone, noise_settings(request, rated, rate));
            default:
                return unresolved(request.figure, channel, conditions,
                                  "this version does not measure it from a tone");
        }
    }

    void balance(const FigureRequest& request) {
        for (const OpenedRecord& opened : opened_) {
            const auto& left = opened.channels[0];
            const auto& right = opened.channels[1];
            if (left.drive <= 0.0 || right.drive <= 0.0) {
                continue;
            }
            const Conditions conditions = with_request(opened.conditions, request);
            const RatedFigure* rated = rating_for(request, conditions, context_.sheet);
            std::array<std::optional<ToneFit>, 2> fits{left.fit, right.fit};
            for (std::size_t c = 0; c < 2; ++c) {
                if (!fits[c]) {
                    const auto& seen = fits[1 - c];
                    const auto buried = analysis::fit_at(
                        opened.channels[c].waveform, seen ? seen->fundamental.frequency
                                                          : opened.measured->stored.driven.nominal);
                    if (buried) {
                        fits[c] = *buried;
                    }
                }
            }
            if (!fits[0] || !fits[1]) {
                add(unresolved(request.figure, 0, conditions, "no output in either channel"),
                    opened.conditions, rated, opened.measured);
                continue;
            }
            // The two channels are driven to one level, each with its own drive: the balance is
            // that of their gains.
            analysis::ToneRecord a{left.waveform.view(), *fits[0], 1, left.bench, conditions};
            analysis::ToneRecord b{right.waveform.view(), *fits[1], 2, right.bench, conditions};
            Figure figure = analysis::channel_balance(a, b);
            const double driven_apart =
                gain_of(AmplitudeRatio{left.drive / right.drive}).decibels();
            if (figure.value) {
                *figure.value -= driven_apart;
            }
            if (figure.bound) {
                figure.bound->value -= driven_apart;
            }
            add(std::move(figure), opened.conditions, rated, opened.measured);
        }
    }

    void separation(const FigureRequest& request) {
        for (const OpenedRecord& opened : opened_) {
            const bool left = opened.channels[0].drive > 0.0;
            const bool right = opened.channels[1].drive > 0.0;
            if (left == right) {
                continue;
            }
            const int from = left ? 1 : 2;
            const auto& driven = opened.channels[static_cast<std::size_t>(from) - 1];
            const auto& quiet = opened.channels[static_cast<std::size_t>(2 - from)];
            const Conditions conditions = with_request(opened.conditions, request);
            const RatedFigure* rated = rating_for(request, conditions, context_.sheet);
            Figure figure;
            if (driven.fit) {
                const analysis::ToneRecord tone{driven.waveform.view(), *driven.fit, from,
                                                driven.bench, conditions};
                figure = analysis::channel_separation(tone, quiet.waveform, 3 - from, quiet.bench,
                                                      context_.mains_nominal);
            } else {
                figure =
                    unresolved(request.figure, 0, conditions,
                               std::string{"no output from the driven channel, "} + side(from));
                figure.pair = {from, 3 - from};
            }
            add(std::move(figure), opened.conditions, rated, opened.measured);
        }
    }

    void of_silence(const FigureRequest& request) {
        for (const OpenedRecord& opened : opened_) {
            if (!opened.measured->stored.driven.silent) {
                continue;
            }
            for (int channel = 1; channel <= 2; ++channel) {
                const auto& own = opened.channels[static_cast<std::size_t>(channel) - 1];
                const Conditions conditions = with_request(opened.conditions, request);
                const RatedFigure* rated = rating_for(request, conditions, context_.sheet);
                add(silent_figure(request, rated, own, channel, conditions), conditions, rated,
                    opened.measured);
            }
        }
    }

    [[nodiscard]] Figure silent_figure(const FigureRequest& request, const RatedFigure* rated,
                                       const ChannelOfRecord& own, int channel,
                                       const Conditions& conditions) const {
        if (request.figure == FigureKind::hum_voltage) {
            return analysis::hum_voltage(own.waveform, channel,
                                         context_.mains_nominal.value_or(Hertz{50.0}), own.bench,
                                         conditions);
        }
        const auto settings = noise_settings(request, rated, own.waveform.rate);
        Figure noise = analysis::noise(own.waveform, channel, settings, own.bench, conditions);
        if (request.figure == FigureKind::noise_voltage) {
            return noise;
        }
        const auto reference = request.reference_level ? request.reference_level
                               : rated != nullptr      ? rated->conditions.reference_level
                                                       : std::nullopt;
        const Ohms load = conditions.load.value_or(Ohms{8.0});
        const auto watts =
            watts_of(reference.value_or(LevelTarget{}), context_.sheet, load, Channels::both);
        if (!watts) {
            return unresolved(request.figure, channel, conditions,
                              "no reference level: the sheet rates no power for this load");
        }
        Figure figure = analysis::signal_to_noise(noise, voltage_for(*watts, load));
        figure.conditions.reference_level = reference.value_or(LevelTarget{});
        return figure;
    }

    /// Response and band edges: all records of the step make one curve a channel.
    void over_frequencies(const FigureRequest& request) {
        const Hertz reference = request.reference_frequency.value_or(Hertz{1000.0});
        for (int channel = 1; channel <= 2; ++channel) {
            std::vector<analysis::ResponsePoint> points;
            const OpenedRecord* any = nullptr;
            const MeasuredRecord* worst_record = nullptr;
            for (const OpenedRecord& opened : opened_) {
                const auto& own = opened.channels[static_cast<std::size_t>(channel) - 1];
                if (own.drive <= 0.0 || !own.fit) {
                    continue;
                }
                any = &opened;
                if (!opened.measured->stored.sound || opened.measured->stored.unstable) {
                    worst_record = opened.measured;
                }
                points.push_back(
                    {own.fit->fundamental.frequency,
                     own.fit->fundamental.amplitude / (std::numbers::sqrt2 * own.drive), 0.0,
                     own.fit->fundamental.sigma / own.fit->fundamental.amplitude});
            }
            Conditions conditions =
                with_request(any != nullptr ? any->conditions : opened_conditions(), request);
            conditions.frequency.reset();
            conditions.reference_frequency = reference;
            const RatedFigure* rated = rating_for(request, conditions, context_.sheet);
            if (any == nullptr) {
                add(unresolved(request.figure, channel, conditions, "no output"), conditions, rated,
                    nullptr);
                continue;
            }
            Figure figure = analysis::frequency_response(
                points, reference, channel, context_.bench.flatness_u_k1_db, conditions);
            if (request.figure != FigureKind::frequency_response) {
                const Gain fall = request.fall ? *request.fall
                                  : rated != nullptr && rated->conditions.fall
                                      ? *rated->conditions.fall
                                      : Gain{-3.0};
                figure =
                    analysis::bandwidth(figure, request.figure == FigureKind::bandwidth_low, fall);
                add(std::move(figure), conditions, rated, worst_record);
                continue;
            }
            if (rated != nullptr && figure.curve) {
                worst_point(figure, *rated);
            }
            Conditions nominal = conditions;
            nominal.frequency = figure.conditions.frequency;
            add(std::move(figure), nominal, rated, worst_record);
        }
    }

    [[nodiscard]] Conditions opened_conditions() const {
        return opened_.empty() ? Conditions{} : opened_.front().conditions;
    }

    /// A response takes the verdict of its worst point inside the rated range.
    static void worst_point(Figure& figure, const RatedFigure& rated) {
        const Band range = rated.conditions.tone_range.value_or(Band{Hertz{0.0}, Hertz{1e9}});
        const auto worst =
            analysis::worst_of(*figure.curve, range, rated.limit.at_least.value_or(-1e9),
                               rated.limit.at_most.value_or(1e9));
        if (!worst) {
            figure.unresolved = "no point of the response lies inside the rated range";
            return;
        }
        figure.value = worst->value;
        figure.conditions.frequency = worst->frequency;
        figure.conditions.tone_range = rated.conditions.tone_range;
        // Which point is worst is a choice of this curve; its uncertainty is that of its own point.
        const double now = combined(figure.budget);
        if (now > 0.0 && worst->u_k1 > now) {
            figure.budget.push_back({"fit at the worst point", BudgetLine::Kind::noise,
                                     std::sqrt(worst->u_k1 * worst->u_k1 - now * now)});
        }
    }

    const sequences::Step& step_;
    const EvaluationContext& context_;
    std::vector<OpenedRecord> opened_;
    std::vector<ScoredFigure> figures_;
};

}  // namespace

std::vector<ScoredFigure> evaluate(const sequences::Step& step, const StepPath& path,
                                   const std::vector<MeasuredRecord>& records,
                                   const EvaluationContext& context) {
    return Evaluation{step, path, records, context}.figures();
}

std::optional<ScoredFigure> evaluate_reading(const std::string& step_name,
                                             const SlowReading& reading,
                                             const EvaluationContext& context) {
    const std::string_view kind_name = reading.quantity == "dc_offset"       ? "dc_offset"
                                       : reading.quantity == "mains_voltage" ? "mains_voltage"
                                                                             : "temperature";
    const auto kind = figure_kind(kind_name);
    const bool known = reading.quantity == "dc_offset" || reading.quantity == "mains_voltage" ||
                       reading.quantity == "heat_sink" || reading.quantity == "ambient" ||
                       reading.quantity == "load_temperature";
    if (!kind || !known) {
        return std::nullopt;
    }
    const int channel = reading.channel == Channels::left    ? 1
                        : reading.channel == Channels::right ? 2
                                                             : 0;
    ScoredFigure scored;
    if (*kind == FigureKind::dc_offset) {
        scored.figure = analysis::dc_offset(VoltsDc{reading.value}, reading.u_k1, reading.source,
                                            channel, Conditions{});
    } else {
        scored.figure.kind = *kind;
        scored.figure.channel = channel;
        scored.figure.value = reading.value;
        scored.figure.budget = {{reading.source, BudgetLine::Kind::systematic, reading.u_k1}};
        scored.figure.rig_added = 0.0;
        scored.figure.rig_cancelled = 0.0;
    }
    scored.id = step_name + "/" + reading.quantity + "/" + side(channel);
    scored.label = reading.quantity;
    std::replace(scored.label.begin(), scored.label.end(), '_', ' ');
    if (*kind == FigureKind::dc_offset) {
        scored.label = "DC offset";
    }
    FigureRequest request;
    request.figure = *kind;
    // A gate has been passed already and is not a row; what is not a gate is scored like any
    // figure.
    request.scored = !reading.gate;
    hold_against(scored, rating_for(request, scored.figure.conditions, context.sheet), false);
    return scored;
}

}  // namespace afterload::runner
