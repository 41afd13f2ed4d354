#!/usr/bin/env python3
"""Writes fixtures/hostile: files that no reader of recordings wants to meet, named by content.

Run from the project's root; needs nothing but Python 3. Gives the same bytes every time.
tests/library/hostile.rs says what must come of each.
"""

import math
import pathlib
import struct

HERE = pathlib.Path("fixtures/hostile")
FORMATS = pathlib.Path("fixtures/formats")


def tone(rate, seconds, amplitude=0.5):
    return [amplitude * math.sin(2 * math.pi * 440 * i / rate) for i in range(int(rate * seconds))]


def int16(samples):
    return b"".join(struct.pack("<h", max(-32768, min(32767, round(32767 * x)))) for x in samples)


def float32(samples):
    return b"".join(struct.pack("<f", x) for x in samples)


def chunk(name, body, size=None):
    return name + struct.pack("<I", len(body) if size is None else size) + body


def description(code=1, channels=1, rate=16000, bits=16):
    block = channels * (bits // 8) & 0xFFFF
    speed = rate * block & 0xFFFFFFFF
    return chunk(b"fmt ", struct.pack("<HHIIHH", code, channels, rate, speed, block, bits))


def riff(*chunks, size=None, mark=b"RIFF"):
    body = b"WAVE" + b"".join(chunks)
    return mark + struct.pack("<I", len(body) if size is None else size) + body


def wav(samples, **how):
    return riff(description(**how), chunk(b"data", samples))


def keep(name, data):
    (HERE / name).write_bytes(data)


def cut(source, name, share):
    data = (FORMATS / source).read_bytes()
    keep(name, data[: int(len(data) * share)])


def ogg_crc(page):
    crc = 0
    for byte in page:
        crc ^= byte << 24
        for _ in range(8):
            crc = (crc << 1 ^ (0x04C11DB7 if crc >> 31 else 0)) & 0xFFFFFFFF
    return crc


def paged(data):
    """The same OGG of Opus with a page for each packet of 20 ms, as one that is streamed has (RFC 3533, RFC 7845)."""
    packets, part, serial = [], b"", data[14:18]
    while data:
        sizes = data[27 : 27 + data[26]]
        data = data[27 + data[26] :]
        for size in sizes:
            part, data = part + data[:size], data[size:]
            if size < 255:
                packets.append(part)
                part = b""
    stream = b""
    for number, packet in enumerate(packets):
        # Neither description nor comments last; samples are counted at 48 kHz.
        position = max(0, number - 1) * 960
        kind = 2 if number == 0 else 4 if number == len(packets) - 1 else 0
        sizes = [255] * (len(packet) // 255) + [len(packet) % 255]
        head = b"OggS\0" + struct.pack("<BQ4sI", kind, position, serial, number)
        tail = bytes([len(sizes), *sizes]) + packet
        stream += head + struct.pack("<I", ogg_crc(head + bytes(4) + tail)) + tail
    return stream


HERE.mkdir(parents=True, exist_ok=True)
for old in HERE.glob("*.*"):
    if old.suffix != ".md":
        old.unlink()

SHORT = int16(tone(16000, 0.2))

# Nothing, or something else.
keep("empty.wav", b"")
keep("text-named.wav", b"Strum the barre chord four times and let it ring.\n")
keep("png-named.mp3", b"\x89PNG\r\n\x1a\n" + bytes(64))
keep("zeros-named.mp3", bytes(4096))
keep("riff-but-not-wave.wav", b"RIFF\x10\0\0\0WEBPVP8 " + bytes(32))
keep("amr-named.m4a", b"#!AMR\n" + bytes(range(64)))

# Headers that lie or break off.
keep("header-only-riff.wav", b"RIFF\x24\0\0\0WAVE")
keep("header-cut-in-format.wav", wav(SHORT)[:30])
keep("header-cut-before-samples.wav", wav(SHORT)[:44])
keep("zero-length-data.wav", wav(b""))
keep("data-claims-4-gb.wav", riff(description(), chunk(b"data", SHORT, 0xFFFFFFF0), size=0xFFFFFFF0))
keep("list-claims-4-gb.wav", riff(description(), chunk(b"LIST", b"INFO", 0xFFFFFFF0)))
keep("rate-0.wav", wav(SHORT, rate=0))
keep("rate-4-ghz.wav", wav(SHORT, rate=0xFFFFFFFF))
keep("channels-0.wav", wav(SHORT, channels=0))
keep("channels-65535.wav", wav(SHORT, channels=65535))
keep("bits-0.wav", wav(SHORT, bits=0))
keep("bits-65535.wav", wav(SHORT, bits=65535))
keep("data-before-format.wav", riff(chunk(b"data", SHORT), description()))
keep("no-data.wav", riff(description()))
keep("format-of-4-bytes.wav", riff(chunk(b"fmt ", b"\x01\0\x01\0"), chunk(b"data", SHORT)))
keep("adpcm.wav", wav(SHORT, code=0x11, bits=4))
keep("flac-claims-18-days.flac", b"fLaC\x80\0\0\x22" + struct.pack(">HH", 4096, 4096) + bytes(6)
     + ((44100 << 44) | (15 << 36) | 0xFFFFFFFFF).to_bytes(8, "big") + bytes(16))

# Odd, yet sound.
keep("unfinished-sizes-0.wav", riff(description(), chunk(b"data", SHORT, 0), size=0))
keep("unfinished-sizes-unknown.wav",
     riff(description(), chunk(b"data", SHORT, 0xFFFFFFFF), size=0xFFFFFFFF))
keep("list-before-data.wav",
     riff(description(), chunk(b"LIST", b"INFOINAM\x06\0\0\0strum\0"), chunk(b"data", SHORT)))
keep("odd-chunk-padded.wav", riff(description(), chunk(b"note", b"odd") + b"\0", chunk(b"data", SHORT)))
keep("odd-chunk-unpadded.wav", riff(description(), chunk(b"note", b"odd"), chunk(b"data", SHORT)))
keep("odd-data-size.wav", riff(description(), chunk(b"data", SHORT + b"\x07") + b"\0"))
keep("rf64.wav", riff(chunk(b"ds64", struct.pack("<QQQI", len(SHORT) + 72, len(SHORT), 0, 0)),
                      description(), chunk(b"data", SHORT, 0xFFFFFFFF), size=0xFFFFFFFF, mark=b"RF64"))
keep("one-sample.wav", wav(int16([0.5])))
keep("all-zero.wav", wav(bytes(3200)))
keep("clipped.wav", wav(int16(tone(16000, 0.2, 2.0))))
keep("dc-full-scale.wav", wav(int16([1.0] * 1600)))
weird = tone(16000, 0.2)
weird[100:104] = [math.nan, math.inf, -math.inf, 1e30]
keep("nan-and-infinity.wav", wav(float32(weird), code=3, bits=32))
keep("all-nan.wav", wav(float32([math.nan] * 400), code=3, bits=32))
keep("five-point-one.wav", wav(int16([y for x in tone(16000, 0.1) for y in (x, x, 0, 0, 0, 0)]),
                               channels=6))
keep("8-khz.wav", wav(int16(tone(8000, 0.2)), rate=8000))
keep("192-khz.wav", wav(int16(tone(192000, 0.1)), rate=192000))

# Cut off.
keep("cut.wav", wav(SHORT)[:3000])
cut("flac-16.flac", "cut.flac", 0.6)
cut("flac-16.flac", "cut-in-header.flac", 0.001)
cut("mp3.mp3", "cut.mp3", 0.6)
cut("mp3.mp3", "cut-in-first-frame.mp3", 0.03)
cut("vorbis.ogg", "cut.ogg", 0.8)
cut("vorbis.ogg", "cut-in-header.ogg", 0.05)
opus = paged((FORMATS / "opus.ogg").read_bytes())
keep("cut-opus.ogg", opus[: int(len(opus) * 0.6)])
cut("opus.webm", "cut-opus.webm", 0.15)
cut("m4a-aac-index-first.m4a", "cut.m4a", 0.6)
cut("m4a-aac.m4a", "cut-before-index.m4a", 0.6)
cut("m4a-alac.m4a", "cut-before-index-alac.m4a", 0.2)

# Bytes in the middle overwritten.
def overwrite(name, data, share):
    data = bytearray(data)
    middle = int(len(data) * share)
    data[middle : middle + 200] = bytes((7 * i * i + 13) & 0xFF for i in range(200))
    keep(name, bytes(data))


for source, share in [("flac-16.flac", 0.6), ("mp3.mp3", 0.6), ("vorbis.ogg", 0.8),
                      ("m4a-aac-index-first.m4a", 0.6)]:
    overwrite("overwritten." + source.split(".")[1], (FORMATS / source).read_bytes(), share)
overwrite("overwritten-opus.ogg", opus, 0.5)

total = sum(path.stat().st_size for path in HERE.iterdir())
print(f"{len(list(HERE.iterdir()))} files, {total} bytes")
assert total < 300_000
