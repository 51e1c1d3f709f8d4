"""Audio figures computed with SciPy alone, by other methods than afterload's own: windowed spectra
instead of fits, a search for the frequency instead of linearised steps.

All amplitudes are in shares of full scale; records are one channel.
"""

import numpy as np
import scipy.optimize
import scipy.signal


def tone(record, rate, nominal):
    """Frequency, amplitude (peak) and the record without the tone, by least squares."""
    t = (np.arange(len(record)) - (len(record) - 1) / 2) / rate

    def basis(frequency):
        angle = 2 * np.pi * frequency * t
        return np.column_stack([np.cos(angle), np.sin(angle), np.ones_like(t)])

    def rest(frequency):
        a = basis(frequency)
        return np.sum((record - a @ np.linalg.lstsq(a, record, rcond=None)[0]) ** 2)

    width = 0.5 * rate / len(record)
    found = scipy.optimize.minimize_scalar(
        rest, bounds=(nominal - width, nominal + width), method="bounded", options={"xatol": 1e-9}
    )
    a = basis(found.x)
    x = np.linalg.lstsq(a, record, rcond=None)[0]
    return found.x, float(np.hypot(x[0], x[1])), record - a @ x


def band_power(record, rate, low, high, weight=None):
    """Mean square between two frequencies, from one Hann-windowed transform of the whole record."""
    frequency, density = scipy.signal.periodogram(
        record, rate, window="hann", detrend="constant", scaling="density"
    )
    inside = (frequency >= low) & (frequency <= high)
    power = density[inside]
    if weight is not None:
        power = power * weight(frequency[inside]) ** 2
    return float(np.sum(power) * (frequency[1] - frequency[0]))


def a_weighting(frequency):
    """Amplitude ratio of the A curve: the four pole frequencies of IEC 61672-1:2013, Annex E."""
    f = np.asarray(frequency, dtype=float)

    def curve(f):
        return (12194.217**2 * f**4) / (
            (f**2 + 20.598997**2)
            * np.sqrt((f**2 + 107.65265**2) * (f**2 + 737.86223**2))
            * (f**2 + 12194.217**2)
        )

    return curve(f) / curve(1000.0)


def harmonics(record, rate, nominal, highest):
    """Peak amplitudes of orders 1 up: each line's power over the main lobe of a Blackman-Harris
    window."""
    frequency, _, _ = tone(record, rate, nominal)
    window = scipy.signal.windows.blackmanharris(len(record), sym=False)
    power = np.abs(np.fft.rfft((record - np.mean(record)) * window)) ** 2
    scale = 2 / (np.sum(window**2) * len(record))
    reach = 5
    lines = []
    for order in range(1, highest + 1):
        middle = int(round(order * frequency * len(record) / rate))
        lines.append(2 * scale * np.sum(power[middle - reach : middle + reach + 1]))
    return np.sqrt(np.array(lines))


def thd(record, rate, nominal, highest):
    lines = harmonics(record, rate, nominal, highest)
    return float(np.sqrt(np.sum(lines[1:] ** 2)) / lines[0])


def thd_plus_noise(record, rate, nominal, low, high):
    """Rms of all but the fundamental between two frequencies, over the fundamental."""
    _, amplitude, rest = tone(record, rate, nominal)
    return float(np.sqrt(band_power(rest, rate, low, high)) / (amplitude / np.sqrt(2)))


def noise(record, rate, low, high, weight=None):
    return float(np.sqrt(band_power(record, rate, low, high, weight)))
