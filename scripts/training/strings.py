"""The networks that tell what each string did, of a strum and of one stroke: src/strings/network."""

import math

import torch
from torch import nn
from torch.nn import functional

from layers import NEVER, Embed, Layer, Pool, apart, distances, has
from tables import in_parts

SYMPATHETIC = 4  # guitar whose notes hold its other open strings' resonance: "open and gone" is no truth there
GONE = 2

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZES = dict(size=96, heads=4, layers=4)
BITS, EPOCHS, BATCH, RATE, DECAY, DROPPED = 16, 24, 256, 2e-3, 0.02, 0.15
# Where there are weights to begin from: those for strums, then those of the first fit for strokes.
RATE_ON, EPOCHS_ON = 5e-4, (12, 25)
# What is done to every take as it is learnt from: a smooth equaliser in dB, noise on every number, partials left out.
EQUALISER_DB, NOISE, LEFT_OUT = 3.0, 0.03, 0.1
# Weight of what else is known of a string; beside its onset that is its level and log10 of its T60, multiplied by these.
BESIDE, LEVEL_AND_T60 = 0.2, (0.1, 1.0)


def vary(x, hz, valid, constants):
    """The same takes through other equalisers, with noise, and some partials unheard."""
    count, where = len(x), x.device
    gain = torch.randn(count, 1, 1, 4, device=where) * EQUALISER_DB
    phase = torch.rand(count, 1, 1, 4, device=where) * math.tau
    octaves = torch.log2(hz.clamp(min=30) / 80)[..., None]
    waves = torch.arange(1, 5, device=where)
    db = (gain * torch.cos(math.tau * octaves * waves / 8 + phase)).sum(-1, keepdim=True)
    frames, windows = constants.frames, constants.windows
    known = [frames, constants.short_frames, 2 * frames, windows, windows]
    level, over_top, parts, standing, peak, rest = x.split([*known, x.shape[-1] - sum(known)], -1)
    level = torch.where(level != 0, level + db / 20, level)
    parts = parts * 10 ** (constants.compressed * db / 20)
    peak = torch.where(peak != 0, peak + db / 20, peak)
    x = torch.cat([level, over_top, parts, standing, peak, rest], -1)
    x = x + NOISE * torch.randn_like(x)
    valid = valid & (torch.rand_like(hz) > LEFT_OUT)
    return x * valid[..., None], valid


class Network(nn.Module):
    """Its partials are those of all expected notes, then those of all others."""

    LAYOUT = "strings"

    def __init__(self, constants, sizes=SIZES):
        super().__init__()
        self.constants, self.sizes = constants, dict(sizes)
        c, size, heads = constants, sizes["size"], sizes["heads"]
        all_heads = heads * sizes["layers"]
        self.embed = Embed(c.partial_numbers, size)
        self.kinds, self.frets = nn.Embedding(2, size), nn.Embedding(c.frets, size)
        self.strings, self.distances = nn.Embedding(c.strings, size), nn.Embedding(c.distances, size)
        self.whole = nn.Linear(2, size)
        self.layers = nn.ModuleList(Layer(size, heads, DROPPED) for _ in range(sizes["layers"]))
        self.near = nn.Parameter(torch.zeros(c.places, all_heads))
        self.same = nn.Parameter(torch.zeros(2, all_heads))
        self.pool = Pool(size, heads)
        self.notes = nn.ModuleList(Layer(size, heads, DROPPED) for _ in range(c.note_layers))
        self.outcome, self.sounds = nn.Linear(size, c.outcomes), nn.Linear(size, 1)
        self.beside = nn.Linear(size, c.beside)
        strings, others = torch.arange(c.strings), c.strings + torch.arange(c.strings * c.others)
        string = torch.cat([strings.repeat_interleave(c.expected), strings.repeat_interleave(c.others * c.other)])
        note = torch.cat([strings.repeat_interleave(c.expected), others.repeat_interleave(c.other)])
        kin = [note[:, None] == note, string[:, None] == string]
        self.register_buffer("kin", torch.stack(kin, -1).float(), persistent=False)

    def forward(self, take):
        """Scores of what became of each expected note and of whether each other one sounds; what else is known."""
        c, heads = self.constants, self.sizes["heads"]
        x, hz = take["x"].float(), take["hz"]
        count, valid = len(x), hz > 0
        if self.training:
            x, valid = vary(x, hz, valid, c)
        string, whole = self.strings.weight, self.whole(take["whole"])[:, None]
        middle = c.distances // 2
        away = (take["other_fret"] - take["fret"][:, :, None]).clamp(-middle, middle) + middle
        expected = self.frets(take["fret"]) + string + whole + self.kinds.weight[0]
        other = self.frets(take["other_fret"]) + string[:, None] + whole[:, None] + self.kinds.weight[1] + self.distances(away)
        places = torch.cat([expected[:, :, None], other], 2)

        x = self.embed(x)
        of_expected = x[:, :, : c.expected] + expected[:, :, None]
        of_other = x[:, :, c.expected :].unflatten(2, (c.others, c.other)) + other[:, :, :, None]
        x = torch.cat([of_expected.flatten(1, 2), of_other.flatten(1, 3)], 1)
        in_order = lambda t: torch.cat([t[:, :, : c.expected].flatten(1), t[:, :, c.expected :].flatten(1)], 1)
        hz, heard = in_order(hz), in_order(valid)
        bias = apart(distances(hz, c), self.near) + (self.kin @ self.same).permute(2, 0, 1)
        bias = bias.masked_fill(~heard[:, None, None], NEVER)
        for layer, of_layer in zip(self.layers, bias.split(heads, 1)):
            x = layer(x, of_layer)

        gathered, cut = self.pool.gathered, c.strings * c.expected
        of_expected = gathered(x[:, :cut].unflatten(1, (c.strings, c.expected)), valid[:, :, : c.expected])
        of_other = x[:, cut:].unflatten(1, (c.strings, c.others, c.other))
        of_other = gathered(of_other, valid[:, :, c.expected :].unflatten(2, (c.others, c.other)))
        notes = (self.pool.mix(torch.cat([of_expected[:, :, None], of_other], 2)) + places).flatten(1, 2)
        there = torch.cat([(take["became"] != -1)[:, :, None], take["sounds"] >= 0], 2).flatten(1)
        bias = torch.zeros(count, 1, 1, notes.shape[1], device=x.device).masked_fill(~there[:, None, None], NEVER)
        for layer in self.notes:
            notes = layer(notes, bias.expand(-1, -1, notes.shape[1], -1))
        notes = notes.unflatten(1, (c.strings, 1 + c.others))
        return self.outcome(notes[:, :, 0]), self.sounds(notes[:, :, 1:])[..., 0], self.beside(notes[:, :, 0])


def takes_of(columns, constants, where):
    """What the network is given of each row of a table, by name."""
    c = constants
    tensor = lambda name: torch.from_numpy(columns[name]).to(where)
    notes, partials = tensor("notes").long(), tensor("partials")
    longest = tensor("available_s").clamp(max=c.longest_s)
    fret, other_fret = notes[:, :, 0, 0].clamp(0, c.frets - 1), notes[:, :, 1:, 0].clamp(0, c.frets - 1)
    return dict(
        x=partials[..., 1:],
        hz=partials[..., 0],
        fret=fret,
        became=notes[:, :, 0, 1],
        other_fret=other_fret,
        sounds=notes[:, :, 1:, 1],
        whole=torch.stack([longest, c.spread_factor * tensor("spread_s")], 1),
        beside=tensor("beside") * torch.tensor([c.onset_factor, *LEVEL_AND_T60], device=where),
    )


class Material:
    """A table's takes."""

    def __init__(self, table, where):
        self.constants = table.constants

        def part_of(columns):
            part = takes_of(columns, table.constants, where)
            return dict(part, x=part["x"].half(), guitar=torch.from_numpy(columns["guitar"]).to(where).long())

        takes = in_parts(table, ("guitar", "available_s", "spread_s", "notes", "beside", "partials"), part_of)
        self.guitar = takes.pop("guitar")
        unknown = has(self.guitar, SYMPATHETIC)[:, None] & (takes["fret"] == 0) & (takes["became"] == GONE)
        takes["became"] = torch.where(unknown, -2, takes["became"])
        self.takes = takes

    def learnt(self, guitars, _makers):
        """Rows to learn from, without those of some guitars."""
        learnt = torch.arange(len(self.guitar), device=self.guitar.device)
        for number in guitars:
            learnt = learnt[~has(self.guitar[learnt], number)]
        return learnt

    def loss(self, network, part):
        take = {name: values[part] for name, values in self.takes.items()}
        became, sounds, beside = network(take)
        known, asked = take["became"] >= 0, take["sounds"] >= 0
        told = torch.isfinite(take["beside"]) & known[..., None]
        # Of a small part nothing may be known: that teaches nothing.
        mean = lambda losses: losses.sum() / max(losses.numel(), 1)
        loss = mean(functional.cross_entropy(became.float()[known], take["became"][known], reduction="none"))
        rings = take["sounds"][asked].float()
        loss = loss + mean(functional.binary_cross_entropy_with_logits(sounds.float()[asked], rings, reduction="none"))
        return loss + BESIDE * mean(functional.smooth_l1_loss(beside.float()[told], take["beside"][told], reduction="none"))


def said(network, columns):
    """What the program says of rows of a table, by name: probabilities, and the onset in seconds."""
    became, sounds, beside = network(takes_of(columns, network.constants, torch.device("cpu")))
    onset_s = beside[..., 0] / network.constants.onset_factor
    return dict(outcomes=became.softmax(-1), sounds=sounds.sigmoid(), onset_s=onset_s)
