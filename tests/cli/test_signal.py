#!/usr/bin/python3
"""usage: test_signal.py LOADSIDE [NAME]...

Checks the files that `loadside signal` writes with numpy: spectra, the frequency of a sweep, levels, dither; and what the
command refuses, warns of, and leaves behind."""
import os
import re
import resource
import subprocess
import sys
import tempfile

import numpy as np

LOADSIDE = os.path.abspath(sys.argv[1])
FULL_SCALE = {16: 2**15, 24: 2**23}


def signal(kind, out, *options, status=0, limit=None):
    """Runs loadside signal; returns standard output and error."""
    ran = subprocess.run(
        [LOADSIDE, "signal", kind, out, *map(str, options)],
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        preexec_fn=(lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))) if limit else None,
    )
    assert ran.returncode == status, f"{kind} {options}: status {ran.returncode}, {ran.stderr}"
    if status:
        assert ran.stderr.count("\n") == 1 and ran.stderr.startswith("loadside: "), ran.stderr
    return ran.stdout, ran.stderr


def read(path):
    """Rate and samples (frames by channels) of a WAV file, read without any library for sound."""
    with open(path, "rb") as file:
        data = file.read()
    assert data[:4] == b"RIFF" and data[8:12] == b"WAVE", data[:12]
    assert int.from_bytes(data[4:8], "little") == len(data) - 8
    at, form = 12, None
    while at < len(data):
        name, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        body = data[at + 8 : at + 8 + size]
        if name == b"fmt ":
            form = np.frombuffer(body[:16], "<u2")
        elif name == b"data":
            break
        at += 8 + size + size % 2
    code, channels, bits = form[0], form[1], form[7]
    rate = int.from_bytes(form[2:4].tobytes(), "little")
    if bits == 32:
        assert code == 3, code
        x = np.frombuffer(body, "<f4").astype(float)
    elif bits == 24:
        three = np.frombuffer(body, np.uint8).reshape(-1, 3)
        x = np.zeros((len(three), 4), np.uint8)
        x[:, 1:] = three
        x = (x.view("<i4")[:, 0] >> 8) / FULL_SCALE[24]
    else:
        x = np.frombuffer(body, "<i2") / FULL_SCALE[16]
    return rate, x.reshape(-1, channels)


def spectrum(x, rate):
    """Frequencies, and amplitudes of lines, with a window whose side lobes are below -300 dB."""
    window = np.kaiser(len(x), 60)
    return np.fft.rfftfreq(len(x), 1 / rate), np.abs(np.fft.rfft(x * window)) / (window.sum() / 2)


def highest_spur(x, rate, tones):
    """dBFS of the highest line that is none of the tones."""
    hz, line = spectrum(x, rate)
    width = 20 * rate / len(x)
    other = hz > width
    for tone in tones:
        other &= np.abs(hz - tone) > width
    return 20 * np.log10(line[other].max())


def tones_in_float():
    """No alias and no harmonic above -160 dB, also where a tone divides the rate or lies near half of it."""
    for rate in (44100, 48000, 192000):
        for hz in (997, 1000, rate / 16, rate / 4, 0.4 * rate, 0.49 * rate):
            for level in (0, -3, -20):
                signal("sine", "a.wav", "--bits", 32, "--rate", rate, "--frequency", hz, "--level", level, "--seconds", 3)
                _, x = read("a.wav")
                x = x[rate : 3 * rate, 0]
                spur = highest_spur(x, rate, [hz])
                assert spur < -160 + min(level, 0), f"{rate} {hz} {level}: {spur:.1f}"
                # AES17: a sine of 0 dBFS has a peak of full scale
                window = np.kaiser(len(x), 60)
                turn = np.exp(-2j * np.pi * hz * np.arange(len(x)) / rate)
                found = 20 * np.log10(np.abs(np.sum(x * window * turn)) / (window.sum() / 2))
                assert abs(found - level) < 1e-5, f"{rate} {hz} {level}: {found:.4f}"
    signal("two-tone", "a.wav", "--bits", 32, "--frequency", "19k,20k", "--seconds", 3)
    rate, x = read("a.wav")
    spur = highest_spur(x[rate : 3 * rate, 0], rate, [19000, 20000])
    assert spur < -160, spur


def two_tones():
    """The peak of the sum is that of a sine of that level; amplitudes are as the ratio."""
    for ratio in (1, 4, 0.25):
        signal("two-tone", "a.wav", "--frequency", "60,7000", "--ratio", ratio, "--level", -6, "--bits", 24)
        rate, x = read("a.wav")
        x = x[rate : 9 * rate, 0]
        n = np.arange(len(x))
        amplitude = [2 * abs(np.mean(x * np.exp(-2j * np.pi * f * n / rate))) for f in (60, 7000)]
        assert abs(sum(amplitude) - 10 ** (-6 / 20)) < 1e-6, amplitude
        assert abs(amplitude[0] / amplitude[1] / ratio - 1) < 1e-5, amplitude
        assert abs(x.max() - 10 ** (-6 / 20)) < 1e-3


def sweeps():
    """The frequency is from (to/from)^(t/seconds) within 0.2 %, over all of it, in each repeat."""
    for rate, low, high, seconds, repeats in ((48000, 5, 20000, 5, 2), (192000, 20, 94000, 3, 1), (44100, 20, 21600, 4, 3)):
        signal(
            *("sweep", "a.wav", "--rate", rate, "--from", low, "--to", high, "--seconds", seconds, "--repeats", repeats),
            *("--bits", 32, "--lead", 0.25, "--tail", 0.125, "--level", -1),
        )
        found_rate, x = read("a.wav")
        x = x[:, 0]
        assert found_rate == rate and len(x) == round((0.375 + seconds * repeats) * rate), len(x)
        length = seconds / np.log(high / low)
        for repeat in range(repeats):
            begin = rate // 4 + repeat * seconds * rate
            t = np.arange(seconds * rate) / rate
            part = x[begin : begin + seconds * rate]
            # the phase that it should have is taken out: what is left is slow, and its slope is the error in frequency
            wanted = 2 * np.pi * low * length * np.expm1(t / length)
            down = part * np.exp(-1j * wanted)
            cycles = np.maximum(np.ceil(rate / (low * np.exp(t / length))), 1).astype(int)
            for at in np.linspace(0.15 * seconds, 0.98 * seconds, 40):
                i = int(at * rate)
                span = max(20 * cycles[i], 2048)
                half = span // 2
                if i + span > len(part):
                    continue
                window = np.hanning(half)
                turned = np.angle(np.sum(down[i + half : i + 2 * half] * window) / np.sum(down[i : i + half] * window))
                off_hz = turned / (2 * np.pi) / (half / rate)
                assert abs(off_hz) < 0.002 * low * np.exp(at / length), f"{at} s: {off_hz} Hz"
            # power at the first frequency, and no step at the ends
            assert np.abs(part[: rate // low]).max() > 0.99 * 10 ** (-1 / 20)
            assert abs(part[0]) < 1e-3 and abs(part[-1]) < 1e-2
        assert not x[: rate // 4].any() and not x[rate // 4 + seconds * repeats * rate :].any()


def fades():
    """Only what a raised cosine of some ms spreads: 10 kHz off the tone, the edges leave less than -100 dB."""
    for kind, options in (("sine", ()), ("burst", ("--on", 0.1, "--off", 0.1)), ("staircase", ("--hold", 0.1, "--step", 10))):
        signal(kind, "a.wav", "--bits", 32, *options, *(() if kind == "staircase" else ("--seconds", 1)))
        rate, x = read("a.wav")
        hz, line = spectrum(x[:, 0], rate)
        far = 20 * np.log10(line[hz > 11000].max() / line.max())
        assert far < -100, f"{kind}: {far:.1f}"


def noise():
    """Periods alike to the bit in float; white to 0.01 dB, pink by 3.01 dB an octave; peak at the level; low crest."""
    for pink in ((), ("--pink",)):
        signal("noise", "a.wav", "--bits", 32, "--seconds", 4, "--level", -6, *pink)
        rate, x = read("a.wav")
        x = x[rate // 2 : -rate // 2, 0]
        with open("a.ini", encoding="utf-8") as file:
            period = int(dict(line.strip().split(" = ") for line in file if " = " in line)["period"])
        assert period & (period - 1) == 0 and len(x) >= 6 * period
        one = x[period : 2 * period]
        assert np.array_equal(one, x[2 * period : 3 * period])
        assert abs(20 * np.log10(np.abs(one).max()) + 6) < 1e-5
        assert 20 * np.log10(np.abs(one).max() / one.std()) < 8
        line = np.abs(np.fft.rfft(one))[1:-1]
        if pink:
            line *= np.sqrt(np.arange(1, len(line) + 1))
        assert np.ptp(20 * np.log10(line)) < 0.01


def dither():
    """Total noise 10 log10(3/12 LSB^2), white, and no harmonics of a low tone (Lipshitz, Wannamaker, Vanderkooy 1992)."""
    for bits in (16, 24):
        signal("sine", "a.wav", "--bits", bits, "--level", -90 if bits == 16 else -138, "--seconds", 20, "--lead", 0, "--tail", 0)
        rate, x = read("a.wav")
        x = x[rate : 19 * rate, 0] * FULL_SCALE[bits]
        n = np.arange(len(x))
        turn = np.exp(-2j * np.pi * 997 * n / rate)
        error = x - 2 * np.real(np.mean(x * turn) / turn)
        assert abs(10 * np.log10(np.mean(error**2) / (3 / 12))) < 0.05, np.mean(error**2)
        power = np.mean(np.abs(np.fft.rfft(error.reshape(-1, rate) * np.hanning(rate))) ** 2, axis=0)
        bands = power[100 : 100 + 119 * 199].reshape(-1, 119).mean(axis=1)
        assert np.ptp(10 * np.log10(bands)) < 1.5, np.ptp(10 * np.log10(bands))
        hz, line = spectrum(x, rate)
        for order in range(2, 12):
            here = line[np.abs(hz - order * 997) < 2].max()
            around = np.sqrt(np.mean(line[np.abs(hz - order * 997) < 50] ** 2))
            assert here < 5 * around, f"{bits} bit, order {order}"
    for bits in (16, 24):
        signal("silence", "a.wav", "--bits", bits, "--channels", 2, "--channel", 2)
        rate, x = read("a.wav")
        assert len(x) == 11 * rate and not x[:, 0].any() and not x[: rate // 2].any() and not x[-rate // 2 :].any()
        played = x[rate // 2 : -rate // 2, 1] * FULL_SCALE[bits]
        assert abs(np.mean(played**2) - 0.25) < 0.01 and set(np.unique(played)) == {-1, 0, 1}


def bursts_and_steps():
    signal("burst", "a.wav", "--on", 0.1, "--off", 0.3, "--seconds", 2, "--frequency", 1003)
    rate, x = read("a.wav")
    x = x[rate // 2 : -rate // 2, 0].reshape(5, -1)
    assert np.abs(x[:, : rate // 10]).max() > 0.7 and np.abs(x[:, rate // 10 + 1 :]).max() < 2 / FULL_SCALE[24]
    options = ("--from", -20, "--to", -2, "--step", 6, "--hold", 0.5, "--frequency", 1000, "--and-back")
    signal("staircase", "a.wav", *options)
    rate, x = read("a.wav")
    assert len(x) == 4.5 * rate, len(x)
    steps = x[rate // 2 : -rate // 2, 0].reshape(7, -1)[:, rate // 10 : 4 * rate // 10]
    levels = 20 * np.log10(steps.std(axis=1) * np.sqrt(2))
    assert np.allclose(levels, [-20, -14, -8, -2, -8, -14, -20], atol=1e-3), levels


def mains():
    """A tone on an order of the mains is warned of, with the nearest frequency that is on none; the defaults are not."""
    for kind in ("sine", "two-tone", "staircase", "burst", "sweep", "noise", "silence"):
        assert signal(kind, "a.wav", "--rate", 48000)[1] == "", kind
    for hz, near in ((50, 47), (60, 57), (100, 97), (1000, 997), (999.5, 997), (3000, 2997), (960, 957)):
        _, said = signal("sine", "a.wav", "--frequency", hz, "--seconds", 10)
        assert said.count("\n") == 1 and f" {near} Hz" in said, said
    _, said = signal("two-tone", "a.wav", "--frequency", "60,7000")
    assert said.count("\n") == 2 and " 57 Hz" in said and " 6997 Hz" in said, said
    with open("bench.ini", "w", encoding="utf-8") as file:
        file.write("[bench]\nmains = 60 Hz\n")
    assert signal("sine", "a.wav", "--frequency", 1000, "--bench", "bench.ini")[1] == ""
    assert " 1017 Hz" in signal("sine", "a.wav", "--frequency", 1020, "--bench", "bench.ini")[1]


BENCH = """[bench]
full_scale = 2
attenuation = 10
load = 8 ohm
play_full_scale = 2.83
gain = 26 dB
supply = 35 V, -35 V
"""


def volts():
    """What it does to load and input is said; what does not fit is not written, unless --anyway."""
    with open("bench.ini", "w", encoding="utf-8") as file:
        file.write(BENCH)
    volt = 2.83 * 10 ** (26 / 20)
    level = 20 * np.log10(19.9 / volt)
    said, _ = signal("sine", "b.wav", "--bench", "bench.ini", "--level", level)
    for words in ("19.9 V peak, 14.1 V rms, 24.8 W into 8 ohm", "1.99 V peak, and it takes 2 V: it fits", "bridged", "burn"):
        assert words in " ".join(said.split()), said
    assert os.path.exists("b.wav") and os.path.exists("b.ini")
    for kind, option in (("sine", "--level"), ("noise", "--level"), ("staircase", "--to")):
        _, said = signal(kind, "c.wav", "--bench", "bench.ini", option, -1, status=2)
        assert option in said and "--anyway" in said, said
        lower = re.search(r"to (\S+) dBFS", said)[1]
        assert not os.path.exists("c.wav") and not os.path.exists("c.ini")
        signal(kind, "d.wav", "--bench", "bench.ini", option, lower, "--quiet")
        signal(kind, "d.wav", "--bench", "bench.ini", option, f"{float(lower) + 0.05:.2f}", "--quiet", status=2)
        signal(kind, "e.wav", "--bench", "bench.ini", option, -1, "--anyway")
    with open("bench.ini", "w", encoding="utf-8") as file:
        file.write(BENCH.replace("= 10\n", "= 100\n"))
    _, said = signal("sine", "c.wav", "--bench", "bench.ini", "--level", -1, status=2)
    assert "supply" in said, said
    with open("bench.ini", "w", encoding="utf-8") as file:
        file.write("[bench]\nfull_scale = 2\n")
    said, _ = signal("sine", "c.wav", "--bench", "bench.ini", "--level", -1)
    assert "not known" in said, said


def refused():
    """One line, status 2, no file."""
    before = sorted(os.listdir())
    for kind, words, *options in (
        ("sine", "half the rate", "--frequency", 24000),
        ("sine", "half the rate", "--frequency", 5000, "--rate", 8000),
        ("sweep", "half the rate", "--to", 30000),
        ("sweep", "rises", "--from", 2000, "--to", 20),
        ("sine", "dBFS", "--level", 0.1),
        ("staircase", "dBFS", "--to", 1),
        ("staircase", "dBFS", "--from", "loud"),
        ("sine", "Hz", "--rate", 4000),
        ("sine", "Hz", "--rate", 800000),
        ("sine", "whole", "--rate", 44100.5),
        ("sine", "16, 24", "--bits", 20),
        ("sine", "channel 3 of 2", "--channels", 2, "--channel", 3),
        ("sine", "--hold", "--hold", 1),
        ("staircase", "--seconds", "--seconds", 3),
        ("sine", "--repeats", "--repeats", 2),
        ("two-tone", "two frequencies", "--frequency", 1000),
        ("two-tone", "two frequencies", "--frequency", "1000,1000"),
        ("sine", "'1 V' found", "--frequency", "1 V"),
        ("sinus", "sine"),
        ("sine", "nowhere.ini", "--bench", "nowhere.ini"),
    ):
        _, said = signal(kind, "x.wav", *options, status=2)
        assert words in said, f"{kind} {options}: {said}"
    signal("sine", "nowhere/x.wav", status=2)
    signal("sine", ".", status=2)
    signal("sine", "-", status=2)
    signal("sine", "x.ini", status=2)
    assert sorted(os.listdir()) == before


def kinds_of_help():
    """The help has the list of kinds by hand; it is that of the library, which the refusal of any other word says."""
    _, said = signal("xyzzy", "a.wav", status=2)
    made = re.search("no kind of signal; (.*) expected", said).group(1)
    text = subprocess.run([LOADSIDE, "signal", "--help"], capture_output=True, encoding="utf-8", check=True).stdout
    text = " ".join(text.split())
    assert f"KIND is {made}." in text, made
    for kind in re.split(", | or ", made):
        assert re.search(rf"[.;] {kind}( \(\w+\))?, for ", text), kind


def full_disk():
    """Neither file, or the old ones."""
    signal("sine", "f.wav", "--seconds", 1)
    with open("f.wav", "rb") as wav, open("f.ini", "rb") as ini:
        old = wav.read(), ini.read()
    before = sorted(os.listdir())
    for limit in (100, 4096, 500000):
        signal("sine", "f.wav", status=2, limit=limit)
        signal("sine", "g.wav", status=2, limit=limit)
    with open("f.wav", "rb") as wav, open("f.ini", "rb") as ini:
        assert (wav.read(), ini.read()) == old
    assert sorted(os.listdir()) == before


def bench_of_that_name():
    """bench.wav would put its sidecar over bench.ini."""
    with open("sedge.ini", "w", encoding="utf-8") as file:
        file.write(BENCH)
    _, said = signal("sine", "sedge.wav", "--bench", "sedge.ini", "--level", -20, "--quiet", status=2)
    assert "sedge.ini" in said and not os.path.exists("sedge.wav")
    with open("sedge.ini", encoding="utf-8") as file:
        assert file.read() == BENCH


TESTS = (
    *(tones_in_float, two_tones, sweeps, fades, noise, dither, bursts_and_steps),
    *(mains, volts, refused, kinds_of_help, full_disk, bench_of_that_name),
)


def main():
    failed = 0
    for test in TESTS:
        if len(sys.argv) > 2 and test.__name__ not in sys.argv[2:]:
            continue
        with tempfile.TemporaryDirectory() as folder:
            os.chdir(folder)
            try:
                test()
                print(f"ok      {test.__name__}")
            except AssertionError as error:
                failed += 1
                print(f"FAILED  {test.__name__}: line {error.__traceback__.tb_next.tb_lineno}: {error}")
            os.chdir("/")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
