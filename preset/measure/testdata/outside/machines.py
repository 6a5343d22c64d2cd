"""Two simulated echo machines that have nothing in common with the project's code, nor with each other.

  spectrum   multiplies spectra: delays are exact phase factors, tones are formulas of analogue circuits and of magnetic carriers,
             or those of the filters that Csound has. No motion, no drive.
  csound     plays the machine sample by sample in Csound: one-pole `tone` and `atone`, a delay line read by `deltapx` with 64 points,
             tanh in the record path, wow and flutter. At once, twice or four times the rate of the take.

A machine is a dict: heads [[delay s, gain before the tone]], loop None or (index of the head, gain before the tone), tone [(kind, …)],
drive (0: none), bias, motion [(peak share of speed, Hz, phase in turns)].
"""
import os, subprocess, tempfile

import numpy as np
from scipy.io import wavfile
from scipy.signal import resample_poly


def analogue(tone, f):
    """The response at f (Hz, above 0) of the parts of a tone, one after the other."""
    s, h = 1j * f, 1.0 + 0j
    for kind, *p in tone:
        if kind == "high cut":      # corner Hz
            h = h / (1 + s / p[0])
        elif kind == "low cut":     # corner Hz
            h = h / (1 + p[0] / s)
        elif kind == "second order":  # corner Hz, quality
            h = h / (1 + s / (p[0] * p[1]) + (s / p[0]) ** 2)
        elif kind == "bell":        # centre Hz, lift dB, quality
            lift, w = 10 ** (p[1] / 20), s / p[0]
            h = h * (1 + w * lift / p[2] + w * w) / (1 + w / p[2] + w * w)
        elif kind == "gap":         # gap µm, speed cm/s: sin(x)/x with x = π·gap/wavelength (text-book formula of magnetic recording)
            h = h * np.sinc(f * p[0] * 1e-6 / (p[1] * 1e-2))
        elif kind == "spacing":     # distance µm, speed cm/s: exp(−2π·distance/wavelength) (Wallace, Bell Syst. Tech. J. 30, 1951)
            h = h * np.exp(-2 * np.pi * f * p[0] * 1e-6 / (p[1] * 1e-2))
        else:
            raise ValueError(kind)
    return h


def pole(corner, rate):
    """The coefficient of Csound's tone and atone (its manual: b = 2 − cos(2π·corner/rate), c2 = b − √(b² − 1))."""
    b = 2 - np.cos(2 * np.pi * corner / rate)
    return b - np.sqrt(b * b - 1)


def digital(tone, f, rate):
    """The response at f of Csound's one-pole filters at that rate."""
    z1, h = np.exp(-2j * np.pi * f / rate), 1.0 + 0j
    for kind, corner in tone:
        c = pole(corner, rate)
        h = h * ((1 - c) / (1 - c * z1) if kind == "high cut" else c * (1 - z1) / (1 - c * z1))
    return h


def spectrum(machine, x, rate, response=analogue):
    """The wet sound for the dry sound x: W = X·T·Σ a·e^(−jωd) / (1 − g·T·e^(−jωd)), T the response of the tone."""
    n = 1 << int(np.ceil(np.log2(len(x) + 24 * rate)))  # 24 s for the loop to die away in before it comes round
    f = np.fft.rfftfreq(n, 1 / rate)
    f[0] = 1e-9
    late = [np.exp(-2j * np.pi * f * d) for d, _ in machine["heads"]]
    tone = response(machine["tone"], f)
    wet = tone * sum(a * e for (_, a), e in zip(machine["heads"], late))
    if machine["loop"]:
        head, gain = machine["loop"]
        wet /= 1 - gain * tone * late[head]
    return np.fft.irfft(np.fft.rfft(x, n) * wet, n)[:len(x)]


def csound(machine, x, rate, over=1):
    """The wet sound for the dry sound x, played at over times the rate."""
    fine = rate * over
    with tempfile.TemporaryDirectory() as folder:
        dry, wet, csd = (os.path.join(folder, f) for f in ("dry.wav", "wet.wav", "machine.csd"))
        wavfile.write(dry, fine, (resample_poly(x, over, 1) if over > 1 else x).astype(np.float32))
        with open(csd, "w") as f:
            f.write(score(machine, dry, fine, len(x) / rate))
        subprocess.run(["csound", "--nodisplays", "-W", "-f", "-d", "-m0", "-o", wet, csd], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        y = wavfile.read(wet)[1].astype(float)
    y = resample_poly(y, 1, over) if over > 1 else y
    return np.pad(y, (0, max(0, len(x) - len(y))))[:len(x)]


def moved(delay, motion):
    """A delay as Csound reads it: the carrier has to travel the same way at every speed v = 1 + m·sin(2π(ft + p)), so that to the
    first order the delay is d + m/(2πf)·(cos 2π(ft + p) − cos 2π(f(t − d) + p))."""
    terms = [f"{delay:.12f}"]
    for m, f, p in motion:
        a = m / (2 * np.pi * f)
        for sign, phase in ((a, p), (-a, p - f * delay)):
            terms.append(f"oscili:a({sign:.12f}, {f:.9f}, gisine, {(phase + 0.25) % 1:.12f})")
    return "a(" + terms[0] + ")" + "".join(" + " + t for t in terms[1:])


def score(machine, dry, rate, seconds):
    """The machine as a Csound document. What is fed back comes a sample late by Csound's order of work, so it is read one earlier."""
    filters = {"high cut": "tone", "low cut": "atone"}
    lines = [f'adry soundin "{dry}"', "aback init 0", "arec = adry + aback"]
    if machine["drive"]:
        k, b = machine["drive"], machine["bias"]
        lines.append(f"arec = (tanh(arec * {k:.9f} + {b:.9f}) - {np.tanh(b):.12f}) / {k * (1 - np.tanh(b) ** 2):.12f}")
    lines += [f"arec {filters[kind]} arec, {corner:.6f}" for kind, corner in machine["tone"]]
    lines += [f"adel{i} = {moved(d, machine['motion'])}" for i, (d, _) in enumerate(machine["heads"])]
    lines.append("abuf delayr 2")
    lines += [f"ahead{i} deltapx adel{i}, 64" for i in range(len(machine["heads"]))]
    if machine["loop"]:
        head, gain = machine["loop"]
        lines += [f"afed deltapx adel{head} - {1 / rate:.12f}, 64", f"aback = afed * {gain:.12f}"]
    lines += ["delayw arec", "out " + " + ".join(f"ahead{i} * {a:.12f}" for i, (_, a) in enumerate(machine["heads"]))]
    body = "\n".join("  " + line for line in lines)
    return f"""<CsoundSynthesizer>
<CsInstruments>
sr = {rate}
ksmps = 1
nchnls = 1
0dbfs = 1
gisine ftgen 0, 0, 1048576, 10, 1
instr 1
{body}
endin
</CsInstruments>
<CsScore>
i 1 0 {seconds:.6f}
</CsScore>
</CsoundSynthesizer>
"""
