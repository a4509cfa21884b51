"""The program's figures against scipy.signal and numpy on the same WAV file: densities and band levels by
scipy.signal.welch, line levels by numpy's least squares.

usage: scipy_check.py PROGRAM

Both read the same noise, so that they differ only by how they weigh it in time and frequency. scipy is given the file
with the fitted lines subtracted; the program cuts lines out and fills the gaps.
"""

import os
import sys
import tempfile

from outside import Tally, db, measure, skip, write_wav

import numpy as np

try:
    from scipy import signal
except ImportError:
    skip("scipy is not installed (Debian: apt-get install python3-scipy)")

RATE, SECONDS, FULL_SCALE = 48000, 20, 20.0
TONE_HZ, TONE_V = 997.13, 8.9
HARMONIC_DB = {2: -80.0, 3: -85.0, 4: -92.0, 5: -97.0, 6: -103.0}
MAINS_HZ = 50.03
MAINS_V = {1: 150e-6, 2: 80e-6, 3: 60e-6, 4: 20e-6, 5: 45e-6, 6: 25e-6, 7: 30e-6, 10: 20e-6, 14: 15e-6}
SPUR_HZ, SPUR_V = 15211.7, 200e-6
NOISE, CORNER_HZ = 0.5e-12, 200.0  # a (1 + fc/f), V^2/Hz


def make(rng):
    count = RATE * SECONDS
    t = np.arange(count) / RATE
    x = np.sqrt(2.0) * TONE_V * np.cos(2 * np.pi * TONE_HZ * t + 0.3)
    for order, level in HARMONIC_DB.items():
        x += np.sqrt(2.0) * TONE_V * 10 ** (level / 20) * np.cos(2 * np.pi * order * TONE_HZ * t + order)
    for order, level in MAINS_V.items():
        x += np.sqrt(2.0) * level * np.cos(2 * np.pi * order * MAINS_HZ * t + 2 * order)
    x += np.sqrt(2.0) * SPUR_V * np.cos(2 * np.pi * SPUR_HZ * t)
    length = 2 * count
    f = np.arange(1, length // 2 + 1) * RATE / length
    gain = 0.5 * np.sqrt(NOISE * (1 + CORNER_HZ / f) * RATE / length)
    bins = np.zeros(length // 2 + 1, complex)
    bins[1:] = gain * (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f)))
    return x + np.fft.irfft(bins, length)[:count] * length


def fit_lines(x, frequencies):
    """Amplitude of every line by least squares over the whole file, in stretches; and x without them."""
    design_square, design_x = 0.0, 0.0
    stretch = RATE

    def design(start):
        t = (start + np.arange(min(stretch, len(x) - start)))[:, None] / RATE
        w = 2 * np.pi * t * np.asarray(frequencies)
        return np.hstack([np.cos(w), np.sin(w)])

    for start in range(0, len(x), stretch):
        block = design(start)
        design_square = design_square + block.T @ block
        design_x = design_x + block.T @ x[start : start + stretch]
    coefficients = np.linalg.solve(design_square, design_x)
    rest = x.copy()
    for start in range(0, len(x), stretch):
        rest[start : start + stretch] -= design(start) @ coefficients
    half = len(frequencies)
    return np.hypot(coefficients[:half], coefficients[half:]) / np.sqrt(2.0), rest


def band_power(f, density, low, high, weight=None):
    """Brick-wall integral, bins at the edges in proportion."""
    width = f[1] - f[0]
    share = np.clip((np.minimum(f + width / 2, high) - np.maximum(f - width / 2, low)) / width, 0.0, 1.0)
    if weight is not None:
        share = share * weight(f)
    return float(np.sum(density * share) * width)


def a_weighting(f):
    """Power gain; IEC 61672-1:2013 annex E with the published rounded poles."""
    f2 = np.maximum(f, 1e-3) ** 2
    gain = 12194.0**2 * f2**2 / (
        (f2 + 20.60**2) * np.sqrt(f2 + 107.7**2) * np.sqrt(f2 + 737.9**2) * (f2 + 12194.0**2)
    )
    return (gain * 10**0.1) ** 2


def compare_lines(tally, channel, frequencies, levels):
    """Two unbiased estimates of a line from the same noise differ by less than its scatter, 8.686 sqrt(S/2T)/V dB: the
    program's window uses the ends of the file less. Three times it, and 0.002 dB for rounding."""
    by_frequency = dict(zip(frequencies, levels))
    noise = lambda f: np.sqrt(NOISE * (1 + CORNER_HZ / f) / 2 / SECONDS)
    for line in channel["harmonics"]:
        if line["order"] in HARMONIC_DB or line["order"] == 1:
            expected = by_frequency[line["order"] * TONE_HZ]
            tolerance = 3 * 8.686 * noise(line["order"] * TONE_HZ) / expected + 0.002
            tally.close(f"harmonic {line['order']}, dBV", db(line["level_v"]), db(expected), tolerance, "dB")
    seen = 0
    for line in channel["mains"]:
        if line["order"] in MAINS_V:
            seen += 1
            expected = by_frequency[line["order"] * MAINS_HZ]
            tolerance = 3 * 8.686 * noise(line["order"] * MAINS_HZ) / expected + 0.02  # debiased, and tracked
            tally.close(f"mains order {line['order']}, dBV", db(line["level_v"]), db(expected), tolerance, "dB")
    tally.close("mains orders seen", seen, len(MAINS_V), 0)
    spurs = [s for s in channel["spurs"] if abs(s["frequency_hz"] - SPUR_HZ) < 1]
    tally.close("spurs seen", len(channel["spurs"]), 1, 0)
    if spurs:
        expected = by_frequency[SPUR_HZ]
        tally.close("spur, dBV", db(spurs[0]["level_v"]), db(expected), 8.686 * 6 * noise(SPUR_HZ) / expected + 0.05, "dB")


def compare_noise(tally, channel, rest, hum, f_tone_rest):
    figures = channel["figures"]
    f, quiet = signal.welch(rest, RATE, window="hann", nperseg=32768, noverlap=16384, detrend=False)
    _, with_hum = signal.welch(f_tone_rest, RATE, window="blackmanharris", nperseg=65536, noverlap=49152, detrend=False)
    f_hum = np.arange(len(with_hum)) * RATE / 65536

    def compare(what, value, power, tolerance):
        tally.close(what + ", dBV", None if value is None else db(value), 10 * np.log10(power), tolerance, "dB")

    # Noise of a band scatters by 4.343 sqrt(2/nu) dB, nu = 2BT; two windows over the same samples share most of it. The
    # scatter itself is allowed, three times, and 0.01 dB for the gaps that the program fills.
    scatter = lambda width: 3 * 4.343 * np.sqrt(1 / (width * SECONDS)) + 0.01
    compare("noise.band.20-20k", figures["noise.band.20-20k"]["value"], band_power(f, quiet, 20, 20e3), scatter(10e3))
    for name, centre in (("1k", 1e3), ("10k", 10e3)):
        low, high = centre * 10**-0.05, centre * 10**0.05
        value = figures["noise.density." + name]["value"]
        compare("noise.density." + name, value, band_power(f, quiet, low, high) / (high - low), scatter(high - low))
    compare(
        "noise.total.20-20k",
        figures["noise.total.20-20k"]["value"],
        band_power(f_hum, with_hum, 20, 20e3),
        scatter(10e3),
    )
    compare("noise.a", figures["noise.a"]["value"], band_power(f_hum, with_hum, 20, 20e3, a_weighting), scatter(6e3))
    total = band_power(f, quiet, 20, 20e3) + hum
    thd_n = 10 * np.log10(total / (total + TONE_V**2))
    tally.close("thd_n", figures["thd_n"]["value"], thd_n, 0.02, "dB")  # mostly harmonics: all scatter less
    widest = 0.0
    for band in channel["floor"]:
        if band["low_hz"] < 100 or band["high_hz"] > 20e3:  # scipy's bins, 1.5 Hz, are too wide for less
            continue
        power = band_power(f, quiet, band["low_hz"], band["high_hz"]) / (band["high_hz"] - band["low_hz"])
        # A median has 1.57 times the variance of a mean: both scatters together, four times.
        allowed = 4 * 4.343 * np.sqrt(2.57 / ((band["high_hz"] - band["low_hz"]) * SECONDS))
        widest = max(widest, abs(db(band["density_v_rthz"]) - 10 * np.log10(power)) / allowed)
    tally.close("floor bands, worst over its tolerance", widest, 0.5, 0.5)


def main():
    program = sys.argv[1]
    rng = np.random.default_rng(20)
    x = make(rng)
    tally = Tally()
    frequencies = [k * TONE_HZ for k in range(1, 21)] + [k * MAINS_HZ for k in MAINS_V] + [SPUR_HZ]
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "capture.wav")
        write_wav(path, RATE, x / FULL_SCALE, 24, rng)
        with open(path, "rb") as wav:
            raw = np.frombuffer(wav.read()[44:], np.uint8).reshape(-1, 3)
        code = (raw[:, 0].astype(int) + (raw[:, 1].astype(int) << 8) + (raw[:, 2].astype(np.int8).astype(int) << 16))
        x = code / 2.0**23 * FULL_SCALE
        channel = measure(program, path, "--full-scale", str(FULL_SCALE), "--load", "8")
    levels, rest = fit_lines(x, frequencies)
    _, tone_rest = fit_lines(x, frequencies[:20])
    compare_lines(tally, channel, frequencies, levels)
    compare_noise(tally, channel, rest, float(np.sum(levels[1:] ** 2)), tone_rest)
    figures = channel["figures"]
    harmonics = np.sqrt(np.sum(levels[1:20] ** 2))
    tally.close("thd", figures["thd"]["value"], db(harmonics / levels[0]), 0.01, "dB")
    tally.close("thd in percent", figures["thd"]["percent"], 100 * 10 ** (figures["thd"]["value"] / 20), 1e-9)
    tally.close("tone.frequency", figures["tone.frequency"]["value"], TONE_HZ, 1e-6, "Hz")
    tally.close("tone.level", figures["tone.level"]["value"], levels[0], 1e-6 * levels[0], "V")
    tally.close("tone.power", figures["tone.power"]["value"], levels[0] ** 2 / 8, 1e-5, "W")
    tally.end()


main()
