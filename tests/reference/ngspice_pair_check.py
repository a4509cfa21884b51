"""Changes that a circuit simulator, ngspice, makes to a stage, against what the program finds between captures of it.

usage: ngspice_pair_check.py PROGRAM FOLDER

1. class-ab.cir with two bias voltages: the change of THD.
2. hum.cir with two filter capacitors: the change of the ripple at an idle output.

The true change comes from the simulator's own `fourier` answers. Captures are one period of the transient, repeated (a
steady stage repeats itself), with noise of a sound card on top. The uncertainty from the noise is in intervals from
within the captures (--repeatability none), and the truth has to lie within those; the word has to be right with the
default repeatability too, and with the sides exchanged.
"""

import json
import os
import re
import subprocess
import sys
import tempfile

from outside import Tally, db, need_ngspice, run_ngspice, write_wav

import numpy as np

FULL_SCALE = 20.0
NOISE_V = {"bias": 5e-3, "hum": 20e-6}  # rms, in all of the band: enough to hide what a simulator's steps leave


def simulate(path, changes, folder):
    """The answer of `fourier`, {order: magnitude}, and the samples, of a netlist with some of its words changed."""
    with open(path, encoding="utf-8") as file:
        text = file.read()
    for old, new in changes.items():
        if old not in text:
            sys.exit(f"{path} holds no '{old}'")
        text = text.replace(old, new)
    with open(os.path.join(folder, "netlist.cir"), "w", encoding="utf-8") as file:
        file.write(text)
    run = run_ngspice("netlist.cir", folder)
    rows = re.findall(r"^\s*(\d+)\s+[0-9.e+]+\s+(\S+)\s+\S+\s+\S+\s+\S+\s*$", run.stdout, re.M)
    return {int(order): float(size) for order, size in rows}, np.loadtxt(
        os.path.join(folder, "samples.txt"), skiprows=1
    )


def capture(path, noise_v, rate, period, times, seed):
    rng = np.random.default_rng(seed)
    x = np.tile(period, times)
    write_wav(path, rate, (x + noise_v * rng.standard_normal(len(x))) / FULL_SCALE, 64)


def compare(program, before, after, *options):
    """(exit status, the first channel)"""
    command = [program, "compare", "--full-scale", str(FULL_SCALE), "--load", "8", *options, "--json", "-", before, after]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    if run.returncode not in (0, 1):
        sys.exit(run.stderr)
    return run.returncode, json.loads(run.stdout)["channels"][0]


def check_pair(tally, program, what, key, truth, before, after):
    """truth: change in dB, below zero. Returns the channel from before to after, and the other way about."""
    _, there = compare(program, before, after, "--repeatability", "none")
    found = there["changes"][key]
    half = (found["high"] - found["low"]) / 2
    tally.close(f"{what}: {key} against its interval's middle", found["change"], truth, half, "dB")
    tally.close(f"{what}: {key}, half the interval", half, 0.0, 0.25, "dB")  # or anything would lie in it
    tally.close(f"{what}: {key} is lower", float(found["word"] == "lower"), 1.0, 0.0)
    _, recabled = compare(program, before, after)
    tally.close(f"{what}: {key} is lower, re-cabled", float(recabled["changes"][key]["word"] == "lower"), 1.0, 0.0)
    status, back = compare(program, after, before)
    found = back["changes"][key]
    tally.close(f"{what}: {key} is higher, exchanged", float(found["word"] == "higher"), 1.0, 0.0)
    tally.close(f"{what}: {key} is worse, exchanged", float(found["worse"] and status == 1), 1.0, 0.0)
    return there, back


def check_lines(tally, what, kind, lines, before, after):
    """Each order that the simulator has well above the noise: its change, and the word for it."""
    seen = 0
    for line in lines:
        if line["kind"] != kind or None in (line["before_v"], line["after_v"], line["low_db"], line["high_db"]):
            continue
        order, matters = line["order"], 1.0 if kind == "harmonic" else 4.0
        truth = db(after[order] / before[order])
        middle, half = (line["high_db"] + line["low_db"]) / 2, (line["high_db"] - line["low_db"]) / 2
        if half > 0.2 or abs(abs(truth) - matters) < 0.5:
            continue
        seen += 1
        # Among a dozen 95 % intervals one may miss: 1.5 of the half-width is 99.7 %.
        tally.close(f"{what}: {kind} {order} against its interval's middle", middle, truth, 1.5 * half, "dB")
        for side, answer in (("before_v", before), ("after_v", after)):
            tally.close(f"{what}: {kind} {order}, {side}", db(line[side] * np.sqrt(2) / answer[order]), 0.0, 1.5 * half, "dB")
        word = "higher" if truth > 0.0 else "lower"
        words = {word} if abs(truth) > matters else {"same", f"slightly {word}"}
        tally.close(f"{what}: {kind} {order} is {' or '.join(sorted(words))}", float(line["word"] in words), 1.0, 0.0)
    return seen


def bias(tally, program, source, folder):
    """THD of orders 2 to 20 with more quiescent current."""
    thd, paths, answers = [], [], []
    for number, volts in enumerate(("0.62", "0.66")):
        fourier, table = simulate(
            os.path.join(source, "class-ab.cir"), {"base1 in 0.62": f"base1 in {volts}", "base2 0.62": f"base2 {volts}"}, folder
        )
        answers.append(fourier)
        thd.append(db(np.sqrt(sum(fourier[k] ** 2 for k in range(2, 21))) / fourier[1]))
        paths.append(os.path.join(folder, f"bias-{number}.wav"))
        capture(paths[-1], NOISE_V["bias"], 1e6, table[-10001:-1, 1][::10], 2000, 31 + number)
    print(f"       bias: THD {thd[0]:.3f} and {thd[1]:.3f} dB by the simulator")
    there, back = check_pair(tally, program, "bias", "thd", thd[1] - thd[0], *paths)
    tally.close("bias: the level is the same", float(back["changes"]["tone.level"]["word"] == "same"), 1.0, 0.0)
    seen = check_lines(tally, "bias", "harmonic", there["lines"], *answers)
    tally.close("bias: harmonics compared", float(seen >= 5), 1.0, 0.0)


def filter_capacitor(tally, program, source, folder):
    """Ripple of orders 1 to 39 at the output with twice the capacitance."""
    ripple, paths, answers = [], [], []
    for number, farads in enumerate(("4700u", "10000u")):
        fourier, table = simulate(os.path.join(source, "hum.cir"), {" 0 CFILTER": f" 0 {farads}"}, folder)
        answers.append(fourier)
        ripple.append(db(np.sqrt(sum(fourier[k] ** 2 for k in range(1, 40)) / 2)))
        paths.append(os.path.join(folder, f"hum-{number}.wav"))
        capture(paths[-1], NOISE_V["hum"], 1e5, table[-2001:-1, 1], 500, 41 + number)
    print(f"       capacitor: ripple {ripple[0]:.3f} and {ripple[1]:.3f} dBV by the simulator")
    there, back = check_pair(tally, program, "capacitor", "mains.total", ripple[1] - ripple[0], *paths)
    seen = check_lines(tally, "capacitor", "mains", there["lines"], *answers)
    tally.close("capacitor: mains orders compared", float(seen >= 2), 1.0, 0.0)
    even = back["changes"]["mains.even"]["word"] == "higher" and "mains.odd" not in back["changes"]
    tally.close("capacitor: a full wave's ripple is of even orders", float(even), 1.0, 0.0)
    noise = back["changes"]["noise.band.20-20k"]["word"] == "same"
    tally.close("capacitor: the noise is the same", float(noise), 1.0, 0.0)


def main():
    program, source = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
    need_ngspice()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        bias(tally, program, source, folder)
        filter_capacitor(tally, program, source, folder)
    tally.end()


main()
