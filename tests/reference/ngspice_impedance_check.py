"""The source impedance against a circuit simulator, ngspice.

usage: ngspice_impedance_check.py PROGRAM FOLDER

source-impedance.cir: the voltages of a source of 20 mohm and 1 uH with two loads, at 1 kHz and at 20 kHz, by its `.ac`
analysis. A capture in which the load is switched there and back is made of them, and the program's impedance compared with
the closed form, |R + j 2 pi f L|, and with what the simulator's own voltages give.
"""

import json
import os
import subprocess
import sys
import tempfile

from outside import Tally, need_ngspice, run_ngspice, write_wav

import numpy as np

OHM, HENRY = 0.02, 1e-6
LOADS = {"heavy": 8.0, "light": 1e6}
RATE, SECONDS = 96000, 3


def voltages(folder, name):
    found = {}
    for load in LOADS:
        hz, real, imaginary = np.loadtxt(os.path.join(folder, f"at-{name}-{load}.txt"))
        found[load] = hz, real + 1j * imaginary
    return found


def impedance(program, path):
    run = subprocess.run([program, "impedance", "--loads", "8,1M", "--json", "-", path],
                         capture_output=True, text=True, check=False)
    if run.returncode != 0:
        sys.exit(f"{program} gave status {run.returncode}: {run.stderr}")
    return json.loads(run.stdout)["captures"][0]["channels"][0]["figures"]["output.impedance"]


def check(tally, program, folder, name):
    found = voltages(folder, name)
    (hz, heavy), (_, light) = found["heavy"], found["light"]
    ohm = abs(OHM + 2j * np.pi * hz * HENRY)
    simulated = abs((heavy - light) / (light / LOADS["light"] - heavy / LOADS["heavy"]))
    tally.close(f"{name}: the simulator's voltages, ohm", simulated, ohm, 1e-6 * ohm)
    n = RATE * SECONDS
    turn = np.exp(2j * np.pi * hz * np.arange(3 * n) / RATE)
    turn[:n] *= heavy
    turn[n : 2 * n] *= light
    turn[2 * n :] *= heavy
    rng = np.random.default_rng(6)
    path = os.path.join(folder, f"{name}.wav")
    write_wav(path, RATE, 0.5 * turn.real + 3e-5 * rng.standard_normal(3 * n), 24, rng)  # some 80 dB
    figure = impedance(program, path)
    tally.close(f"{name}: output.impedance, ohm", figure["value"], ohm, 1e-3 * ohm)
    tally.close(f"{name}: the interval holds it", float(figure["low"] <= ohm <= figure["high"]), 1.0, 0.0)


def main():
    program, source = sys.argv[1:3]
    need_ngspice()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        netlist = os.path.join(os.path.abspath(source), "source-impedance.cir")
        run_ngspice(netlist, folder)
        for name in ("1k", "20k"):
            check(tally, program, folder, name)
    tally.end()


main()
