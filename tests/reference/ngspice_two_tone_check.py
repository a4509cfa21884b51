"""Intermodulation against a circuit simulator, ngspice.

usage: ngspice_two_tone_check.py PROGRAM FOLDER

two-tone.cir: two tones through a curve with a second- and a third-order term. The simulator's `fourier` answer has the
tones and their products as harmonics of a common base frequency; the program's products and figures come from one period
of the same transient, repeated over two seconds.
"""

import os
import re
import sys
import tempfile

from outside import Tally, db, measure, need_ngspice, run_ngspice, write_wav

import numpy as np

STEP_S, EVERY, SECONDS = 1e-7, 10, 2.0  # 1 MS/s
A2, A3 = 2e-3, -1e-3
FULL_SCALE = 20.0


def simulate(source, folder, base_hz, tones, lines):
    with open(os.path.join(source, "two-tone.cir"), encoding="utf-8") as file:
        text = file.read()
    (low_hz, low_peak), (high_hz, high_peak) = tones
    values = {"LOWHZ": low_hz, "LOWPEAK": low_peak, "HIGHHZ": high_hz, "HIGHPEAK": high_peak, "A2": A2, "A3": A3,
              "LINES": lines, "BASE": base_hz}
    for name, value in values.items():
        text = re.sub(rf"\b{name}\b", str(value), text)
    with open(os.path.join(folder, "run.cir"), "w", encoding="utf-8") as file:
        file.write(text)
    run = run_ngspice("run.cir", folder)
    rows = re.findall(r"^\s*(\d+)\s+(\S+)\s+(\S+)\s+(\S+)\s+\S+\s+\S+\s*$", run.stdout, re.M)
    if len(rows) < lines - 1:
        sys.exit(f"ngspice gave no harmonics:\n{run.stdout[-2000:]}{run.stderr[-2000:]}")
    return {round(float(hz)): float(size) for _, hz, size, _ in rows}


def period(folder, base_hz):
    table = np.loadtxt(os.path.join(folder, "samples.txt"), skiprows=1)
    steps = round(1.0 / base_hz / STEP_S)
    return table[-1 - steps : -1, 1][::EVERY]


def products(tally, channel, name, simulated, reference):
    """Every product that the simulator has above -120 dB of the tones."""
    seen = 0
    for line in channel["products"]:
        hz = round(line["frequency_hz"])
        if hz not in simulated or simulated[hz] < 1e-6 * reference:
            continue
        seen += 1
        tally.close(f"{name}: {line['product']}, {hz} Hz", line["level_v"], simulated[hz] / np.sqrt(2),
                    5e-4 * simulated[hz], "V")
        tally.close(f"{name}: {line['product']} re tones", line["relative_db"], db(simulated[hz] / reference), 0.005, "dB")
    return seen


def run(tally, program, source, folder, name, base_hz, tones, lines):
    simulated = simulate(source, folder, base_hz, tones, lines)
    path = os.path.join(folder, "two.wav")
    one = period(folder, base_hz)
    write_wav(path, 1.0 / (STEP_S * EVERY), np.tile(one, round(SECONDS * base_hz)) / FULL_SCALE, 64)
    return simulated, measure(program, path, "--full-scale", str(FULL_SCALE), "--load", "8")


def modulation(tally, program, source, folder):
    low, high = 250, 8000
    peak = (4.0, 1.0)
    level, channel = run(tally, program, source, folder, "4:1", 250, ((low, peak[0]), (high, peak[1])), 36)
    reference = level[high]
    tally.close("4:1: products compared", products(tally, channel, "4:1", level, reference), 6, 0)
    second = (level[high - low] + level[high + low]) / reference
    third = (level[high - 2 * low] + level[high + 2 * low]) / reference
    value = channel["figures"]["imd.modulation"]["value"]
    tally.close("4:1: imd.modulation", value, 100 * np.hypot(second, third), 5e-4 * value, "%")
    # By hand: products of cosines.
    by_hand = (2 * A2 * peak[0], 1.5 * A3 * peak[0] ** 2)
    own = 1 + A3 * (0.75 * peak[1] ** 2 + 1.5 * peak[0] ** 2)
    tally.close("4:1: imd.modulation by hand", value, 100 * np.hypot(*by_hand) / own, 5e-4 * value, "%")


def difference(tally, program, source, folder):
    low, high, peak = 19000, 20000, 3.0
    level, channel = run(tally, program, source, folder, "1:1", 1000, ((low, peak), (high, peak)), 24)
    reference = level[low] + level[high]
    tally.close("1:1: products compared", products(tally, channel, "1:1", level, reference) >= 3, True, 0)
    value = channel["figures"]["imd.difference.2"]["value"]
    tally.close("1:1: imd.difference.2", value, 100 * level[high - low] / reference, 5e-4 * value, "%")
    third = level[2 * low - high] + level[2 * high - low]
    value = channel["figures"]["imd.difference.3"]["value"]
    tally.close("1:1: imd.difference.3", value, 100 * third / reference, 5e-4 * value, "%")


def main():
    program, source = sys.argv[1:3]
    need_ngspice()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        modulation(tally, program, os.path.abspath(source), folder)
        difference(tally, program, os.path.abspath(source), folder)
    tally.end()


main()
