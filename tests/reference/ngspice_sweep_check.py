"""Distortion order by order from one sweep, against single sines through the same circuits in a simulator, ngspice.

usage: ngspice_sweep_check.py PROGRAM FOLDER

sweep-stages.cir holds two stages: a transfer curve of powers between a high-pass and a low-pass, and an emitter follower in
class AB behind a coupling capacitor. Its drive is first the sweep that the program describes in its sidecar, as an
expression of time, and then one sine after the other, whose harmonics are the simulator's own `fourier` answers.
"""

import configparser
import os
import re
import subprocess
import sys
import tempfile

from outside import Tally, db, measure, need_ngspice, run_ngspice, write_wav

import numpy as np

STAGES = ("powers", "follower")
STEP_S = 2.5e-6  # of the netlist
FULL_SCALE = 20.0
SINES_HZ = (300.0, 1000.0, 3000.0)
SINE_S = 0.12  # 12 times the time constant of the slowest filter, so that the last period repeats
LEAST_DB = -65.0  # of harmonics that are compared; the simulator's steps hide weaker ones
TOLERANCE_DB = 0.2


def simulate(text, drive, seconds, tone_hz, folder):
    for old, new in (("V = DRIVE", f"V = {drive}"), ("LENGTH", f"{seconds:g}"), ("TONE v", f"{tone_hz:g} v")):
        if old not in text:
            sys.exit(f"the netlist holds no '{old}'")
        text = text.replace(old, new)
    with open(os.path.join(folder, "netlist.cir"), "w", encoding="utf-8") as file:
        file.write(text)
    run = run_ngspice("netlist.cir", folder)
    return run.stdout


def sweep_drive(said):
    """The signal of the sidecar as an expression of the simulator's time, and how long it takes; its peak is 1 V."""
    low_hz, high_hz = (float(hz) for hz in said["frequency"].split(","))
    seconds, lead_s, tail_s, fade_in_s, fade_out_s = (
        float(said[key]) for key in ("seconds", "lead", "tail", "fade_in", "fade_out")
    )
    length_s = seconds / np.log(high_hz / low_hz)
    t, left = f"(time-{lead_s})", f"({lead_s + seconds}-time)"
    sine = f"sin({2 * np.pi * low_hz * length_s:.15g}*(exp({t}/{length_s:.15g})-1))"
    fades = "".join(
        f"*({at} < {fade_s} ? 0.5-0.5*cos({np.pi / fade_s:.15g}*{at}) : 1)" for at, fade_s in ((t, fade_in_s), (left, fade_out_s))
    )
    return f"({t} < 0 || {left} < 0) ? 0 : {sine}{fades}", lead_s + seconds + tail_s


def from_sweep(program, text, folder):
    """{stage: {order: (frequencies, dB)}}"""
    played = os.path.join(folder, "sweep.wav")
    options = f"--from 50 --to 8k --rate {round(1 / STEP_S)} --seconds 0.8 --lead 0.1 --tail 0.3 --quiet"
    subprocess.run([program, "signal", "sweep", played, *options.split()], check=True)
    sidecar = played.replace(".wav", ".ini")
    ini = configparser.ConfigParser()
    ini.read(sidecar)
    drive, seconds = sweep_drive(ini["signal"])
    simulate(text, drive, seconds, 1000.0, folder)
    table = np.loadtxt(os.path.join(folder, "samples.txt"), skiprows=1)
    found = {}
    for column, stage in enumerate(STAGES, 1):
        path = os.path.join(folder, stage + ".wav")
        write_wav(path, 1 / STEP_S, table[:, column] / FULL_SCALE, 64)
        series = measure(program, path, "--signal", sidecar)["series"]
        found[stage] = {}
        for order in range(2, 10):
            rows = series[f"distortion.by_frequency.order{order}"]["rows"]
            found[stage][order] = np.array([[np.nan if x is None else x for x in row[:2]] for row in rows]).T
    return found


def from_sine(text, hz, folder):
    """{stage: {order: dB re the fundamental}}"""
    answer = simulate(text, f"sin({2 * np.pi * hz:.15g}*time)", SINE_S, hz, folder)
    found = {}
    for part, stage in zip(answer.split("Fourier analysis for ")[1:], STAGES):
        rows = re.findall(r"^\s*(\d+)\s+[0-9.e+]+\s+(\S+)\s+\S+\s+\S+\s+\S+\s*$", part, re.M)
        size = {int(order): float(magnitude) for order, magnitude in rows}
        found[stage] = {order: db(size[order] / size[1]) for order in range(2, 10)}
    return found


def main():
    program, source = sys.argv[1:3]
    need_ngspice()
    tally = Tally()
    with open(os.path.join(source, "sweep-stages.cir"), encoding="utf-8") as file:
        text = file.read()
    compared = {stage: 0 for stage in STAGES}
    with tempfile.TemporaryDirectory() as folder:
        sweep = from_sweep(program, text, folder)
        for hz in SINES_HZ:
            sine = from_sine(text, hz, folder)
            for stage in STAGES:
                for order, expected in sine[stage].items():
                    if expected < LEAST_DB:
                        continue
                    compared[stage] += 1
                    value = float(np.interp(np.log(hz), np.log(sweep[stage][order][0]), sweep[stage][order][1]))
                    tally.close(f"{stage}: order {order} at {hz:g} Hz", value, expected, TOLERANCE_DB, "dB")
    for stage, least in zip(STAGES, (6, 12)):
        tally.close(f"{stage}: harmonics above {LEAST_DB:g} dB compared", float(compared[stage] >= least), 1.0, 0.0)
    tally.end()


main()
