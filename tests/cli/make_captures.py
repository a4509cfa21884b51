#!/usr/bin/python3
"""usage: make_captures.py FOLDER

Makes the captures that the cases use, all from the formulas and the seed here.
"""
import math
import os
import random
import sqlite3
import struct
import sys
import wave

SEED = 1
LEDGER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../testdata/ledger-version-1.sql")
RATE_HZ = 48000
SECONDS = 1


def samples(level, noise, harmonic=0.0, seed=SEED, tone_hz=1000):
    """A sine of that peak with a second harmonic and Gaussian noise, re full scale."""
    source = random.Random(seed)
    for n in range(RATE_HZ * SECONDS):
        phase = 2 * math.pi * tone_hz * n / RATE_HZ
        yield level * (math.sin(phase) + harmonic * math.sin(2 * phase)) + source.gauss(0, noise)


def seconds():
    return (n / RATE_HZ for n in range(RATE_HZ * SECONDS))


def signals():
    """Signals other than one tone, by name."""
    octaves = math.log(20000 / 20)
    source = random.Random(SEED)

    def with_noise(values):
        return (value + source.gauss(0, 1e-4) for value in values)

    yield "two-tone", with_noise(0.26 * math.sin(2 * math.pi * 19000 * t) + 0.24 * math.sin(2 * math.pi * 20000 * t)
                                 for t in seconds())
    yield "sweep", with_noise(0.5 * math.sin(2 * math.pi * 20 / octaves * (math.exp(t * octaves) - 1)) for t in seconds())
    yield "late", with_noise(0.5 * math.sin(2 * math.pi * 1000 * t) if t > 0.3 else 0 for t in seconds())
    yield "hum-or-tone", with_noise(0.003 * math.sin(2 * math.pi * 100 * t) for t in seconds())


def loads(source_ohm, stretches, level=0.5, tone_hz=997):
    """A tone across loads, (ohm, seconds) each, from a source with that resistance."""
    source = random.Random(SEED)
    n = 0
    for ohm, length in stretches:
        for _ in range(round(length * RATE_HZ)):
            yield level / (1 + source_ohm / ohm) * math.sin(2 * math.pi * tone_hz * n / RATE_HZ) + source.gauss(0, 1e-4)
            n += 1


def sixteen_bit(values, channels=1):
    frames = bytearray()
    for value in values:
        frames += struct.pack("<h", round(32767 * value)) * channels
    return bytes(frames)


def write_wav(path, data, channels=1, rate_hz=RATE_HZ):
    with wave.open(path, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(rate_hz)
        out.writeframes(data)


def main():
    folder = sys.argv[1]
    os.makedirs(folder, exist_ok=True)
    os.makedirs(os.path.join(folder, "folder.wav"), exist_ok=True)

    def place(name):
        return os.path.join(folder, name)

    tone = sixteen_bit(samples(0.5, 1e-4, harmonic=1e-3))
    write_wav(place("tone.wav"), tone)
    write_wav(place("twin.wav"), sixteen_bit(samples(0.5, 1e-4, harmonic=1e-3, seed=2)))  # another capture of the same
    write_wav(place("distorted.wav"), sixteen_bit(samples(0.5, 1e-4, harmonic=4e-3, seed=3)))
    write_wav(place("six.wav"), sixteen_bit(samples(0.5, 1e-4, harmonic=1e-2, seed=5, tone_hz=6000)))
    write_wav(place("chain.wav"), sixteen_bit(samples(0.5, 1e-5, seed=4)))
    write_wav(place("half-rate.wav"), tone, rate_hz=RATE_HZ // 2)  # a 500 Hz tone
    write_wav(place("stereo.wav"), sixteen_bit(samples(0.5, 1e-4, harmonic=1e-3), 2), 2)
    write_wav(place("idle.wav"), sixteen_bit(samples(0.0, 1e-3)))
    for name, values in signals():
        write_wav(place(name + ".wav"), sixteen_bit(values))
    switched = [(8, 1.2), (math.inf, 1.2), (8, 1.2)]
    write_wav(place("switched.wav"), sixteen_bit(loads(0.1, switched)))
    write_wav(place("switched-after.wav"), sixteen_bit(loads(0.04, switched)))
    write_wav(place("load-8.wav"), sixteen_bit(loads(0.5, [(8, 1)])))
    write_wav(place("load-4.wav"), sixteen_bit(loads(0.5, [(4, 1)])))
    write_wav(place("load-4-at-1k.wav"), sixteen_bit(loads(0.5, [(4, 1)], tone_hz=1000)))
    write_wav(place("silence.wav"), bytes(2 * RATE_HZ * SECONDS))
    write_wav(place("short.wav"), tone[:2000])
    write_wav(place("none.wav"), b"")
    with open(place("tone.raw"), "wb") as out:
        out.write(tone)
    with open(place("tone.wav"), "rb") as whole, open(place("truncated.wav"), "wb") as out:
        out.write(whole.read()[: RATE_HZ])
    with open(place("empty.wav"), "wb"):
        pass
    with open(place("text.wav"), "w", encoding="ascii") as out:
        out.write("These are words, not samples.\n" * 20)
    with open(place("bench.ini"), "w", encoding="ascii") as out:
        out.write("[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n")
    ledger = sqlite3.connect(place("a.ledger"))
    with open(LEDGER, encoding="utf-8") as script:
        ledger.executescript(script.read())
    ledger.close()


if __name__ == "__main__":
    main()
