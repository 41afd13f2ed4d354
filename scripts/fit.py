"""Fits a network that tells what each string did, and writes it in the program's own format.

fit.py TABLE OUT [leave GUITARS] [device cuda] [from WEIGHTS] [epochs N]

TABLE is what scripts/gather.rs writes; GUITARS, as in 1,9, are left out; from the WEIGHTS of another fit on, the network
for strokes is fitted. Same table, same file on one kind of processor.
"""
import math

import numpy
import torch
from torch import nn
from torch.nn import functional

from layers import NEVER, PLACES, Embed, Layer, Pool, apart, asked, distances, fit, has, read, write

# As in src/strings: strings, partials of an expected note and of another, others of a string, frames of a partial.
STRINGS, EXPECTED, OTHER, OTHERS, SHORT, FRAMES, WINDOWS = 6, 16, 8, 4, 24, 30, 4
NOTES, ROWS = 1 + OTHERS, EXPECTED + OTHERS * OTHER
WIDTH = 3 * FRAMES + SHORT + 2 * WINDOWS + 3 + 4
HEAD = 4 + 2 * STRINGS * NOTES + 3 * STRINGS
FRETS, DISTANCES, UNIT_HZ, PLACES_PER_E, OUTCOMES = 26, 51, 1.0, 1.5, 4
SYMPATHETIC = 4  # guitar whose notes hold its other open strings' resonance: "open and gone" is no truth there
GONE = 2

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZE, HEADS, LAYERS, NOTE_LAYERS = 96, 4, 4, 2
HEADER = b"RTN2" + bytes([SIZE, HEADS, LAYERS, WIDTH])
EPOCHS, BATCH, RATE, DECAY, DROPPED = 24, 256, 2e-3, 0.02, 0.15
# Where there are weights to begin from.
RATE_ON = 5e-4
# What is done to every take as it is learnt from: a smooth equaliser in dB, noise on every number, partials left out.
EQUALISER_DB, NOISE, LEFT_OUT = 3.0, 0.03, 0.1
# Weight of what else is known of a string, and what each of it is multiplied by: onset, level, log10 of T60.
BESIDE, SCALES = 0.2, (10.0, 0.1, 1.0)


def vary(x, hz, valid):
    """The same takes through other equalisers, with noise, and some partials unheard."""
    count, where = len(x), x.device
    gain = torch.randn(count, 1, 1, 4, device=where) * EQUALISER_DB
    phase = torch.rand(count, 1, 1, 4, device=where) * math.tau
    octaves = torch.log2(hz.clamp(min=30) / 80)[..., None]
    waves = torch.arange(1, 5, device=where)
    db = (gain * torch.cos(math.tau * octaves * waves / 8 + phase)).sum(-1, keepdim=True)
    level, over_top, parts, standing, peak, rest = x.split([FRAMES, SHORT, 2 * FRAMES, WINDOWS, WINDOWS, 7], -1)
    level = torch.where(level != 0, level + db / 20, level)
    parts = parts * 10 ** (0.3 * db / 20)
    peak = torch.where(peak != 0, peak + db / 20, peak)
    x = torch.cat([level, over_top, parts, standing, peak, rest], -1)
    x = x + NOISE * torch.randn_like(x)
    valid = valid & (torch.rand_like(hz) > LEFT_OUT)
    return x * valid[..., None], valid


class Network(nn.Module):
    """The same as src/strings/network; its partials are those of all expected notes, then those of all others."""

    def __init__(self):
        super().__init__()
        self.embed = Embed(WIDTH, SIZE)
        self.kinds, self.frets = nn.Embedding(2, SIZE), nn.Embedding(FRETS, SIZE)
        self.strings, self.distances = nn.Embedding(STRINGS, SIZE), nn.Embedding(DISTANCES, SIZE)
        self.whole = nn.Linear(2, SIZE)
        self.layers = nn.ModuleList(Layer(SIZE, HEADS, DROPPED) for _ in range(LAYERS))
        self.near = nn.Parameter(torch.zeros(PLACES, HEADS * LAYERS))
        self.same = nn.Parameter(torch.zeros(2, HEADS * LAYERS))
        self.pool = Pool(SIZE, HEADS)
        self.notes = nn.ModuleList(Layer(SIZE, HEADS, DROPPED) for _ in range(NOTE_LAYERS))
        self.outcome, self.sounds = nn.Linear(SIZE, OUTCOMES), nn.Linear(SIZE, 1)
        self.beside = nn.Linear(SIZE, len(SCALES))
        strings = torch.arange(STRINGS)
        string = torch.cat([strings.repeat_interleave(EXPECTED), strings.repeat_interleave(OTHERS * OTHER)])
        others = STRINGS + torch.arange(STRINGS * OTHERS)
        note = torch.cat([strings.repeat_interleave(EXPECTED), others.repeat_interleave(OTHER)])
        kin = [note[:, None] == note, string[:, None] == string]
        self.register_buffer("kin", torch.stack(kin, -1).float(), persistent=False)

    def forward(self, take):
        x, hz = take["x"].float(), take["hz"]
        count, valid = len(x), hz > 0
        if self.training:
            x, valid = vary(x, hz, valid)
        string, whole = self.strings.weight, self.whole(take["whole"])[:, None]
        away = (take["other_fret"] - take["fret"][:, :, None]).clamp(-(DISTANCES // 2), DISTANCES // 2) + DISTANCES // 2
        expected = self.frets(take["fret"]) + string + whole + self.kinds.weight[0]
        other = self.frets(take["other_fret"]) + string[:, None] + whole[:, None] + self.kinds.weight[1] + self.distances(away)
        places = torch.cat([expected[:, :, None], other], 2)

        x = self.embed(x)
        of_expected = x[:, :, :EXPECTED] + expected[:, :, None]
        of_other = x[:, :, EXPECTED:].unflatten(2, (OTHERS, OTHER)) + other[:, :, :, None]
        x = torch.cat([of_expected.flatten(1, 2), of_other.flatten(1, 3)], 1)
        in_order = lambda t: torch.cat([t[:, :, :EXPECTED].flatten(1), t[:, :, EXPECTED:].flatten(1)], 1)
        hz, heard = in_order(hz), in_order(valid)
        bias = apart(distances(hz, UNIT_HZ, PLACES_PER_E), self.near) + (self.kin @ self.same).permute(2, 0, 1)
        bias = bias.masked_fill(~heard[:, None, None], NEVER)
        for layer, of_layer in zip(self.layers, bias.split(HEADS, 1)):
            x = layer(x, of_layer)

        gathered = self.pool.gathered
        cut = STRINGS * EXPECTED
        of_expected = gathered(x[:, :cut].unflatten(1, (STRINGS, EXPECTED)), valid[:, :, :EXPECTED])
        of_other = gathered(x[:, cut:].unflatten(1, (STRINGS, OTHERS, OTHER)), valid[:, :, EXPECTED:].unflatten(2, (OTHERS, OTHER)))
        notes = (self.pool.mix(torch.cat([of_expected[:, :, None], of_other], 2)) + places).flatten(1, 2)
        there = torch.cat([(take["became"] != -1)[:, :, None], take["sounds"] >= 0], 2).flatten(1)
        bias = torch.zeros(count, 1, 1, notes.shape[1], device=x.device).masked_fill(~there[:, None, None], NEVER)
        for layer in self.notes:
            notes = layer(notes, bias.expand(-1, -1, notes.shape[1], -1))
        notes = notes.unflatten(1, (STRINGS, NOTES))
        return self.outcome(notes[:, :, 0]), self.sounds(notes[:, :, 1:])[..., 0], self.beside(notes[:, :, 0])

    def parts(self):
        parts = [*self.embed.parts(), self.kinds, self.frets, self.strings, self.distances, self.whole]
        parts += [p for layer in self.layers for p in layer.parts()] + [self.near, self.same, *self.pool.parts()]
        return parts + [p for layer in self.notes for p in layer.parts()] + [self.outcome, self.sounds, self.beside]


def read_takes(path, where):
    """Takes by name, and which guitar each is of."""
    rows = numpy.memmap(path, dtype="<f4", mode="r").reshape(-1, HEAD + STRINGS * ROWS * (1 + WIDTH))
    x = torch.empty(len(rows), STRINGS, ROWS, WIDTH, dtype=torch.float16, device=where)
    hz = torch.empty(len(rows), STRINGS, ROWS, device=where)
    for i in range(0, len(rows), 1024):
        part = torch.from_numpy(numpy.array(rows[i : i + 1024, HEAD:])).to(where).reshape(-1, STRINGS, ROWS, 1 + WIDTH)
        x[i : i + 1024], hz[i : i + 1024] = part[..., 1:].half(), part[..., 0]
    head = torch.from_numpy(numpy.array(rows[:, :HEAD])).to(where)
    notes = head[:, 4 : 4 + 2 * STRINGS * NOTES].reshape(-1, STRINGS, NOTES, 2).long()
    guitar, fret, became = head[:, 0].long(), notes[:, :, 0, 0].clamp(0, FRETS - 1), notes[:, :, 0, 1].clone()
    became[has(guitar, SYMPATHETIC)[:, None] & (fret == 0) & (became == GONE)] = -2
    beside = head[:, 4 + 2 * STRINGS * NOTES :].reshape(-1, STRINGS, 3) * torch.tensor(SCALES, device=where)
    whole = torch.stack([head[:, 2].clamp(max=1.5), 5 * head[:, 3]], 1)
    takes = dict(x=x, hz=hz, fret=fret, became=became, other_fret=notes[:, :, 1:, 0].clamp(0, FRETS - 1))
    return dict(takes, sounds=notes[:, :, 1:, 1], whole=whole, beside=beside), guitar


def loss_of(network, take):
    became, sounds, beside = network(take)
    known, asked = take["became"] >= 0, take["sounds"] >= 0
    loss = functional.cross_entropy(became.float()[known], take["became"][known])
    loss = loss + functional.binary_cross_entropy_with_logits(sounds.float()[asked], take["sounds"][asked].float())
    told = torch.isfinite(take["beside"]) & known[..., None]
    return loss + BESIDE * functional.smooth_l1_loss(beside.float()[told], take["beside"][told])


def main():
    wanted = asked()
    table, out, left_out, where = wanted.table, wanted.out, wanted.left_out, wanted.device
    begin, epochs = wanted.begin, wanted.epochs
    takes, guitar = read_takes(table, where)
    learnt = torch.arange(len(guitar), device=where)
    for number in left_out:
        learnt = learnt[~has(guitar[learnt], number)]
    loss = lambda network, part: loss_of(network, {name: values[part] for name, values in takes.items()})
    network = Network().to(where)
    if begin:
        read(begin, HEADER, network.parts())
    rate = RATE_ON if begin else RATE
    write(out, HEADER, fit(network, learnt, loss, epochs or EPOCHS, BATCH, rate, DECAY).parts())


if __name__ == "__main__":
    main()
