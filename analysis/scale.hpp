/// The scale on which a figure's uncertainty is symmetric.
///
/// Power is measured as volts, a damping factor as ohms, a separation or a signal-to-noise ratio as
/// the ratio of two voltages: there the uncertainty is the same upwards and downwards, and there a
/// figure is held against its limit. Every other figure is scored as it is stated.
///
/// Scored values are only compared with each other; their own size has no meaning.
#pragma once

#include "analysis/figure.hpp"

namespace afterload::analysis {

/// `value` on the scale of `kind`. A damping factor that is not positive is infinitely far out.
[[nodiscard]] double scored(FigureKind kind, double value);

/// Back from the scale of `kind` to the figure's unit.
[[nodiscard]] double unscored(FigureKind kind, double on_scale);

/// An uncertainty (or any small change) of `change`, in the figure's unit at `value`, on the scale.
[[nodiscard]] double scored_change(FigureKind kind, double value, double change);

/// The reverse of scored_change(): a change on the scale at `value`, in the figure's unit.
[[nodiscard]] double unscored_change(FigureKind kind, double value, double change);

/// Does the scored value fall when the figure rises (decibels of separation, damping factor)?
[[nodiscard]] bool falling(FigureKind kind);

}  // namespace afterload::analysis
