"""Composes what the network for sweeps is fitted to: running accompaniment, strums among other sounds, picked passes and
talking, whose every stroke is known. Writes each scene as a line of JSON and its samples.

scenes.py FIXTURES SEED COUNT | ... table sweeps OUT

The sound is put together from the notes of fixtures/notes and fixtures/bank, string by string: a string that is struck
again stops first, one that is not rings on. Only what scripts/found.rs develops on is used: its guitars, its dead strikes,
its knocks, its voice.
"""

import csv
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy
import soundfile
from scipy.signal import butter, fftconvolve, lfilter, resample_poly, sosfilt

RATE_HZ = 22_050
SECONDS = 20.0
GUITARS = ["archtop", "nylon", "solid-electric", "bank-steel", "bank-clean", "bank-electric"]
VOICE = "talking-low"
OPEN_MIDI = [40, 45, 50, 55, 59, 64]
# Shapes at fret 0, moved up by a barre, and open chords, as src/synth/voicings.rs has them.
MOVABLE = "022100 022000 020100 021100 020000 022200 x02220 x02210 x02020 x02120 x02010 x02200 x02230 022xxx x022xx"
OPEN = "x32010 x02220 320003 022100 xx0232 x02210 022000 xx0231 x32310 x02020 x21202 xx0212 020100 320001 x32000 133211 x02120 x02010 020000"
NOTE_RMS = 0.1  # over the first half second
# From string to string of a sweep, in seconds: a quick hand, a usual one, a slow one.
STEPS_S = [(0.002, 0.008), (0.004, 0.015), (0.008, 0.025)]
SLOWEST_S = (0.02, 0.045)


def resampled(samples, ratio):
    """The samples with their pitch raised by `ratio`."""
    return numpy.interp(numpy.arange(int(len(samples) / ratio)) * ratio, numpy.arange(len(samples)), samples).astype("f4")


def read(path):
    samples, rate_hz = soundfile.read(path, dtype="float32")
    common = numpy.gcd(rate_hz, RATE_HZ)
    return resample_poly(samples, RATE_HZ // common, rate_hz // common).astype("f4")


def material(fixtures):
    """Notes of each guitar (MIDI number and samples), dead strikes, knocks on a body, and a voice."""
    notes, dead, knocks = {name: [] for name in GUITARS}, [], []
    strikes = {}
    for folder in ("notes", "bank"):
        with open(Path(fixtures) / folder / "index.csv") as table:
            for row in csv.DictReader(table):
                if row["guitar"] not in GUITARS:
                    continue
                number = 0
                if row["kind"] == "dead-strike":
                    number = strikes[row["guitar"]] = strikes.get(row["guitar"], 0) + 1
                elif row["kind"] == "body-noise":
                    number = int(Path(row["file"]).stem.split("-rr")[1])
                if number and number % 2 == 0:
                    continue  # the half that is published
                samples = read(Path(fixtures) / folder / row["file"])
                head = numpy.abs(samples[: RATE_HZ // 10])
                samples = samples[numpy.argmax(head > 0.1 * head.max()) :]
                samples *= NOTE_RMS / max(1e-6, numpy.sqrt((samples[: RATE_HZ // 2] ** 2).mean()))
                match row["kind"]:
                    case "note":
                        notes[row["guitar"]].append((int(row["midi"]), samples))
                    case "dead-strike":
                        dead.append(samples)
                    case _:
                        knocks.append(samples)
    voice = read(Path(fixtures) / "not-guitar" / f"{VOICE}.flac")
    return notes, dead, knocks, voice * NOTE_RMS / numpy.sqrt((voice**2).mean())


def decibels(db):
    return 10 ** (db / 20)


def put(into, at_s, samples, db=0.0):
    at = max(0, int(at_s * RATE_HZ))
    count = min(len(samples), len(into) - at)
    if count > 0:
        into[at : at + count] += samples[:count] * decibels(db)


def stop(samples, at_s, t60_s):
    """Lets what sounds die from a moment on."""
    at = max(0, int(at_s * RATE_HZ))
    count = min(max(0, len(samples) - at), int(1.5 * t60_s * RATE_HZ))
    samples[at : at + count] *= numpy.exp(-6.9078 * numpy.arange(count) / (t60_s * RATE_HZ))
    samples[at + count :] = 0


def chord(rng):
    """Frets of strings 6 to 1, `None` where one is not played."""
    if rng.random() < 0.5:
        shapes, barre = MOVABLE.split(), rng.integers(1, 9)
    else:
        shapes, barre = OPEN.split(), 0
    return [None if fret == "x" else int(fret) + barre for fret in shapes[rng.integers(len(shapes))]]


def eased(rng, count):
    """Levels of a hum's overtones and the like."""
    return numpy.arange(1, count + 1) ** -rng.uniform(0.5, 2)


class Scene:
    """Six strings, other sounds beside them, and the strokes: first and last string's moment, how many strings, the mean moment
    by level, all in seconds."""

    def __init__(self, sounds, rng):
        self.notes, self.dead, self.knocks, self.voice = sounds
        self.rng = rng
        names = list(self.notes)
        self.guitar = self.notes[names[rng.integers(len(names))]]
        self.count = int(SECONDS * RATE_HZ)
        self.strings = [numpy.zeros(self.count, "f4") for _ in OPEN_MIDI]
        self.beside = numpy.zeros(self.count, "f4")
        self.transposed = rng.uniform(-3, 3)
        self.strokes = []

    def note(self, midi):
        off = numpy.array([abs(m - midi - self.transposed) for m, _ in self.guitar])
        near = numpy.flatnonzero(off <= off.min() + 0.01)
        recorded, samples = self.guitar[self.rng.choice(near)]
        return resampled(samples, 2 ** ((midi - recorded + 0.04 * self.rng.normal()) / 12))[: 3 * RATE_HZ]

    def any_of(self, sounds):
        return sounds[self.rng.integers(len(sounds))]

    def stop_all(self, at_s, t60_s=(0.03, 0.25)):
        for samples in self.strings:
            stop(samples, at_s, self.rng.uniform(*t60_s))

    def strike(self, frets, strings, at_s, step_s, level_db, spread_db, soft_db=0.0, dead=0.0):
        """Strikes strings one after the other; a share of them is dead, the first ones are softer."""
        rng, step_s, moments, levels = self.rng, self.rng.uniform(*step_s), [], []
        for place, string in enumerate(strings):
            db = level_db + rng.normal() * spread_db - (soft_db * rng.random() if place < 2 else 0)
            stop(self.strings[string], at_s, rng.uniform(0.02, 0.06))
            samples = self.note(OPEN_MIDI[string] + frets[string])
            if rng.random() < dead:
                if rng.random() < 0.5:
                    samples = self.any_of(self.dead) * decibels(rng.uniform(-8, 4))
                else:
                    stop(samples, 0, rng.uniform(0.04, 0.14))
            elif rng.random() < 0.06:
                stop(samples, 0, rng.uniform(0.15, 0.5))
            put(self.strings[string], at_s, samples, db)
            moments.append(at_s)
            levels.append(decibels(db))
            at_s += step_s * rng.uniform(0.5, 1.5)
        self.strokes.append((moments[0], moments[-1], len(strings), float(numpy.average(moments, weights=levels))))

    def touch(self, at_s):
        """Lays a hand on up to three strings."""
        for _ in range(self.rng.integers(1, 4)):
            put(self.beside, at_s, self.any_of(self.dead), self.rng.uniform(-24, -4))
            at_s += self.rng.uniform(0.002, 0.03)

    def knock(self):
        """A knock on a body, recorded or computed, a drum, or a burst of noise."""
        rng = self.rng
        count = RATE_HZ // 2
        t = numpy.arange(count) / RATE_HZ
        falls = lambda from_s, to_s: numpy.exp(-6.9 * t / rng.uniform(from_s, to_s))
        kind = rng.integers(4)
        if kind == 0:
            return 2 * resampled(self.any_of(self.knocks), 2 ** rng.uniform(-0.5, 0.5))
        if kind == 1:
            tones = [numpy.sin(2 * numpy.pi * rng.uniform(70, 1500) * t) * falls(0.03, 0.3) for _ in range(rng.integers(2, 7))]
            samples = sum(rng.uniform(0.2, 1) * tone for tone in tones) + rng.normal(size=count) * rng.uniform(0.05, 0.7) * falls(0.005, 0.06)
        elif kind == 2:
            turns = rng.uniform(45, 70) * t + rng.uniform(1, 5) * (1 - numpy.exp(-t / 0.02))
            samples = numpy.sin(2 * numpy.pi * turns) * falls(0.1, 0.4)
            samples = samples + rng.normal(size=count) * falls(0.03, 0.25) * rng.choice([0, 0.1, 0.4])
        else:
            low_hz = rng.uniform(200, 4000)
            band = butter(2, [low_hz, min(10_000, low_hz * rng.uniform(1.5, 6))], "band", fs=RATE_HZ, output="sos")
            samples = 3 * sosfilt(band, rng.normal(size=count)) * falls(0.02, 0.25)
        return (0.3 * samples).astype("f4")

    def words(self, seconds):
        ratio = 2 ** self.rng.uniform(-0.5, 0.5)
        count = int(seconds * RATE_HZ * ratio)
        at = self.rng.integers(max(1, len(self.voice) - count))
        return resampled(self.voice[at : at + count], ratio)

    def hum(self):
        t = numpy.arange(self.count) / RATE_HZ
        hz = self.rng.choice([50, 60])
        tones = [level * numpy.sin(2 * numpy.pi * hz * (n + 1) * t + self.rng.uniform(0, 6)) for n, level in enumerate(eased(self.rng, 15))]
        samples = 0.05 * sum(tones)
        samples[: self.rng.integers(2 * self.count) - self.count] = 0
        return samples.astype("f4")

    def recorded(self):
        return through(sum(self.strings) + self.beside, self.rng)


def played(frets):
    return [string for string, fret in enumerate(frets) if fret is not None]


def accompaniment(scene):
    """Strums in rhythm, down and up, over all strings and over some; chords that ring on or are stopped; dead strokes of the
    muting hand; single strings; in some a backing, a voice, a hum."""
    rng = scene.rng
    at_s, beat_s, frets = rng.uniform(0.2, 1.0), rng.uniform(0.18, 0.6), chord(rng)
    level_db, spread_db, soft_db = rng.uniform(1, 5), rng.uniform(1.5, 5), rng.uniform(0, 6)
    step_s, dead = STEPS_S[rng.integers(3)], rng.choice([0, 0, 0.08, 0.2])
    held, both_ways, singles = rng.random() < 0.7, rng.random() < 0.75, rng.random() < 0.25
    number = 0
    while at_s < SECONDS - 0.3:
        if rng.random() < 0.22:
            frets = chord(rng)
            if held and rng.random() < 0.5:
                for samples in scene.strings:
                    if rng.random() < 0.7:
                        stop(samples, at_s, rng.uniform(0.03, 0.15))
            else:
                scene.stop_all(at_s - rng.uniform(0, 0.15), (0.03, 0.2))
        elif rng.random() < 0.12:
            stopped_s = at_s - rng.uniform(0.05, 0.25)
            scene.stop_all(stopped_s)
            if rng.random() < 0.5:
                scene.touch(stopped_s)
        up = both_ways and (number % 2 == 1) != (rng.random() < 0.1)
        strings = played(frets)
        db = rng.normal() * level_db - (2 if up else 0) - (rng.uniform(3, 9) if rng.random() < 0.15 else 0)
        if singles and rng.random() < 0.3:
            strings = [scene.any_of(strings)]
        elif up and rng.random() < 0.6:
            strings = strings[-rng.integers(2, 5) :]
        elif not up and rng.random() < 0.3:
            strings = strings[: rng.integers(3, 6)]
        elif not up and rng.random() < 0.2:
            strings = strings[-rng.integers(3, 6) :]
        all_dead = float(len(strings) > 1 and rng.random() < dead)
        scene.strike(frets, strings[::-1] if up else strings, at_s, step_s, db, spread_db, soft_db, all_dead)
        number += 1
        at_s += beat_s * rng.choice([1, 2, 3, 0.5 if beat_s > 0.4 else 1], p=[0.6, 0.25, 0.1, 0.05]) * (1 + 0.04 * rng.normal())
    if rng.random() < 0.2:
        for _ in range(rng.integers(1, 8)):
            put(scene.beside, rng.uniform(0, SECONDS), scene.knock(), rng.uniform(-20, 0))
    if rng.random() < 0.12:
        drums, db = [scene.knock() for _ in range(3)], rng.uniform(-24, -6)
        for at_s in numpy.arange(rng.uniform(0, beat_s), SECONDS, beat_s):
            put(scene.beside, at_s, scene.any_of(drums), db)
    if rng.random() < 0.08:
        put(scene.beside, 0, scene.words(SECONDS), rng.uniform(-25, -8))
    if rng.random() < 0.05:
        put(scene.beside, 0, scene.hum())


def apart(scene):
    """Strums with some or all strings dead, single strings, touches, knocks and words, one after the other."""
    rng, spread_db = scene.rng, scene.rng.uniform(1, 5)
    at_s = rng.uniform(0.3, 1.0)
    while at_s < SECONDS - 0.7:
        frets = chord(rng)
        strings = played(frets)[:: rng.choice([1, 1, 1, -1, -1])]
        kind = rng.random()
        if kind < 0.4:
            strings = strings[:2] if rng.random() < 0.15 else strings
            step_s = [STEPS_S[0], STEPS_S[2], SLOWEST_S][rng.integers(3)]
            scene.strike(frets, strings, at_s, step_s, 3 * rng.normal(), spread_db, rng.uniform(0, 6), rng.choice([0, 0, 0.3, 0.6, 1]))
            if rng.random() < 0.5:
                stopped_s = at_s + rng.uniform(0.3, 1.5)
                scene.stop_all(stopped_s)
                if rng.random() < 0.4:
                    scene.touch(stopped_s)
        elif kind < 0.55:
            scene.touch(at_s)
        elif kind < 0.75:
            put(scene.beside, at_s, scene.knock(), rng.uniform(-15, 6))
        elif kind < 0.85:
            put(scene.beside, at_s, scene.words(rng.uniform(0.3, 1.5)), rng.uniform(-12, 6))
        elif kind < 0.95:
            scene.strike(frets, [scene.any_of(strings)], at_s, (0, 0), 3 * rng.normal(), 1, dead=rng.choice([0, 0, 1]))
        else:
            scene.stop_all(at_s)
        at_s += rng.choice([rng.uniform(0.5, 1), rng.uniform(1, 2.6)])


def picked(scene):
    """Slow passes, a string at a time, some of them dead, after a strum in some."""
    rng = scene.rng
    at_s = rng.uniform(0.3, 1.0)
    while at_s < SECONDS - 2:
        frets, gap_s, dead = chord(rng), rng.uniform(0.2, 0.7), rng.choice([0, 0.15, 0.4])
        strings = played(frets)[:: rng.choice([1, -1])]
        if rng.random() < 0.3:
            rng.shuffle(strings)
        if rng.random() < 0.6:
            scene.stop_all(at_s - rng.uniform(0.02, 0.2), (0.03, 0.2))
        if rng.random() < 0.35:
            scene.strike(frets, strings, at_s, STEPS_S[1], 3 * rng.normal(), 3, 3)
            at_s += rng.uniform(0.4, 1.2)
        for string in strings:
            if at_s < SECONDS - 0.5:
                scene.strike(frets, [string], at_s, (0, 0), 4 * rng.normal(), 1, dead=dead)
                at_s += gap_s * rng.uniform(0.85, 1.15)
        if rng.random() < 0.3:
            put(scene.beside, at_s + 0.2, scene.knock(), rng.uniform(-15, 3))
        at_s += rng.uniform(0.1, 1)


def talking(scene):
    put(scene.beside, 0, scene.words(SECONDS))
    if scene.rng.random() < 0.3:
        put(scene.beside, 0, scene.hum())


def weighed(samples, depth_db, rng, low_hz=None, high_hz=None):
    """Through a random smooth equaliser, one gain an octave, and a phone's band limits."""
    size = len(samples) + 4096
    hz = numpy.fft.rfftfreq(size, 1 / RATE_HZ)
    gains = numpy.clip(rng.normal(size=10), -2, 2) * depth_db
    gain = decibels(numpy.interp(numpy.log2(numpy.maximum(hz, 62) / 62), numpy.arange(10), gains))
    if low_hz:
        gain /= numpy.sqrt(1 + (low_hz / numpy.maximum(hz, 1)) ** 4) * numpy.sqrt(1 + (hz / high_hz) ** 8)
    return numpy.fft.irfft(numpy.fft.rfft(samples, size) * gain)[: len(samples)]


def compressed(samples, rng):
    """What phones do to loud sounds: the gain falls at once and comes back slowly (a choice of ranges)."""
    block = 44
    loudest = numpy.abs(samples).max()
    threshold, ratio = loudest * decibels(-rng.uniform(6, 30)), rng.uniform(1.5, 8)
    falls, comes_back = (numpy.exp(-block / (s * RATE_HZ)) for s in (rng.uniform(0.002, 0.02), rng.uniform(0.05, 0.6)))
    blocks = numpy.abs(numpy.pad(samples, (0, -len(samples) % block))).reshape(-1, block).max(1)
    level, gains = 0.0, numpy.ones(len(blocks))
    for place, now in enumerate(blocks):
        pole = falls if now > level else comes_back
        level = pole * level + (1 - pole) * now
        gains[place] = max(1.0, level / threshold) ** (1 / ratio - 1)
    return samples * numpy.interp(numpy.arange(len(samples)), numpy.arange(len(blocks)) * block, gains)


def through(samples, rng):
    """A room, a microphone, noise, what evens out loud and soft, and a converter that clips."""
    if rng.random() < 0.6:
        count = int(rng.uniform(0.1, 0.7) * RATE_HZ)
        room = rng.normal(size=count) * numpy.exp(-6.9 * numpy.arange(count) / count)
        room *= decibels(-rng.uniform(0, 20)) / numpy.sqrt((room**2).sum())
        room[0] += 1
        samples = fftconvolve(samples, room)[: len(samples)]
    limits = (rng.uniform(60, 250), rng.uniform(3000, 9000)) if rng.random() < 0.5 else (None, None)
    samples = weighed(samples, rng.uniform(0, 6), rng, *limits)
    loudest = numpy.abs(samples).max() + 1e-9
    noise = lfilter([1], [1, -rng.choice([0, 0.9, 0.98])], rng.normal(size=len(samples)))
    samples = samples + noise / noise.std() * loudest * decibels(-rng.uniform(30, 65))
    if rng.random() < 0.5:
        samples = compressed(samples, rng)
    samples = samples / (numpy.abs(samples).max() + 1e-9)
    if rng.random() < 0.4:
        samples = numpy.clip(samples * decibels(rng.uniform(0, 10)), -1, 1)
        if rng.random() < 0.3:
            samples = numpy.tanh(1.5 * samples)
    return (samples / (numpy.abs(samples).max() + 1e-9) * decibels(rng.uniform(-16, 0))).astype("f4")


def composed(sounds, seed):
    """Samples of a scene, and its strokes."""
    rng = numpy.random.default_rng(seed)
    scene = Scene(sounds, rng)
    rng.choice([accompaniment, apart, picked, talking], p=[0.58, 0.18, 0.16, 0.08])(scene)
    return scene.recorded(), scene.strokes


def begin(fixtures):
    """Reads in each process what scenes are put together from."""
    global SOUNDS
    SOUNDS = material(fixtures)


def one(seed):
    return composed(SOUNDS, seed)


def main():
    fixtures, seed, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    with ProcessPoolExecutor(os.cpu_count(), initializer=begin, initargs=(fixtures,)) as pool:
        for samples, strokes in pool.map(one, [(seed, number) for number in range(count)]):
            head = dict(rate_hz=RATE_HZ, samples=len(samples), strokes=[[float(x) for x in stroke] for stroke in strokes])
            sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + samples.astype("<f4").tobytes())


if __name__ == "__main__":
    main()
