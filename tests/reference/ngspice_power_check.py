"""Power in steps against a circuit simulator, ngspice.

usage: ngspice_power_check.py PROGRAM FOLDER

class-ab-steps.cir: an output stage into 8 ohm at nine levels, up to clipping; the simulator's `fourier` answer at each. The
program sees one capture, in which the last period of each transient is repeated for 0.4 s, one level after the other. It is
not told the levels.
"""

import os
import re
import sys
import tempfile

from outside import Tally, db, measure, need_ngspice, run_ngspice, write_wav

import numpy as np

VOLTS = ["0.5", "1", "2", "4", "8", "12", "16", "20", "23"]
PERIOD_S, STEP_S, EVERY, HOLD_S, LOAD, FULL_SCALE = 1e-3, 1e-7, 20, 0.4, 8.0, 40.0


def answers(text):
    """Of each level: THD in percent, and the magnitudes by order."""
    found = []
    for part in text.split("Fourier analysis for ")[1:]:
        thd = float(re.search(r"THD:\s*([0-9.eE+-]+)\s*%", part).group(1))
        rows = re.findall(r"^\s*(\d+)\s+\d+\s+(\S+)\s+\S+\s+\S+\s+\S+\s*$", part, re.M)
        found.append((thd, {int(order): float(size) for order, size in rows}))
    return found


def capture(folder):
    steps, parts = round(PERIOD_S / STEP_S), [np.zeros(int(0.3 / STEP_S / EVERY))]
    for volts in VOLTS:
        table = np.loadtxt(os.path.join(folder, f"samples-{volts}"), skiprows=1)
        parts.append(np.tile(table[-1 - steps : -1, 1][::EVERY], round(HOLD_S / PERIOD_S)))
    parts.append(parts[0])
    return np.concatenate(parts) / FULL_SCALE


def main():
    program, source = sys.argv[1:3]
    need_ngspice()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        netlist = os.path.join(os.path.abspath(source), "class-ab-steps.cir")
        run = run_ngspice(netlist, folder)
        simulated = answers(run.stdout)
        if len(simulated) != len(VOLTS):
            sys.exit(f"{len(simulated)} answers of {len(VOLTS)} levels")
        path = os.path.join(folder, "steps.wav")
        write_wav(path, 1 / STEP_S / EVERY, capture(folder), 64)
        channel = measure(program, path, "--full-scale", str(FULL_SCALE), "--load", str(LOAD))
    series = channel["series"]
    rows = {name: series[f"distortion.by_power.{name}"]["rows"] for name in ["thd"] + [f"order{k}" for k in range(2, 10)]}
    tally.close("levels found", len(rows["thd"]), len(VOLTS), 0)
    for level, (thd, size) in enumerate(simulated):
        watts = sum(v**2 for order, v in size.items() if 1 <= order <= 20) / 2 / LOAD
        x, value = rows["thd"][level][:2]
        # The stage's own six digits, and what folds from beyond 250 kHz.
        tally.close(f"{VOLTS[level]} V: power", x / watts, 1.0, 2e-4)
        tally.close(f"{VOLTS[level]} V: thd", value, db(thd / 100), 0.01, "dB")
        for order in range(2, 10):
            expected = db(size[order] / size[1])
            if expected > -80:
                tally.close(f"{VOLTS[level]} V: harmonic {order}", rows[f"order{order}"][level][1], expected, 0.02, "dB")
    # 1 % lies between the last two levels, on a line in decibels. Without noise THD+N is THD over everything.
    watts = [sum(v**2 for order, v in size.items() if 1 <= order <= 20) / 2 / LOAD for _, size in simulated[-2:]]
    level = [db(thd / 100 / np.hypot(1, thd / 100)) for thd, _ in simulated[-2:]]
    expected = watts[0] * (watts[1] / watts[0]) ** ((-40 - level[0]) / (level[1] - level[0]))
    figure = channel["figures"]["power.at_thd_n.1pct"]
    tally.close("power at THD+N 1 %", figure["value"] / expected, 1.0, 5e-4)
    tally.end()


main()
