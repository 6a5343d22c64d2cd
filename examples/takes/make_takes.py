#!/usr/bin/env python3
"""Make the example takes: a recorded note through a simulated machine.

The note is the muted electric guitar of the FluidR3 GM sound font (MIT licence; see README.md), played by fluidsynth. The machine
is machine.csd, played by Csound, so that nothing of the project has a hand in what it will measure. What was put in stands in
truth.json. Needs fluidsynth, fluid-soundfont-gm and csound (Debian packages) and Python 3 without further modules.

usage: make_takes.py [FOLDER]
"""
import json, os, struct, subprocess, sys, tempfile

FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
TAKES = {
    "saltmarsh-heads-246": {
        "key": 52, "seconds": 3.6, "heads": {"2": [118.4, -6.8], "4": [237.1, 0.0], "6": [356.2, -2.3]},
        "loop_from": 6, "loop_db": -8.1, "echo_to_direct_db": -3.0, "high_cut_hz": 3200, "low_cut_hz": 70,
        "wow_percent": 0.1, "wow_hz": 0.9, "noise_dbfs": -72,
    },
}


def midi_file(key, path):
    """A Standard MIDI File of one note: program 29 (muted electric guitar), struck and let go after 0.25 s."""
    events = bytes([0, 0xC0, 28, 0, 0x90, key, 112, 0x60, 0x80, key, 0, 0x83, 0x60, 0xFF, 0x2F, 0])
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 192)
    open(path, "wb").write(head + b"MTrk" + struct.pack(">I", len(events)) + events)


def one_pole_gain(low, high, f=1000.0):
    """What the two cuts leave at f: levels are stated at 1 kHz, so the machine makes it up."""
    return 1 / ((1 + (low / f) ** 2) * (1 + (f / high) ** 2)) ** 0.5


def make(name, take, folder):
    with tempfile.TemporaryDirectory() as tmp:
        mid, raw, note = (os.path.join(tmp, f) for f in ("n.mid", "raw.wav", "note.wav"))
        midi_file(take["key"], mid)
        subprocess.run(["fluidsynth", "-q", "-ni", "-R", "0", "-C", "0", "-g", "1.0", "-r", "48000", "-F", raw, FONT, mid],
                       check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        subprocess.run(["sox", raw, "-b", "24", note, "remix", "1", "pad", "0.30", "fade", "h", "0", "0.50", "0.08",
                        "pad", "0", "4"], check=True)  # damped 0.2 s after it was struck
        tone = one_pole_gain(take["low_cut_hz"], take["high_cut_hz"])
        db = lambda v: 10 ** (v / 20)
        macros = {"NOTE": note, "HIGHCUT": take["high_cut_hz"], "LOWCUT": take["low_cut_hz"], "WOW": take["wow_percent"] / 100,
                  "WOWHZ": take["wow_hz"], "LOOP": db(take["loop_db"]) / tone, "NOISE": db(take["noise_dbfs"]),
                  "LEVEL": take.get("level", 1.0), "SECONDS": take["seconds"]}
        for head, (delay, level) in take["heads"].items():
            macros["D" + head] = delay
            macros["A" + head] = db(level + take["echo_to_direct_db"]) / tone
        out = os.path.join(folder, name + ".wav")
        subprocess.run(["csound", *[f"--{room}macro:{k}={v}" for k, v in macros.items() for room in "os"], "-o", out, "machine.csd"],
                       check=True, cwd=os.path.dirname(os.path.abspath(__file__)), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    folder = os.path.abspath(sys.argv[1] if len(sys.argv) > 1 else os.path.dirname(os.path.abspath(__file__)))
    for name, take in TAKES.items():
        make(name, take, folder)
    with open(os.path.join(folder, "truth.json"), "w") as f:
        json.dump(TAKES, f, indent=1)
        f.write("\n")
