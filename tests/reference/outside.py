"""Shared by the checks against outside software: skipping by name, WAV files, running the program, comparing."""

import json
import shutil
import struct
import subprocess
import sys

SKIP = 77  # meson's status of a skipped test


def skip(what):
    print(f"skipped: {what}")
    sys.exit(SKIP)


try:
    import numpy as np
except ImportError:
    skip("numpy is not installed (Debian: apt-get install python3-numpy)")


def write_wav(path, rate_hz, samples, bits, rng=None):
    """One channel, 1.0 being full scale: 24-bit integers with TPDF dither from rng, or 64-bit floats."""
    if bits == 24:
        dither = rng.random(len(samples)) - rng.random(len(samples))
        code = np.clip(np.rint(samples * 2.0**23 + dither), -(2**23), 2**23 - 1).astype("<i4")
        data = np.ascontiguousarray(code.view(np.uint8).reshape(-1, 4)[:, :3]).tobytes()
        tag = 1
    else:
        data = np.asarray(samples, "<f8").tobytes()
        tag = 3
    size = bits // 8
    head = struct.pack("<HHIIHH", tag, 1, int(rate_hz), int(rate_hz) * size, size, bits)
    with open(path, "wb") as out:
        out.write(b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack("<I", 16) + head)
        out.write(b"data" + struct.pack("<I", len(data)) + data)


def need_ngspice():
    if shutil.which("ngspice") is None:
        skip("ngspice is not installed (Debian: apt-get install ngspice)")


def run_ngspice(netlist, folder):
    """What ngspice prints. Its status is not that of the simulation."""
    return subprocess.run(["ngspice", "-b", netlist], cwd=folder, capture_output=True, text=True, check=False)


def measure(program, path, *options):
    """The first channel of the program's JSON."""
    run = subprocess.run([program, "measure", *options, "--json", "-", path], capture_output=True, text=True, check=False)
    if run.returncode != 0:
        print(run.stderr)
        sys.exit(f"{program} gave status {run.returncode}")
    result = json.loads(run.stdout)
    if result["format"] != "loadside-measurement" or result["version"] != 1:
        sys.exit("not the format that was expected")
    return result["captures"][0]["channels"][0]


class Tally:
    def __init__(self):
        self.failed = 0

    def close(self, what, value, expected, tolerance, unit=""):
        """tolerance is absolute; None and NaN fail."""
        ok = value is not None and abs(value - expected) <= tolerance
        self.failed += not ok
        print(f"{'ok' if ok else 'FAILED':6} {what:44} {value!r:24} {expected:.9g} within {tolerance:.3g} {unit}")

    def end(self):
        sys.exit(1 if self.failed else 0)


def db(ratio):
    return 20.0 * np.log10(ratio)
