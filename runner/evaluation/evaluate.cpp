#include "runner/evaluation/evaluate.hpp"

#include "analysis/measure.hpp"
#include "runner/evaluation/figure_families.hpp"

#include <algorithm>

namespace afterload::runner {

namespace {

bool is_a_curve(FigureKind figure) {
    return figure == FigureKind::frequency_response || figure == FigureKind::bandwidth_low ||
           figure == FigureKind::bandwidth_high || figure == FigureKind::equalisation_error;
}

}  // namespace

std::vector<ScoredFigure> evaluate(const sequences::Step& step, const StepPath& path,
                                   const std::vector<MeasuredRecord>& records,
                                   const EvaluationContext& context) {
    // Without its load an output answers for its impedance, and for nothing that is rated into one.
    OpenRecords opened;
    OpenRecords unloaded;
    for (const MeasuredRecord& record : records) {
        OpenRecords& into = record.stored.driven.open ? unloaded : opened;
        into.push_back(open_record(record, path, context));
    }
    Scorer scorer{step.name, context};
    for (const sequences::FigureRequest& request : step.figures) {
        if (step.signal == sequences::Signal::multitone && !is_a_curve(request.figure)) {
            of_multitone(request, opened, scorer);
            continue;
        }
        switch (request.figure) {
            case FigureKind::frequency_response:
            case FigureKind::bandwidth_low:
            case FigureKind::bandwidth_high:
            case FigureKind::equalisation_error:
                over_frequencies(request, opened, scorer);
                break;
            case FigureKind::distortion_limited_power:
            case FigureKind::short_term_power:
            case FigureKind::overload_level:
            case FigureKind::input_sensitivity:
            case FigureKind::clipping_symmetry:
                of_power(request, opened, scorer);
                break;
            case FigureKind::modulation_distortion:
            case FigureKind::difference_frequency_distortion:
                of_two_tones(request, opened, scorer);
                break;
            case FigureKind::power_bandwidth:
                over_power_bandwidth(request, opened, scorer);
                break;
            case FigureKind::level_linearity:
                over_levels(request, opened, scorer);
                break;
            case FigureKind::output_impedance:
            case FigureKind::damping_factor:
                over_loads(request, opened, unloaded, scorer);
                break;
            case FigureKind::volume_tracking:
                over_volumes(request, opened, scorer);
                break;
            case FigureKind::tone_range_error:
                over_tone_controls(request, opened, scorer);
                break;
            case FigureKind::channel_balance:
                of_balance(request, opened, scorer);
                break;
            case FigureKind::channel_separation:
                of_separation(request, opened, scorer);
                break;
            case FigureKind::noise_voltage:
            case FigureKind::hum_voltage:
            case FigureKind::random_steps:
            case FigureKind::signal_to_noise:
                of_silence(request, opened, scorer);
                break;
            case FigureKind::thd:
                if (step.signal == sequences::Signal::sweep) {
                    distortion_of_sweep(request, opened, scorer);
                    break;
                }
                of_tone(request, opened, scorer);
                break;
            default:
                of_tone(request, opened, scorer);
                break;
        }
    }
    return scorer.take();
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
    sequences::FigureRequest request;
    request.figure = *kind;
    // A gate has been passed already and is not a row; what is not a gate is scored like any
    // figure.
    request.scored = !reading.gate;
    hold_against(scored, rating_for(request, scored.figure.conditions, context.sheet), nullptr);
    return scored;
}

}  // namespace afterload::runner
