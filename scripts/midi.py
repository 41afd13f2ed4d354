#!/usr/bin/env python3
"""Reads a backing's MIDI file with mido, a general MIDI library, and compares it with what was asked for.

midi.py PROGRAM: PROGRAM is the built ringtrue. Needs mido (scripts/test installs it).
"""

import pathlib
import subprocess
import sys
import tempfile

import mido

BASS = {"F": 29, "Bb": 34, "C": 36, "Dm": 38}


def read(program, *options):
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "backing.mid"
        subprocess.run(
            [program, "backing", "F Bb C Dm", "--midi", str(path), *options],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        return mido.MidiFile(path)


def timed(file):
    """Every message with its time in seconds, by the file's own tempos."""
    now = 0.0
    for message in file:
        now += message.time
        yield now, message


def check(wanted, found, what):
    assert wanted == found, f"{what}: {wanted} wanted, {found} found"


def main(program):
    file = read(program, "--tempo", "90", "--feel", "whole")
    check(1, file.type, "format")
    check(3, len(file.tracks), "tracks")
    messages = list(timed(file))
    chords = [(round(at, 3), m.text) for at, m in messages if m.type == "marker"]
    bar = 4 * 60 / 90
    # Two bars are counted in.
    places = [round(bar * (2 + i), 3) for i in range(4)]
    check(list(zip(places, BASS)), chords, "chords")
    bass = [(round(at, 3), m.note) for at, m in messages
            if m.type == "note_on" and m.velocity > 0 and m.channel == 0]
    check(list(zip(places, BASS.values())), bass, "bass notes")
    on = [m.note for _, m in messages if m.type == "note_on" and m.velocity > 0]
    off = [m.note for _, m in messages if m.type == "note_off"]
    check(sorted(on), sorted(off), "notes that end")

    ramp = read(program, "--tempo", "60", "--to-tempo", "120", "--feel", "whole", "--loops", "2")
    drums = sorted({round(at, 6) for at, m in timed(ramp)
                    if m.type == "note_on" and m.channel == 9 and m.note in (76, 77)})
    check(8 + 32, len(drums), "beats")
    # 60 n / (T1 - T0) ln(T / T0) seconds after a count-in of eight.
    from math import log
    for beat, at in enumerate(drums[8:]):
        wanted = 8 + 60 * 32 / 60 * log(1 + beat / 32)
        assert abs(at - wanted) < 5e-4, f"beat {beat}: {wanted} wanted, {at} found"
    print(f"MIDI as mido {mido.version_info} reads it: as asked for")


main(sys.argv[1])
