"""Fits the network that tells which string buzzes, and writes it in the program's own format.

fit_buzz.py TABLE OUT [leave GUITARS] [without MAKERS] [device cuda] [epochs N]

TABLE is what scripts/buzz writes; GUITARS and MAKERS, numbers as in 1,9, are left out. Same table, same file on one kind
of processor.
"""
import math
import struct

import numpy
import torch
from torch import nn
from torch.nn import functional

from layers import NEVER, PLACES, Embed, Layer, Pool, apart, asked, distances, fit, has, write

# As in src/strings/buzz: strings, rows of a string's lines, frames and windows a row holds, numbers of a window and of the
# line's place; bands whose pulse is read, windows, numbers of one; bands that all strings share, and frames.
STRINGS, LINES, LINE_FRAMES, WINDOWS, PROFILE, PLACE = 6, 32, 56, 4, 14, 9
PULSES, PULSE_WINDOWS, PULSE_NUMBERS = 8, 10, 33
BANDS, FRAMES = 24, 64
LEVELS = 2 * LINE_FRAMES + 2 * WINDOWS * PROFILE
ROW_WIDTH, PULSE_WIDTH, BAND_WIDTH = LEVELS + PLACE, PULSE_WINDOWS * PULSE_NUMBERS, FRAMES + 1
HEAD = 13 + 5 * STRINGS
WIDTH = HEAD + STRINGS * LINES * (1 + ROW_WIDTH) + STRINGS * PULSES * PULSE_WIDTH + BANDS * BAND_WIDTH
TREBLE_HZ, FRETS, UNIT_HZ, PLACES_PER_E, KINDS, LONGEST_S = 900, 26, 3.0, 1.3, 3, 2.5
RATTLE, MAY_RATTLE = 1, 4  # what the table calls them

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZE, HEADS, LAYERS, NOTE_LAYERS = 64, 4, 3, 2
EPOCHS, BATCH, RATE, DECAY, DROPPED = 36, 128, 1.5e-3, 0.05, 0.1
# What is done to every take as it is learnt from: a smooth equaliser in dB, a step and a slope of the treble, noise on
# every number, rows left out, and all rows of one kind, so that none of them carries it alone.
EQUALISER_DB, TREBLE_DB, NOISE, LEFT_OUT, KIND_LEFT_OUT = 3.0, 3.0, 0.05, 0.1, 0.15
# Share of takes learnt from as a recording at 22.05 kHz shows them, and what that has not: its highest bands and pulses.
HALF_RATE, BANDS_22_KHZ, PULSES_22_KHZ = 0.2, 23, 6
# Weight of what else is known (what the string does to each octave, and for how long it strikes), and what that is
# multiplied by; weight of a string's sounding more like buzz than the same string without the fret.
BESIDE, SCALES, TWINS = 0.4, (0.1, 0.1, 0.1, 2.0), 0.3
# Weight of each string's own answer against the take's.
PER_STRING = 4.0


def equaliser(count, where):
    """A smooth gain drawn for each of `count` takes: from frequencies in Hz, a take along the first axis, to levels."""
    depth = torch.randn(count, 4, device=where) * EQUALISER_DB / math.sqrt(2)
    phase, treble = torch.rand(count, 4, device=where) * math.tau, torch.randn(count, 2, device=where) * TREBLE_DB

    def gain(hz):
        of = lambda values: values.view(count, *[1] * (hz.dim() - 1))
        part = torch.log2(hz.clamp(min=60) / 700) / 4
        db = of(treble[:, 0]) * (hz > TREBLE_HZ) + of(treble[:, 1]) * part.clamp(0, 1)
        for k in range(4):
            db = db + of(depth[:, k]) * torch.cos(math.pi * part * (k + 1) + of(phase[:, k])) / math.sqrt(k + 1)
        return db / 20

    return gain


def vary(x, hz, pulses, bands):
    """The same takes through other equalisers and with noise; which rows of lines, pulses and bands are heard."""
    count, where = len(x), x.device
    gain = equaliser(count, where)
    moved = lambda levels, by: torch.where(levels != 0, levels + by, levels)
    x = torch.cat([moved(x[..., :LEVELS], gain(hz)[..., None]), x[..., LEVELS:]], -1)
    band_hz = 1000 * 2 ** (torch.arange(PULSES, device=where) / 2 + 0.25)
    pulses = pulses.unflatten(-1, (PULSE_WINDOWS, PULSE_NUMBERS))
    level, by = PULSE_NUMBERS - 3, gain(band_hz.expand(count, STRINGS, PULSES))[..., None, None]
    pulses = torch.cat([pulses[..., :level], moved(pulses[..., level:-2], by), pulses[..., -2:]], -1).flatten(-2)
    bands = torch.cat([moved(bands[..., :-1], gain(2000 * 2 ** bands[..., -1])[..., None]), bands[..., -1:]], -1)
    noisy = lambda values: values + NOISE * torch.randn_like(values)
    heard = [torch.rand(values.shape[:-1], device=where) > LEFT_OUT for values in (x, pulses, bands)]
    kind = torch.where(torch.rand(count, device=where) < KIND_LEFT_OUT, torch.randint(0, KINDS, (count,), device=where), KINDS)
    heard = [rows & (kind != number).view(count, *[1] * (rows.dim() - 1)) for number, rows in enumerate(heard)]
    half = torch.rand(count, device=where) < HALF_RATE
    heard[1][..., PULSES_22_KHZ:] &= ~half[:, None, None]
    heard[2][..., BANDS_22_KHZ:] &= ~half[:, None]
    return noisy(x), noisy(pulses), noisy(bands), heard


class Network(nn.Module):
    """The same as src/strings/buzz/network; its rows are all lines, string by string, all pulses, the bands."""

    def __init__(self):
        super().__init__()
        self.lines, self.pulses, self.bands = Embed(ROW_WIDTH, SIZE), Embed(PULSE_WIDTH, SIZE), Embed(BAND_WIDTH, SIZE)
        self.kinds, self.pulse_bands = nn.Embedding(KINDS, SIZE), nn.Embedding(PULSES, SIZE)
        self.frets, self.strings = nn.Embedding(FRETS, SIZE), nn.Embedding(STRINGS, SIZE)
        for table in (self.kinds, self.pulse_bands, self.frets, self.strings):
            nn.init.normal_(table.weight, std=0.1)
        self.whole = nn.Linear(3, SIZE)
        self.layers = nn.ModuleList(Layer(SIZE, HEADS, DROPPED) for _ in range(LAYERS))
        self.near = nn.Parameter(torch.zeros(PLACES, HEADS * LAYERS))
        self.kin = nn.Parameter(torch.zeros(2 * KINDS * KINDS, HEADS * LAYERS))
        self.of_string, self.of_take = Pool(SIZE, HEADS), Pool(SIZE, HEADS)
        self.notes = nn.ModuleList(Layer(SIZE, HEADS, DROPPED) for _ in range(NOTE_LAYERS))
        self.end = nn.LayerNorm(SIZE)
        self.buzzes, self.take = nn.Linear(SIZE, 1), nn.Linear(SIZE, 2)
        self.beside = nn.Linear(SIZE, len(SCALES))  # not written: it only helps to learn
        counts = torch.tensor([STRINGS * LINES, STRINGS * PULSES, BANDS])
        kind = torch.arange(KINDS).repeat_interleave(counts)
        strings = torch.arange(STRINGS)
        string = torch.cat([strings.repeat_interleave(LINES), strings.repeat_interleave(PULSES), torch.full((BANDS,), STRINGS)])
        kin = kind[:, None] * KINDS + kind + KINDS * KINDS * (string[:, None] != string)
        self.register_buffer("kinship", functional.one_hot(kin, 2 * KINDS * KINDS).float(), persistent=False)

    def forward(self, take):
        """Scores of each string's buzzing, of any buzz and of a rattle; what else is known."""
        x, hz, pulses, bands, note = take["x"].float(), take["hz"], take["pulses"].float(), take["bands"].float(), take["note"]
        count, lines = len(x), STRINGS * LINES
        there = [hz > 0, note[..., None].expand(-1, -1, PULSES), torch.ones_like(bands[..., 0], dtype=torch.bool)]
        if self.training:
            x, pulses, bands, heard = vary(x, hz, pulses, bands)
            there = [t & h for t, h in zip(there, heard)]
        whole, kinds = self.whole(take["whole"])[:, None], self.kinds.weight
        places = self.strings.weight + self.frets(take["fret"]) + whole
        of_lines = self.lines(x) + (places + kinds[0])[:, :, None]
        of_pulses = self.pulses(pulses) + (places + kinds[1])[:, :, None] + self.pulse_bands.weight
        rows = torch.cat([of_lines.flatten(1, 2), of_pulses.flatten(1, 2), self.bands(bands) + kinds[2] + whole], 1)
        heard = torch.cat([t.flatten(1) for t in there], 1)
        near = distances(hz.flatten(1), UNIT_HZ, PLACES_PER_E)
        for i, layer in enumerate(self.layers):
            of_layer = slice(i * HEADS, (i + 1) * HEADS)
            others = rows.shape[1] - lines
            of_lines = functional.pad(apart(near, self.near[:, of_layer]), (0, others, 0, others))
            bias = of_lines + (self.kinship @ self.kin[:, of_layer]).permute(2, 0, 1)
            rows = layer(rows, bias.masked_fill(~heard[:, None, None], NEVER))

        of_lines, of_pulses, of_bands = rows.split([lines, STRINGS * PULSES, BANDS], 1)
        own = [of_lines.unflatten(1, (STRINGS, LINES)), of_pulses.unflatten(1, (STRINGS, PULSES))]
        strings = self.of_string(torch.cat(own, 2), torch.cat(there[:2], 2)) + places
        notes = torch.cat([strings, self.of_take(of_bands, there[2])[:, None] + whole], 1)
        asked = functional.pad(note, (0, 1), value=True)
        bias = torch.zeros(count, 1, 1, 1 + STRINGS, device=x.device).masked_fill(~asked[:, None, None], NEVER)
        for layer in self.notes:
            notes = layer(notes, bias.expand(-1, -1, 1 + STRINGS, -1))
        notes = self.end(notes)
        strings = notes[:, :STRINGS]
        return self.buzzes(strings)[..., 0], self.take(notes[:, STRINGS]), self.beside(strings)

    def write(self, path):
        parts = [p for embed in (self.lines, self.pulses, self.bands) for p in embed.parts()]
        parts += [self.kinds, self.pulse_bands, self.frets, self.strings, self.whole]
        parts += [p for layer in self.layers for p in layer.parts()] + [self.near, self.kin]
        parts += [*self.of_string.parts(), *self.of_take.parts()] + [p for layer in self.notes for p in layer.parts()]
        parts += [self.end, self.buzzes, self.take]
        write(path, b"RTB2" + struct.pack("<3B3H", SIZE, HEADS, LAYERS, ROW_WIDTH, PULSE_WIDTH, BAND_WIDTH), parts)


def read(path, where):
    """Takes by name, which guitar each is of, and which are those of another without the fret."""
    table = numpy.memmap(path, dtype="<f4", mode="r").reshape(-1, WIDTH)
    count, half = len(table), torch.float16
    x = torch.empty(count, STRINGS, LINES, ROW_WIDTH, dtype=half, device=where)
    hz = torch.empty(count, STRINGS, LINES, device=where)
    pulses = torch.empty(count, STRINGS, PULSES, PULSE_WIDTH, dtype=half, device=where)
    bands = torch.empty(count, BANDS, BAND_WIDTH, dtype=half, device=where)
    for i in range(0, count, 1024):
        part, to = torch.from_numpy(numpy.array(table[i : i + 1024, HEAD:])).to(where), slice(i, i + 1024)
        sizes = [STRINGS * LINES * (1 + ROW_WIDTH), STRINGS * PULSES * PULSE_WIDTH, BANDS * BAND_WIDTH]
        of_lines, of_pulses, of_bands = part.split(sizes, 1)
        of_lines = of_lines.reshape(-1, STRINGS, LINES, 1 + ROW_WIDTH)
        hz[to], x[to] = of_lines[..., 0], of_lines[..., 1:].half()
        pulses[to], bands[to] = of_pulses.reshape(-1, STRINGS, PULSES, PULSE_WIDTH).half(), of_bands.reshape(-1, BANDS, BAND_WIDTH).half()
    head = torch.from_numpy(numpy.array(table[:, :HEAD])).to(where)
    fret, truth = head[:, 13:].reshape(-1, STRINGS, 5)[..., :2].long().unbind(-1)
    note = fret >= 0
    buzzes, between = (truth == 1) & note, (truth == -1) & note
    # Not a number: not known. A take with an unclear string buzzes if another does, or it is not known.
    unknown = torch.tensor(torch.nan, device=where)
    of_strings = torch.where(note & ~between, buzzes.float(), unknown)
    any_of_them = torch.where(between.any(1) & ~buzzes.any(1), unknown, buzzes.any(1).float())
    rattles = torch.where(head[:, 8] == MAY_RATTLE, unknown, (head[:, 8] == RATTLE).float())
    of_take = torch.stack([any_of_them, rattles], 1)
    # What a string does to the octaves is known where it is the only one that strikes.
    struck = (truth != 0) & note
    lifts = (head[:, 9:13] * torch.tensor(SCALES, device=where)).clamp(-1, 4)
    known = note & (struck.sum(1) == 1)[:, None]
    beside = torch.where(known[..., None], struck[..., None] * lifts[:, None], unknown)
    whole = torch.stack([head[:, 5].clamp(max=LONGEST_S), 5 * head[:, 6], note.sum(1) / STRINGS], 1)
    takes = dict(x=x, hz=hz, pulses=pulses, bands=bands, note=note, fret=fret.clamp(0, FRETS - 1), whole=whole)
    takes.update(of_strings=of_strings, of_take=of_take, beside=beside)
    return takes, head[:, 0].long(), head[:, 2].long(), head[:, 3] > 0


def told(scores, truth):
    """The mean loss of the scores whose truth is known."""
    known = torch.isfinite(truth)
    return functional.binary_cross_entropy_with_logits(scores.float()[known], truth[known])


def loss_of(network, take, twins):
    """Of takes, the last of which are the twins of those that `twins` names, in order."""
    of_strings, of_take, beside = network(take)
    loss = PER_STRING * told(of_strings, take["of_strings"]) + told(of_take, take["of_take"])
    known = torch.isfinite(take["beside"])
    if known.any():
        loss = loss + BESIDE * functional.smooth_l1_loss(beside.float()[known], take["beside"][known], beta=0.3)
    # A string that strikes must sound more like buzz than its twin that does not.
    strikes = take["of_strings"][: len(twins)][twins] == 1
    more = of_strings[: len(twins)][twins] - of_strings[len(twins) :]
    if strikes.any():
        loss = loss + TWINS * functional.softplus(1 - more.float()[strikes]).mean()
    return loss


def main():
    wanted = asked()
    takes, guitar, maker, free = read(wanted.table, wanted.device)
    # A twin follows its take in the table.
    has_twin = torch.cat([free[1:], torch.zeros_like(free[:1])])
    learnt = torch.nonzero(~free)[:, 0]
    for number in wanted.left_out:
        learnt = learnt[~has(guitar[learnt], number)]
    for number in wanted.makers_left_out:
        learnt = learnt[maker[learnt] != number]

    def loss(network, part):
        twins = has_twin[part]
        rows = torch.cat([part, part[twins] + 1])
        return loss_of(network, {name: values[rows] for name, values in takes.items()}, twins)

    network = Network().to(wanted.device)
    fit(network, learnt, loss, wanted.epochs or EPOCHS, BATCH, RATE, DECAY).write(wanted.out)


if __name__ == "__main__":
    main()
