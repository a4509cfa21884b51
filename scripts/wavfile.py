"""Writes integer PCM captures as WAV, block by block (numpy), for the scripts beside it."""

import struct

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
