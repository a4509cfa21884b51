"""The program against a circuit simulator, ngspice.

usage: ngspice_check.py PROGRAM FOLDER

1. class-ab.cir: the `fourier` answer for an output stage into 8 ohm, and the program's THD and harmonics of the same
   transient. The simulator computes four periods; the last is repeated over two seconds, since a steady stage repeats
   itself, and its samples are the simulator's own time steps (one in ten), so that nothing is interpolated.
2. stage-noise.cir: the `.noise` density, against 4kTR by hand, and a capture of noise of that density read back by the
   program.
3. cascade.cir: where three coupling stages in cascade are 3.01 dB down, and their response and phase at 20 Hz and 20 kHz,
   beside what `loadside expect coupling` says.
4. settling.cir: a voltage that settles by two exponentials which load each other, and the program's figures of DC behaviour;
   the time constants are the eigenvalues of its two node equations.
"""

import json
import os
import re
import subprocess
import sys
import tempfile

from outside import Tally, db, measure, need_ngspice, run_ngspice, write_wav

import numpy as np

BOLTZMANN = 1.380649e-23  # J/K, exact
PERIOD_S, STEP_S, EVERY = 1e-3, 1e-7, 10  # 1 MS/s


def simulate(netlist, folder):
    run = run_ngspice(netlist, folder)
    return run.stdout


def fourier_answer(text):
    """THD in percent, and {order: (magnitude, phase in degrees, of a sine)}."""
    thd = float(re.search(r"THD:\s*([0-9.eE+-]+)\s*%", text).group(1))
    rows = re.findall(r"^\s*(\d+)\s+\d+\s+(\S+)\s+(\S+)\s+\S+\s+\S+\s*$", text, re.M)
    return thd, {int(order): (float(size), float(phase)) for order, size, phase in rows}


def class_ab(tally, program, source, folder):
    text = simulate(os.path.join(source, "class-ab.cir"), folder)
    thd, harmonics = fourier_answer(text)
    table = np.loadtxt(os.path.join(folder, "samples.txt"), skiprows=1)
    steps = round(PERIOD_S / STEP_S)
    period = table[-1 - steps : -1, 1][::EVERY]
    path = os.path.join(folder, "stage.wav")
    write_wav(path, 1e6, np.tile(period, 2000) / 20.0, 64)
    channel = measure(program, path, "--full-scale", "20", "--load", "8")
    # The simulator sums orders 2 to 20, as the program does up to 20 kHz, and prints THD to 1e-5 of it (0.0001 dB) and
    # harmonics to six digits. Its time steps leave what folds from beyond 500 kHz, 1e-7 of the tone: 0.01 dB at -80 dB.
    tally.close("class AB: thd", channel["figures"]["thd"]["value"], db(thd / 100), 0.002, "dB")
    tally.close("class AB: thd orders", channel["figures"]["thd"]["orders"][1], 20, 0)
    fundamental = harmonics[1][0]
    level = channel["figures"]["tone.level"]["value"]
    tally.close("class AB: tone.level", level, fundamental / np.sqrt(2), 1e-4 * fundamental, "V")
    power = channel["figures"]["tone.power"]["value"]
    tally.close("class AB: tone.power", power, fundamental**2 / 16, 1e-3, "W")
    seen = 0
    for line in channel["harmonics"]:
        order = line["order"]
        if order < 2 or order > 20 or db(harmonics[order][0] / fundamental) < -80:
            continue
        seen += 1
        expected = db(harmonics[order][0] / fundamental)
        tally.close(f"class AB: harmonic {order}", line["relative_db"], expected, 0.01, "dB")
        # From sines to cosines: phase_k - k phase_1 with phase_k(cos) = phase_k(sin) - 90.
        phase = harmonics[order][1] - 90 - order * (harmonics[1][1] - 90)
        apart = (line["phase_deg"] - phase + 180) % 360 - 180
        tally.close(f"class AB: phase of harmonic {order}", apart, 0.0, 0.1, "degrees")
    tally.close("class AB: harmonics above -80 dB compared", float(seen >= 8), 1.0, 0.0)


def stage_noise(tally, program, source, folder):
    simulate(os.path.join(source, "stage-noise.cir"), folder)
    table = np.loadtxt(os.path.join(folder, "noise.txt"))
    simulated = float(np.interp(1e3, table[:, 0], table[:, 1]))
    kelvin, gain = 300.15, 21.0
    # Source and ground resistors are amplified (the ground one by 20), the feedback resistor is not; the load's own
    # noise is shorted by the ideal output.
    by_hand = np.sqrt(4 * BOLTZMANN * kelvin * (10e3 * gain**2 + 1e3 * 20.0**2 + 20e3))
    # The simulator's own value of k has six digits.
    tally.close("noise: simulator's density, nV/rtHz", 1e9 * simulated, 1e9 * by_hand, 1e-5 * 1e9 * by_hand)
    rate, seconds, full_scale = 48000, 20, 1e-3
    rng = np.random.default_rng(4)
    x = simulated * np.sqrt(rate / 2) * rng.standard_normal(rate * seconds)
    path = os.path.join(folder, "noise.wav")
    write_wav(path, rate, x / full_scale, 64)
    channel = measure(program, path, "--full-scale", str(full_scale))
    for key, width in (("noise.density.1k", 231.0), ("noise.density.10k", 2316.0)):
        # Volts scatter by 1/sqrt(4BT); four of them.
        tolerance = 4 / np.sqrt(4 * width * seconds)
        tally.close(f"noise: {key} over the simulator's", channel["figures"][key]["value"] / simulated, 1.0, tolerance)
    band = channel["figures"]["noise.band.20-20k"]["value"]
    tolerance = 4 / np.sqrt(4 * 19980.0 * seconds)
    tally.close("noise: noise.band.20-20k", band / (simulated * np.sqrt(19980.0)), 1.0, tolerance)


def cascade(tally, program, source, folder):
    simulate(os.path.join(source, "cascade.cir"), folder)
    table = np.loadtxt(os.path.join(folder, "cascade.txt"))  # Hz, dB, Hz, degrees
    words = ["expect", "coupling", "--json", "-"]
    for ohm, farad in (("47k", "2.2u"), ("10k", "10u"), ("1M", "4.7n")):
        words += ["--r", ohm, "--c", farad]
    done = subprocess.run([program, *words], capture_output=True, text=True, check=True)
    figures = {key: figure["value"] for key, figure in json.loads(done.stdout)["figures"].items()}
    log_hz, db_, degrees = np.log(table[:, 0]), table[:, 1], np.degrees(np.unwrap(np.radians(table[:, 3])))
    degrees -= 360 * np.round(degrees[-1] / 360)
    # 2000 points a decade, interpolated: the curve bends by less than 1e-6 of a decibel between two.
    tally.close("cascade: corner", figures["corner"], np.exp(np.interp(db(0.5) / 2, db_, log_hz)), 1e-4, "Hz")
    tally.close("cascade: droop.20", figures["droop.20"], np.interp(np.log(20.0), log_hz, db_), 1e-4, "dB")
    tally.close("cascade: phase.20", figures["phase.20"], np.interp(np.log(20.0), log_hz, degrees), 1e-3, "degrees")
    tally.close("cascade: phase.20k", figures["phase.20k"], np.interp(np.log(2e4), log_hz, degrees), 1e-4, "degrees")


def settling(tally, program, source, folder):
    simulate(os.path.join(source, "settling.cir"), folder)
    table = np.loadtxt(os.path.join(folder, "settling.txt"), skiprows=1)
    rate, full_scale, on = 8000, 4.0, 1.0
    time = np.arange(int(60 * rate)) / rate
    volts = np.interp(time, table[:, 0], table[:, 1])
    path = os.path.join(folder, "settling.wav")
    noise = 1e-5 * np.random.default_rng(5).standard_normal(len(time))
    write_wav(path, rate, (volts + noise) / full_scale, 64)
    channel = measure(program, path, "--full-scale", str(full_scale), "--dc-coupled")
    figures = {key: figure["value"] for key, figure in channel["figures"].items()}
    # C1 dv1/dt = -v1/R - (v1 - v2)/R2, C2 dv2/dt = (v1 - v2)/R2, R: load and offset resistor in parallel.
    c1, c2, r, r2 = 22e-6, 47e-6, 1 / (1 / 47e3 + 1 / 2.2e6), 68e3
    rates = np.linalg.eigvals(np.array([[-1 / (c1 * r) - 1 / (c1 * r2), 1 / (c1 * r2)], [1 / (c2 * r2), -1 / (c2 * r2)]]))
    fast, slow = np.sort(-1 / rates)
    tally.close("settling: dc.tau", figures["dc.tau"], fast, 1e-3 * fast, "s")
    tally.close("settling: dc.tau.2", figures["dc.tau.2"], slow, 1e-3 * slow, "s")
    tally.close("settling: dc.final", figures["dc.final"], np.mean(volts[time >= 54]), 1e-5, "V")
    tally.close("settling: dc.thump", figures["dc.thump"], np.max(np.abs(volts)), 1e-4, "V")
    last = time[np.abs(volts) > 0.05][-1]
    tally.close("settling: dc.settle", figures["dc.settle"], last - on, 5e-3, "s")


def main():
    program, source = sys.argv[1:3]
    need_ngspice()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        class_ab(tally, program, os.path.abspath(source), folder)
        stage_noise(tally, program, os.path.abspath(source), folder)
        cascade(tally, program, os.path.abspath(source), folder)
        settling(tally, program, os.path.abspath(source), folder)
    tally.end()


main()
