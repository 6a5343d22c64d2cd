"""Reads echoes off takes as one would in an afternoon with SciPy: the first
milliseconds of the note are correlated with the take, and the peaks are picked.

    correlate.py RATE ALONE_MS FILE...

Each file holds one take as raw 64-bit floats, little-endian; ALONE_MS is how long
the direct sound is alone. What is printed is JSON: for each take its echoes, the
strongest first, as [delay in ms, level in dB to the direct sound], and how many
ms the computing took (the median of five runs after one to warm up, without the
interpreter's start and without reading the file).
"""

import json
import sys
import time

import numpy as np
from scipy import signal

MOST = 14  # echoes of a take


def echoes(x, rate, alone):
    x = x - x.mean()
    onset = int(np.argmax(np.abs(x) > 0.1 * np.max(np.abs(x))))
    part = x[onset : onset + int(alone * rate)]
    c = signal.correlate(x[onset:], part, mode="valid", method="fft") / np.dot(part, part)
    peaks, found = signal.find_peaks(np.abs(c), height=0.03, distance=int(0.02 * rate))
    late = peaks > 0.02 * rate
    peaks, heights = peaks[late], found["peak_heights"][late]
    strongest = np.argsort(-heights)[:MOST]
    return [[1000 * peaks[i] / rate, 20 * np.log10(heights[i])] for i in strongest]


def main():
    rate, alone = float(sys.argv[1]), float(sys.argv[2]) / 1000
    takes = []
    for path in sys.argv[3:]:
        x = np.fromfile(path, "<f8")
        spent = []
        for _ in range(6):
            before = time.perf_counter()
            found = echoes(x, rate, alone)
            spent.append(1000 * (time.perf_counter() - before))
        takes.append({"echoes": found, "ms": float(np.median(spent[1:]))})
    json.dump(takes, sys.stdout)


main()
