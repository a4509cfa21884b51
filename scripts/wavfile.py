"""Writes integer PCM captures as WAV, block by block, and reads 24-bit ones (numpy), for the scripts beside it."""

import struct
import sys

import numpy as np


class Writer:
    """A WAV file of `bits` (16 or 24) bits a sample. Samples are given as floats, 1.0 being full scale."""

    def __init__(self, path, rate_hz, channels, bits, frames, rng):
        self.scale = 2.0 ** (bits - 1)
        self.bytes = bits // 8
        self.rng = rng
        self.file = open(path, "wb")
        size = frames * channels * self.bytes
        align = channels * self.bytes
        self.file.write(b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt ")
        self.file.write(struct.pack("<IHHIIHH", 16, 1, channels, rate_hz, rate_hz * align, align, bits))
        self.file.write(b"data" + struct.pack("<I", size))

    def write(self, samples):
        """samples[frames, channels]; rounded with triangular dither of +-1 LSB, as a converter's own noise would."""
        random = self.rng.random(samples.shape, dtype=np.float32) - self.rng.random(samples.shape, dtype=np.float32)
        code = np.rint(samples * self.scale + random).astype("<i4")
        np.clip(code, -int(self.scale), int(self.scale) - 1, out=code)
        low_bytes = code.view(np.uint8).reshape(-1, 4)[:, : self.bytes]
        self.file.write(np.ascontiguousarray(low_bytes).tobytes())

    def close(self):
        self.file.close()


class Capture:
    """The samples of a plain 24-bit WAV file, mapped; scipy's own reader would hold all of them at once."""

    def __init__(self, path):
        with open(path, "rb") as file:
            head = file.read(44)
        layout, self.channels, self.rate_hz = struct.unpack("<HHI", head[20:28])
        if head[:4] != b"RIFF" or head[36:40] != b"data" or layout != 1 or head[34:36] != b"\x18\x00":
            sys.exit(f"{path}: not a plain 24-bit WAV file; make one with make-benchmark-capture")
        frames = int.from_bytes(head[40:44], "little") // (3 * self.channels)
        self.bytes = np.memmap(path, np.uint8, "r", 44, (frames, self.channels, 3))

    def __len__(self):
        return len(self.bytes)

    def read(self, start, stop, channel):
        part = self.bytes[max(start, 0) : stop, channel]
        code = np.zeros((len(part), 4), np.uint8)
        code[:, 1:] = part
        return code.view("<i4")[:, 0] / 2.0**31
