/// From a record to figures: the one place where an estimate meets the bench's share and becomes a
/// figure with budget, conditions and the rig's part. Runner and `analyze` both call these.
///
/// A figure that cannot be had says so in `unresolved`, with what would give it. A reading that
/// cannot be told from noise and rig is a bound, value + U + what the rig may have cancelled, and
/// keeps the reading among its details. Without a bench U covers the fit alone and the rig's part
/// is unknown.
///
/// Source  combination of uncertainties: GUM (JCGM 100:2008) 5.1.2.
#pragma once

#include "analysis/estimate.hpp"
#include "analysis/figure.hpp"
#include "analysis/harmonic.hpp"
#include "analysis/noise.hpp"
#include "analysis/tone.hpp"
#include "analysis/waveform.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace afterload::analysis {

/// The rig's own distortion at one level, halves apart.
struct RigDistortion {
    VoltsRms at;
    AmplitudeRatio source;
    AmplitudeRatio input;
};

/// What the bench adds to one channel's uncertainty and readings. Absent: not known. An empty one
/// means "no bench": U then covers the fit alone and the rig's part is unknown.
struct BenchShare {
    std::string level_source;   ///< identity: "range high, left, 2026-03-02"
    double level_u_k1 = 0.0;    ///< relative standard uncertainty of volts
    double balance_u_k1 = 0.0;  ///< relative standard uncertainty of left against right
    std::string balance_source;
    std::string drive_source;  ///< identity of the source's level calibration
    double drive_u_k1 = 0.0;   ///< relative standard uncertainty of the drive
    std::optional<Ohms> load;
    std::string load_source;                ///< identity: "load left 2026-03-02"
    double load_u_k1 = 0.0;                 ///< relative
    double load_heat_u_k1 = 0.0;            ///< relative, from the load's own heat
    std::vector<RigDistortion> distortion;  ///< empty: unknown
    std::optional<VoltsRms> own_noise;      ///< unweighted, 20 Hz to 20 kHz
    std::optional<VoltsRms> own_noise_a;
    std::optional<VoltsRms> own_hum;
    std::optional<AmplitudeRatio> own_separation;  ///< the rig's leak, undriven over driven
    bool present = false;                          ///< false: no bench behind this record
};

/// A channel's tone with everything the figures need.
struct ToneRecord {
    WaveformView record;
    const ToneFit& fit;
    int channel = 1;
    const BenchShare& bench;
    Conditions conditions;  ///< as driven; the figures add what they know (frequency, bandwidth)
    /// Nameplate mains, V rms. Beside a measured conditions.mains_voltage, output_power() adds the
    /// detail `power_at_nominal_mains`: a remark, for clipping power goes as the mains squared.
    std::optional<double> nominal_mains = std::nullopt;
};

[[nodiscard]] Figure output_voltage(
    const ToneRecord& tone);  ///< of the fundamental; total in details
[[nodiscard]] Figure output_power(const ToneRecord& tone);  ///< needs a load in the bench's share
[[nodiscard]] Figure frequency(const ToneRecord& tone);
/// `level_slope` is the relative change of the distortion per relative change of level, where
/// somebody knows it; the level's uncertainty then moves the figure by so much.
[[nodiscard]] Figure thd(const ToneRecord& tone, const HarmonicBand& band,
                         double level_slope = 0.0);
[[nodiscard]] Figure harmonics(const ToneRecord& tone, const HarmonicBand& band);
[[nodiscard]] Figure thd_plus_noise(const ToneRecord& tone, const NoiseSettings& settings);
[[nodiscard]] Figure sinad(const ToneRecord& tone, const NoiseSettings& settings);
/// Both, from one spectrum of what is not the tone.
[[nodiscard]] std::array<Figure, 2> thd_plus_noise_and_sinad(const ToneRecord& tone,
                                                             const NoiseSettings& settings);
/// Gain from a known drive (open-circuit volts rms of the source) to the unit's output.
[[nodiscard]] Figure gain(const ToneRecord& tone, VoltsRms drive);

/// Level of channel 1 over channel 2, dB. A channel without a tone makes it a bound.
[[nodiscard]] Figure channel_balance(const ToneRecord& left, const ToneRecord& right);

/// How much of the driven channel reaches the other: 20 lg of driven over undriven, dB, positive.
/// `undriven` is the record of the other channel at the same time; the tone's frequency is known
/// from the driven one, on the same clock. The noise that counts is the one beside the line: hum
/// does not hide a leak. A tone within two bins of a mains line has no separation, and says how
/// long to record. Below the record's noise or the rig's own leak the figure is a bound, at least.
[[nodiscard]] Figure channel_separation(const ToneRecord& driven, WaveformView undriven,
                                        int undriven_channel, const BenchShare& undriven_bench,
                                        std::optional<Hertz> mains);

/// One point of a stepped response.
struct ResponsePoint {
    Hertz frequency;
    double amplitude = 0.0;   ///< volts per volt of drive, or volts
    double phase = 0.0;       ///< radians; 0 where unknown
    double u_relative = 0.0;  ///< from the fit
};
/// Response re `reference` from stepped tones, dB; the calibration cancels, flatness of the rig
/// does not (`flatness_u_k1_db`). The reference must be one of the points, within 2 %.
[[nodiscard]] Figure frequency_response(const std::vector<ResponsePoint>& points, Hertz reference,
                                        int channel, double flatness_u_k1_db,
                                        Conditions conditions);

/// Frequency at which a response has fallen by `fall` (negative dB) below (`low`) or above its
/// reference; straight line between points on a logarithmic frequency axis. Where the curve does
/// not fall that far the figure is a bound: at most the lowest point, at least the highest.
[[nodiscard]] Figure bandwidth(const Figure& response, bool low, Gain fall);

/// The point of a response inside `range` that uses most of its tolerance, dB, signed, with the
/// frequency where it stands: largest share of the limit on its own side where zero lies between
/// the limits, else least margin. Where no point stands within 2 % of an end of `range` and the
/// curve goes on beyond it, the end itself is a point: between its neighbours, which may be two
/// thirds of an octave apart, with what bends between them in its u.
struct WorstPoint {
    Hertz frequency;
    double value = 0.0;
    double u_k1 = 0.0;
};
[[nodiscard]] std::optional<WorstPoint> worst_of(const Curve& curve, Band range, double low_limit,
                                                 double high_limit);

[[nodiscard]] Figure noise(WaveformView record, int channel, const NoiseSettings& settings,
                           const BenchShare& bench, Conditions conditions);
/// `reference` in volts rms at the output; the noise as in noise().
[[nodiscard]] Figure signal_to_noise(const Figure& noise, VoltsRms reference);
[[nodiscard]] Figure hum_voltage(WaveformView record, int channel, Hertz mains,
                                 const BenchShare& bench, Conditions conditions);
/// From a meter that sees DC, or typed in.
[[nodiscard]] Figure dc_offset(VoltsDc value, double u_k1, const std::string& source, int channel,
                               Conditions conditions);

}  // namespace afterload::analysis
