"""Writes what numpy, scipy and librosa make of the bundled strums; tests/ear/reference.rs holds our own figures against it.

reference.py FOLDER OUT: for each WAV file of FOLDER the strongest lines and the pitch classes of one second of it, and
levels in short frames; for these and the real playing in FOLDER/guitarset when notes begin.
"""
import json
import pathlib
import sys

import librosa
import numpy
import scipy.signal
import soundfile

FROM_S, LONG_S = 0.6, 1.0
LINES = 12
FRAME_S, STEP_S, FRAMES = 0.093, 0.023, 20


def spectrum_db(samples, rate):
    """Level of a sinusoid of amplitude 1 is 0 dB."""
    window = scipy.signal.windows.blackman(len(samples))
    size = 1 << 20
    level = numpy.abs(numpy.fft.rfft(samples * window, size)) * 2 / window.sum()
    return numpy.fft.rfftfreq(size, 1 / rate), 20 * numpy.log10(level + 1e-12)


def lines(samples, rate):
    hz, db = spectrum_db(samples, rate)
    reach = int(8 / (hz[1] - hz[0]))
    peaks, _ = scipy.signal.find_peaks(db[hz < 2000], distance=reach)
    strongest = sorted(peaks, key=lambda p: -db[p])[:LINES]
    return [[round(hz[p], 3), round(db[p], 3)] for p in sorted(strongest)]


def frames(samples, rate, at_hz):
    length, step = int(FRAME_S * rate), int(STEP_S * rate)
    window = scipy.signal.windows.hann(length, sym=False)
    out = []
    for hz in at_hz:
        wave = numpy.exp(-2j * numpy.pi * hz * numpy.arange(length) / rate)
        levels = [
            abs(numpy.sum(samples[k * step : k * step + length] * window * wave)) * 2 / window.sum()
            for k in range(FRAMES)
        ]
        out.append([round(20 * numpy.log10(level + 1e-12), 3) for level in levels])
    return out


def pitch_classes(samples, rate):
    """Powers; the range is that of src/spectrum/chroma.rs."""
    size = 1 << 16
    around = (size - len(samples)) // 2
    padded = numpy.pad(samples, (around, size - len(samples) - around))
    power = numpy.abs(librosa.stft(padded, n_fft=size, win_length=len(samples), center=False)) ** 2
    hz = librosa.fft_frequencies(sr=rate, n_fft=size)
    power[(hz < 75) | (hz > 2000)] = 0
    folded = librosa.feature.chroma_stft(S=power, sr=rate, n_fft=size, tuning=0.0, octwidth=None, norm=None)
    mean = folded.mean(axis=1)
    return [round(float(p / mean.max()), 3) for p in mean]


def onsets(samples, rate):
    times = librosa.onset.onset_detect(y=samples, sr=rate, hop_length=256, units="time", backtrack=True)
    return [round(float(t), 3) for t in times]


def main():
    folder, out = map(pathlib.Path, sys.argv[1:3])
    found = {}
    for path in sorted(folder.glob("*.wav")):
        samples, rate = soundfile.read(path, dtype="float32")
        begin = int(FROM_S * rate)
        second = samples[begin : begin + int(LONG_S * rate)]
        strongest = lines(second, rate)
        found[path.name] = {
            "from_s": FROM_S,
            "long_s": LONG_S,
            "lines_hz_db": strongest,
            "frames_db": frames(second, rate, [hz for hz, _ in strongest]),
            "chroma": pitch_classes(second, rate),
            "onsets_s": onsets(samples, rate),
        }
    playing = {
        path.name: onsets(*soundfile.read(path, dtype="float32")) for path in sorted(folder.glob("guitarset/*.flac"))
    }
    versions = {"numpy": numpy.__version__, "scipy": scipy.__version__, "librosa": librosa.__version__}
    out.write_text(json.dumps({"by": versions, "sounds": found, "playing_onsets_s": playing}) + "\n")


main()
