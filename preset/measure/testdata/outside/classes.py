"""What takes there are: each function draws one take of its class at random.

A drawing is a dict: unit (as truth.json states it, levels and loop at 1 kHz), tone, note (name, samples), engine; and where the class
has them lead, seconds, strikes (s), snr (dB, peak of the note over noise RMS), mains (Hz), pink, motion, drive, bias, over, layout, refuse.
"""
import numpy as np

from notes import damped, dying


def between(rng, low, high):
    return float(rng.uniform(low, high))


def unit(rng, heads, first, step, loop=(-14, -4), jitter=0.25):
    """Heads and loop as they are to be found: delays in ms, levels and loop at 1 kHz."""
    at = first * between(rng, 1 - jitter, 1 + jitter) + np.concatenate([[0], np.cumsum(step * rng.uniform(1 - jitter, 1 + jitter, heads - 1))])
    levels = rng.uniform(-10, 0, heads)
    levels[rng.integers(heads)] = 0
    signs = np.where(rng.random(heads) < 0.15, -1, 1)
    u = {"heads": [[round(float(d), 3), round(float(l), 2), int(s)] for d, l, s in zip(at, levels, signs)],
         "echo_to_direct_db": round(between(rng, -6, 3), 2)}
    if rng.random() < 0.85:
        head = heads if rng.random() < 0.6 else int(rng.integers(1, heads + 1))
        u["feedback"] = {"head": head, "gain_db": round(between(rng, *loop), 2)}
    return u


def one_pole(rng):
    tone = [("high cut", round(between(rng, 2000, 7000)))]
    return tone + [("low cut", round(between(rng, 40, 150)))] if rng.random() < 0.8 else tone


def other_tone(rng):
    low = ("low cut", round(between(rng, 40, 120)))
    kind = rng.integers(3)
    if kind == 0:
        return [("second order", round(between(rng, 2000, 5000)), round(between(rng, 0.55, 1.1), 2)), low]
    if kind == 1:
        speed = round(between(rng, 15, 38), 1)
        return [("gap", round(between(rng, 4, 12), 1), speed), ("spacing", round(between(rng, 3, 9), 1), speed), low]
    return [("high cut", round(between(rng, 2500, 6000))), low,
            ("bell", round(between(rng, 250, 3000)), round(between(rng, 2, 5), 1), round(between(rng, 0.8, 2.5), 2))]


# ---- classes ----

def short_note(rng, notes, rate):
    name, x = notes.any(rng, rate)
    return name, damped(x, rate, between(rng, 0.05, 0.22), between(rng, 0.008, 0.03))


def plain(rng, notes, rate):
    return {"unit": unit(rng, int(rng.integers(1, 7)), between(rng, 60, 140), between(rng, 60, 120)), "tone": one_pole(rng),
            "note": short_note(rng, notes, rate), "engine": rng.choice(["spectrum", "csound"])}


def other_rate(rng, notes, rate):
    return plain(rng, notes, rate)


def overlapping(rng, notes, rate):
    name, x = notes.any(rng, rate, ["font", "guitar"])
    return {"unit": unit(rng, int(rng.integers(4, 7)), 50, 50, jitter=0.1), "tone": one_pole(rng), "engine": rng.choice(["spectrum", "csound"]),
            "note": (name, damped(x, rate, between(rng, 0.12, 0.35), between(rng, 0.01, 0.03)))}


def tone(rng, notes, rate):
    return {"unit": unit(rng, int(rng.integers(2, 5)), 100, 100), "tone": other_tone(rng), "note": short_note(rng, notes, rate), "engine": "spectrum"}


def hum(rng, notes, rate):
    kind = rng.integers(3)
    return {"unit": unit(rng, int(rng.integers(2, 5)), 100, 100), "tone": one_pole(rng), "note": short_note(rng, notes, rate), "engine": "csound",
            "mains": 0 if kind == 2 else float(rng.choice([50, 60])) * between(rng, 0.999, 1.001), "pink": bool(kind > 0), "snr": between(rng, 50, 58), "lead": 0.5}


def ringing(rng, notes, rate):
    name, x = notes.any(rng, rate, ["font", "guitar"], ringing=True)
    x = dying(x, rate, between(rng, 0.25, 0.9)) if rng.random() < 0.6 else x
    return {"unit": unit(rng, int(rng.integers(2, 4)), 110, 110, loop=(-14, -5)), "tone": one_pole(rng), "note": (name, x), "engine": rng.choice(["spectrum", "csound"])}


def motion(rng, wow=0.002):
    flutter = [between(rng, 2e-4, 5e-4), between(rng, 5, 12), between(rng, 0, 1)]
    return [[wow, between(rng, 0.4, 3), between(rng, 0, 1)]] + ([flutter] if rng.random() < 0.6 else [])


def wow(rng, notes, rate):
    take = wow_one_note(rng, notes, rate)
    return take | {"strikes": [n * between(rng, 3.0, 3.3) for n in range(4)], "seconds": 14}


def wow_one_note(rng, notes, rate):
    return {"unit": unit(rng, int(rng.integers(2, 5)), 100, 95, loop=(-14, -7)), "tone": one_pole(rng), "note": short_note(rng, notes, rate),
            "engine": "csound", "motion": motion(rng)}


def driven(rng, notes, rate):
    return {"unit": unit(rng, int(rng.integers(2, 4)), 110, 110), "tone": one_pole(rng), "note": short_note(rng, notes, rate), "engine": "csound",
            "over": 4 if rng.random() < 0.5 else 1, "drive": between(rng, 1, 4), "bias": between(rng, -0.2, 0.2)}


def phrase(rng, notes, rate):
    """Some notes one after the other, left to ring into each other."""
    x, names = np.zeros(6 * rate), []
    for at in np.cumsum(rng.uniform(0.25, 0.7, int(rng.integers(4, 9)))) - 0.25:
        name, y = notes.any(rng, rate, ["font", "guitar"], ringing=True)
        y = damped(y, rate, between(rng, 0.3, 1.2), 0.05) * between(rng, 0.5, 1)
        x[int(at * rate):int(at * rate) + len(y)] += y[:len(x) - int(at * rate)]
        names.append(name)
    return " + ".join(names), x / np.abs(x).max()


def two_channels(rng, notes, rate):
    long = rng.random() < 0.5
    return {"unit": unit(rng, int(rng.integers(1, 6)), 90, 80), "tone": one_pole(rng), "engine": rng.choice(["spectrum", "csound", "csound"]), "layout": "drywet",
            "note": phrase(rng, notes, rate) if long else short_note(rng, notes, rate), "seconds": 9 if long else 4}


def two_channels_moving(rng, notes, rate):
    return two_channels(rng, notes, rate) | {"engine": "csound", "motion": motion(rng, between(rng, 0.001, 0.002))}


def nothing(rng, notes, rate):
    kind = int(rng.integers(3))
    take = {"unit": {"heads": [[100, 0, 1], [200, -3, 1]]}, "tone": [], "engine": "none", "seconds": 3}
    if kind == 0:
        return take | {"note": short_note(rng, notes, rate), "refuse": ["no echo", "fewer echoes than heads"]}
    silent = ("none", np.zeros(rate // 10))
    return take | {"note": silent, "refuse": ["only noise", "silence"], "noise_dbfs": between(rng, -66, -30), "pink": kind == 2}


CLASSES = [plain, overlapping, tone, hum, ringing, wow, driven, two_channels, two_channels_moving, other_rate, wow_one_note, nothing]
