#!/usr/bin/python3
"""usage: test_memory.py LOADSIDE FAIL_ALLOC [all]

Runs commands again and again, and each time another of their requests for memory fails (fail_alloc.c, LD_PRELOAD). Then the
exit status is 2, with one line on standard error, every file is the old or the new one and whole, and nothing is left over;
or, where the program could do without, all is as if nothing had failed. Once more with all requests after it failing too,
when there may be several lines.

Requests with the same call path count as one; of the rest SAMPLE requests of each command, chosen with SEED, are tried,
unless "all" is asked for."""
import concurrent.futures
import ctypes
import hashlib
import os
import pathlib
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import wave

import numpy as np

SEED = 20240504
FIRST = 20  # ways of each command that are all taken
SAMPLE = 30  # and of the others
TIMEOUT_S = 60
ADDR_NO_RANDOMIZE = 0x0040000  # linux/personality.h: code stands where it did, so that ways can be told again

# Libraries that end the program by themselves when they find no memory. Nothing can be done about that but to see that what
# is on the disk stays whole.
FATAL = {
    "libfftw3.so": "FFTW aborts when it finds no memory for a plan (kernel/alloc.c)",
    "libsndfile.so": "libsndfile 1.2.0 uses memory that it did not get as it opens a file",
}
FATAL_TRIED = 4

GNUPLOT = r"""#!/bin/sh
# stands for gnuplot: pictures that end as its own do
cat -- *.gp | sed -n "s/.*set output '\([^']*\)'.*/\1/p" | while read -r name; do
    case $name in
    *.svg) echo '<svg xmlns="http://www.w3.org/2000/svg" width="960" height="640"></svg>' ;;
    *) printf '%040dIEND\256\102\140\202' 0 ;;
    esac >"$name"
done
"""

SHEET = """[unit]
make = Thistlecote
type = Sedge 25
serial = {serial}
[job]
client = a client
date = 2024-05-04
work = output stage rebuilt
[bench]
full_scale = 2 V
attenuation = 10
load = 8
[limits]
thd = at most -40 dB
[expect input resistor]
kind = resistor
r = 10 kohm -> 1 kohm
r tolerance = 1 %
[capture before]
file = {before}
role = sine
side = before
[capture after]
file = {after}
role = sine
side = after
[capture quiet]
file = {quiet}
role = idle
side = after
"""


def write_wav(path, samples):
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(48000)
        out.writeframes(np.round(samples * 32767).astype("<i2").tobytes())
    os.utime(path, (1714800000, 1714800000))


def make_inputs(folder):
    noise = np.random.default_rng(SEED)
    t = np.arange(14400) / 48000.0
    for name, level, second in ("a", 0.5, 1e-3), ("b", 0.5, 3e-3), ("c", 0.0, 0.0), ("d", 0.4, 2e-3):
        tone = level * np.sin(2 * np.pi * 1000 * t) + second * np.sin(2 * np.pi * 2000 * t)
        hum = 1e-3 * np.sin(2 * np.pi * 150 * t)
        write_wav(folder / f"{name}.wav", tone + hum + 1e-5 * noise.normal(size=t.size))
    two = 0.4 * np.sin(2 * np.pi * 2003 * t) + 0.4 * np.sin(2 * np.pi * 2997 * t)
    write_wav(folder / "two.wav", two + 1e-3 * two**2 + 1e-5 * noise.normal(size=t.size))
    late = np.arange(3 * 57600) / 48000.0
    switched = 0.5 * np.sin(2 * np.pi * 997 * late) * np.where(np.abs(late - 1.8) < 0.6, 1.0, 0.99)
    write_wav(folder / "switched.wav", switched + 1e-5 * noise.normal(size=late.size))
    (folder / "s.ini").write_text(SHEET.format(serial=7, before="a.wav", after="b.wav", quiet="c.wav"))
    (folder / "bench.ini").write_text("[bench]\nfull_scale = 2\nload = 8\nplay_full_scale = 1\ngain = 0\n")
    (folder / "w.ini").write_text("[signal]\nold = yes\n")
    (folder / "first.ini").write_text(SHEET.format(serial=6, before="a.wav", after="d.wav", quiet="c.wav"))


class Trials:
    """Trials of one command, in copies of one folder."""

    def __init__(self, program, preload, base, name, arguments):
        self.program, self.preload, self.name = program, preload, name
        self.arguments = arguments
        self.base = base
        self.bin = base.parent / "bin"
        self.old = self.state(base)

    def run(self, folder, **environment):
        (folder.parent / "tmp").mkdir(exist_ok=True)
        unloved = {k: v for k, v in os.environ.items() if k not in ("LD_PRELOAD", "FAIL_ALLOC")}
        return subprocess.run(
            [self.program, *self.arguments],
            cwd=folder,
            env=dict(unloved, PATH=f"{self.bin}:/usr/bin:/bin", TMPDIR=str(folder.parent / "tmp"), **environment),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=TIMEOUT_S,
            check=False,
            preexec_fn=lambda: ctypes.CDLL(None).personality(ADDR_NO_RANDOMIZE),
        )

    @staticmethod
    def content(path):
        if path.suffix == ".ledger":
            with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as ledger:
                return "\n".join(ledger.iterdump())
        return hashlib.sha256(path.read_bytes()).hexdigest()

    def state(self, folder):
        """The contents of each entry of the folder: a file, or a folder of files as one."""
        found = {}
        for place in sorted(folder.iterdir()):
            files = sorted(p for p in place.rglob("*") if p.is_file()) if place.is_dir() else [place]
            contents = {str(p.relative_to(folder)): self.content(p) for p in files}
            if place.name == "p":  # of plots each file is by itself
                found.update(contents)
            else:
                found[place.name] = contents
        return found

    def fresh(self, place):
        folder = pathlib.Path(place) / "work"
        shutil.copytree(self.base, folder)
        return folder

    def trace(self):
        """The undisturbed run, and for each request its call path and the library that made it."""
        with tempfile.TemporaryDirectory(dir=self.base.parent) as place:
            folder = self.fresh(place)
            ways = pathlib.Path(place) / "ways"
            done = self.run(folder, LD_PRELOAD=self.preload, FAIL_ALLOC_TRACE=str(ways))
            self.new = self.state(folder)
            self.undisturbed = (done.returncode, done.stdout, done.stderr)
            return [line.split(" ", 1) for line in ways.read_text().splitlines()]

    def wrong(self, number, library, onwards):
        """What is wrong when that request fails; None: nothing."""
        with tempfile.TemporaryDirectory(dir=self.base.parent) as place:
            folder = self.fresh(place)
            environment = {"LD_PRELOAD": self.preload, "FAIL_ALLOC": str(number)}
            if onwards:
                environment["FAIL_ALLOC_ON"] = "1"
            done = self.run(folder, **environment)
            state = self.state(folder)
            left = os.listdir(folder.parent / "tmp")
            lines = done.stderr.decode("utf-8", "backslashreplace").splitlines(keepends=True)
            fatal = any(library.startswith(name) for name in FATAL) and done.returncode < 0
            if left:
                return f"left in TMPDIR: {left}"
            if (done.returncode, done.stdout, done.stderr) == self.undisturbed and state == self.new:
                return None
            strange = {k: v for k, v in state.items() if v not in (self.old.get(k), self.new.get(k))}
            if fatal:  # a part that a killed run leaves is cleared away by the next one
                strange = {k: v for k, v in strange.items() if not re.search(r"\.loadside-\d+-\d+\.part$", k)}
            if strange:
                return f"neither old nor new: {sorted(strange)}; exit status {done.returncode}, {lines}"
            if any(k not in state for k in self.old):
                return f"lost: {sorted(set(self.old) - set(state))}"
            if fatal:
                return None
            if done.returncode != 2:
                return f"exit status {done.returncode}, {''.join(lines)!r}"
            if not lines or (len(lines) > 1 and not onwards):
                return f"{len(lines)} lines: {''.join(lines)!r}"
            for line in lines:
                if not re.fullmatch(r"loadside: [^:\n]+(:\d+)?: .*[^\s:]\n", line):
                    return f"the line {line!r}"
            return None


def chosen(requests, known, everything):
    """The numbers of the requests to try: one for each way that no earlier command went."""
    first, fatal = {}, {}
    for number, (way, library) in enumerate(requests, 1):
        name = next((n for n in FATAL if library.startswith(n)), None)
        if name:
            fatal.setdefault(name, []).append(number)
        elif way not in known:
            first.setdefault(way, number)
    known.update(first)
    numbers = sorted(first.values())
    if not everything and len(numbers) > FIRST + SAMPLE:
        numbers = numbers[:FIRST] + random.Random(SEED).sample(numbers[FIRST:], SAMPLE)
    for those in fatal.values():
        numbers += random.Random(SEED).sample(those, min(FATAL_TRIED, len(those)))
    return sorted(numbers)





def main():
    program, preload = (os.path.abspath(path) for path in sys.argv[1:3])
    everything = sys.argv[3:] == ["all"]
    known, bad = set(), 0
    print(f"seed {SEED}; {'; '.join(FATAL.values())}: there the files alone are looked at")
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # a disk that syncs takes ten times as long
    with tempfile.TemporaryDirectory(dir=memory) as place:
        base = pathlib.Path(place) / "base"
        base.mkdir()
        (base.parent / "bin").mkdir()
        gnuplot = base.parent / "bin" / "gnuplot"
        gnuplot.write_text(GNUPLOT)
        gnuplot.chmod(0o755)
        make_inputs(base)
        for kind in "sweep", "noise":
            play = [program, "signal", kind, f"{kind}.wav", "--seconds", "1.5", "--rate", "48000", "--quiet"]
            subprocess.run(play, cwd=base, check=True, capture_output=True)
        (base / "o.json").write_text("old")
        one = ["--threads", "1"]
        prepare = Trials(program, preload, base, "first", ["job", "first.ini", "--out", "r", "--ledger", "l.ledger", *one])
        done = prepare.run(base)
        if done.returncode == 2:
            sys.exit(f"the first job: {done.stderr.decode()}")
        (base / "r" / "mine.txt").write_text("the user's own")
        if (base.parent / "tmp").exists():
            (base.parent / "tmp").rmdir()
        commands = [
            ("measure", ["measure", *one, "--json", "o.json", "--csv", "o.csv", "--plots", "p", "a.wav"]),
            ("measure, two tones", ["measure", *one, "--json", "o.json", "--csv", "o.csv", "two.wav"]),
            ("measure, a sweep", ["measure", *one, "--json", "o.json", "--signal", "sweep.ini", "sweep.wav"]),
            ("measure, noise", ["measure", *one, "--json", "o.json", "--signal", "noise.ini", "noise.wav"]),
            ("compare", ["compare", *one, "--json", "o.json", "--csv", "o.csv", "a.wav", "b.wav"]),
            ("impedance", ["impedance", "--loads", "8,open", *one, "--json", "o.json", "switched.wav"]),
            ("impedance, two", ["impedance", "--loads", "8,4", *one, "--json", "o.json", "b.wav", "d.wav"]),
            ("job", ["job", "s.ini", "--out", "r", "--ledger", "l.ledger", *one]),
            ("job --new", ["job", "--new", "n.ini", "--from", ".", "--quiet"]),
            ("job --check", ["job", "--check", "s.ini"]),
            ("signal", ["signal", "noise", "w.wav", "--seconds", "0.5", "--channels", "2", "--bench", "bench.ini"]),
            ("expect", ["expect", "divider", "--power", "100", "--load", "8", "--input", "2", "--json", "o.json"]),
            ("ledger", ["ledger", "--json", "o.json", "l.ledger", "Sedge 25/6"]),
        ]
        for name, arguments in commands:
            trials = Trials(program, preload, base, name, arguments)
            requests = trials.trace()
            if trials.undisturbed[0] == 2 or not requests:
                sys.exit(f"{name}: undisturbed, {trials.undisturbed}")
            numbers = chosen(requests, known, everything)
            work = [(n, False) for n in numbers] + [(n, True) for n in numbers[:: 1 if everything else 10]]
            with concurrent.futures.ThreadPoolExecutor(2) as workers:
                found = workers.map(lambda w: trials.wrong(w[0], requests[w[0] - 1][1], w[1]), work)
                for (number, onwards), text in zip(work, found):
                    if text:
                        bad += 1
                        which = f"request {number}{' and all after it' if onwards else ''}"
                        print(f"{name}: {which} of {requests[number - 1][1]}: {text}")
            print(f"{name}: {len(requests)} requests, {len(numbers)} of them refused", flush=True)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
