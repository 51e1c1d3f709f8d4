/// The sweep in a stimulus file that somebody else made, with the pilots around it.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/sweep.hpp"
#include "analysis/waveform.hpp"

namespace afterload::analysis {

/// Finds the exponential sweep in `stimulus`, any silence around it, and steady tones of at least
/// 20 ms and ten cycles before and after it, with or without gaps between them.
///
/// Zero crossings carry the phase: half a turn each. Steady runs of them are pilots; the phase of
/// the rest is fitted with a · e^{t/L} + c by least squares.
///
/// Shape   at least 64 samples; the sweep rises.
/// Fails   no_tone: silence, samples that are not finite, or what sounds is no exponential sweep.
///         The line says which.
[[nodiscard]] Expected<SweepPlan> recognised_sweep(WaveformView stimulus);

/// A plan for a stimulus that is no exponential sweep: all of it is one sound of unknown shape,
/// from which a magnitude can still be had. growth is 0, and there are no pilots.
[[nodiscard]] SweepPlan plan_of_any_sound(WaveformView stimulus);

}  // namespace afterload::analysis
