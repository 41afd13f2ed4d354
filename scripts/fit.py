"""Fits the network that tells what each string did, and writes it in the program's own format.

fit.py TABLE OUT [leave GUITAR] [device cuda]

TABLE is what scripts/gather.rs writes; GUITAR is left out. Same table, same file on one kind of processor.
"""
import copy
import math
import sys

import numpy
import torch
from torch import nn
from torch.nn import functional

# As in src/strings: strings, partials of an expected note and of another, others of a string, frames of a partial.
STRINGS, EXPECTED, OTHER, OTHERS, SHORT, FRAMES, WINDOWS = 6, 16, 8, 4, 24, 30, 4
NOTES, ROWS = 1 + OTHERS, EXPECTED + OTHERS * OTHER
WIDTH = 3 * FRAMES + SHORT + 2 * WINDOWS + 3 + 4
HEAD = 4 + 2 * STRINGS * NOTES + 3 * STRINGS
FRETS, DISTANCES, PLACES, PLACES_PER_E, OUTCOMES = 26, 51, 17, 1.5, 4
SYMPATHETIC = 4  # guitar whose notes hold its other open strings' resonance: "open and gone" is no truth there
GONE = 2

# The network and how it is fitted: see DEVELOPERS.md, "What was tried".
SIZE, HEADS, LAYERS, NOTE_LAYERS = 96, 4, 4, 2
EPOCHS, BATCH, RATE, DECAY, DROPPED = 6, 256, 2e-3, 0.02, 0.15
# What is done to every take as it is learnt from: a smooth equaliser in dB, noise on every number, partials left out.
EQUALISER_DB, NOISE, LEFT_OUT = 3.0, 0.03, 0.1
# Weight of what else is known of a string, and what each of it is multiplied by: onset, level, log10 of T60.
BESIDE, SCALES = 0.2, (10.0, 0.1, 1.0)
AVERAGED = 0.999  # of the weights' moving mean, which is what is written


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


class Layer(nn.Module):
    def __init__(self):
        super().__init__()
        self.before = nn.ModuleList([nn.LayerNorm(SIZE), nn.LayerNorm(SIZE)])
        self.ask, self.take_in = nn.Linear(SIZE, 3 * SIZE), nn.Linear(SIZE, SIZE)
        self.think = nn.ModuleList([nn.Linear(SIZE, 2 * SIZE), nn.Linear(2 * SIZE, SIZE)])
        self.drop = nn.Dropout(DROPPED)

    def forward(self, x, bias):
        takes, rows, _ = x.shape
        asked = self.ask(self.before[0](x)).reshape(takes, rows, 3, HEADS, SIZE // HEADS)
        query, key, value = asked.permute(2, 0, 3, 1, 4)
        heard = functional.scaled_dot_product_attention(query, key, value, attn_mask=bias.to(query.dtype))
        x = x + self.drop(self.take_in(heard.transpose(1, 2).reshape(takes, rows, SIZE)))
        return x + self.drop(self.think[1](functional.gelu(self.think[0](self.before[1](x)))))

    def parts(self):
        return [*self.before, self.ask, self.take_in, *self.think]


class Network(nn.Module):
    """The same as src/strings/network; its partials are those of all expected notes, then those of all others."""

    def __init__(self):
        super().__init__()
        self.embed = nn.ModuleList([nn.Linear(WIDTH, 2 * SIZE), nn.Linear(2 * SIZE, SIZE)])
        self.kinds, self.frets = nn.Embedding(2, SIZE), nn.Embedding(FRETS, SIZE)
        self.strings, self.distances = nn.Embedding(STRINGS, SIZE), nn.Embedding(DISTANCES, SIZE)
        self.whole = nn.Linear(2, SIZE)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.near = nn.Parameter(torch.zeros(PLACES, HEADS * LAYERS))
        self.same = nn.Parameter(torch.zeros(2, HEADS * LAYERS))
        self.gather, self.mix = nn.Linear(SIZE, HEADS), nn.Linear(HEADS * SIZE, SIZE)
        self.notes = nn.ModuleList(Layer() for _ in range(NOTE_LAYERS))
        self.outcome, self.sounds = nn.Linear(SIZE, OUTCOMES), nn.Linear(SIZE, 1)
        self.beside = nn.Linear(SIZE, len(SCALES))  # not written: it only helps to learn
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

        x = self.embed[1](functional.gelu(self.embed[0](x)))
        of_expected = x[:, :, :EXPECTED] + expected[:, :, None]
        of_other = x[:, :, EXPECTED:].unflatten(2, (OTHERS, OTHER)) + other[:, :, :, None]
        x = torch.cat([of_expected.flatten(1, 2), of_other.flatten(1, 3)], 1)
        in_order = lambda t: torch.cat([t[:, :, :EXPECTED].flatten(1), t[:, :, EXPECTED:].flatten(1)], 1)
        hz, heard = in_order(hz), in_order(valid)
        with torch.no_grad():
            at = (torch.asinh(hz[:, :, None] - hz[:, None]) * PLACES_PER_E + PLACES // 2).clamp(0, PLACES - 1)
            table = (1 - (at[..., None] - torch.arange(PLACES, device=at.device)).abs()).clamp(min=0)
        bias = table @ self.near + self.kin @ self.same
        bias = bias.masked_fill(~heard[:, None, :, None], -1e4).permute(0, 3, 1, 2)
        for i, layer in enumerate(self.layers):
            x = layer(x, bias[:, i * HEADS : (i + 1) * HEADS])

        def gathered(x, valid):
            shares = self.gather(x).masked_fill(~valid[..., None], -1e4).softmax(-2)
            return (shares.transpose(-1, -2) @ x).flatten(-2)

        cut = STRINGS * EXPECTED
        of_expected = gathered(x[:, :cut].unflatten(1, (STRINGS, EXPECTED)), valid[:, :, :EXPECTED])
        of_other = gathered(x[:, cut:].unflatten(1, (STRINGS, OTHERS, OTHER)), valid[:, :, EXPECTED:].unflatten(2, (OTHERS, OTHER)))
        notes = (self.mix(torch.cat([of_expected[:, :, None], of_other], 2)) + places).flatten(1, 2)
        there = torch.cat([(take["became"] != -1)[:, :, None], take["sounds"] >= 0], 2).flatten(1)
        bias = torch.zeros(count, 1, 1, notes.shape[1], device=x.device).masked_fill(~there[:, None, None], -1e4)
        for layer in self.notes:
            notes = layer(notes, bias.expand(-1, -1, notes.shape[1], -1))
        notes = notes.unflatten(1, (STRINGS, NOTES))
        return self.outcome(notes[:, :, 0]), self.sounds(notes[:, :, 1:])[..., 0], self.beside(notes[:, :, 0])

    def write(self, path):
        parts = [*self.embed, self.kinds, self.frets, self.strings, self.distances, self.whole]
        parts += [p for layer in self.layers for p in layer.parts()] + [self.near, self.same, self.gather, self.mix]
        parts += [p for layer in self.notes for p in layer.parts()] + [self.outcome, self.sounds]
        out = bytearray(b"RTN1" + bytes([SIZE, HEADS, LAYERS, WIDTH]))
        for part in parts:
            values = [part] if isinstance(part, nn.Parameter) else [part.weight, getattr(part, "bias", None)]
            for value in values:
                if value is not None:
                    out += value.detach().cpu().float().contiguous().numpy().astype("<f4").tobytes()
        with open(path, "wb") as file:
            file.write(out)


def has(guitar, number):
    """Whether takes have a string of a guitar; a mixed take's number is minus the sum of 2^guitar."""
    return (guitar == number) | ((guitar < 0) & ((-guitar >> number) & 1 > 0))


def read(path, where):
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
    table, out = sys.argv[1:3]
    options = dict(zip(sys.argv[3::2], sys.argv[4::2]))
    where = options.get("device", "cpu")
    torch.manual_seed(1)
    torch.use_deterministic_algorithms(True, warn_only=True)
    takes, guitar = read(table, where)
    learnt = torch.arange(len(guitar), device=where)
    if "leave" in options:
        learnt = learnt[~has(guitar, int(options["leave"]))]
    network = Network().to(where)
    mean = copy.deepcopy(network).eval()
    steps = EPOCHS * math.ceil(len(learnt) / BATCH)
    optimiser = torch.optim.AdamW(network.parameters(), lr=RATE, weight_decay=DECAY)
    rate = torch.optim.lr_scheduler.OneCycleLR(optimiser, RATE, total_steps=steps + 1, pct_start=0.1)
    step = 0
    for epoch in range(EPOCHS):
        total = 0.0
        for part in learnt[torch.randperm(len(learnt)).to(where)].split(BATCH):
            take = {name: values[part] for name, values in takes.items()}
            with torch.autocast("cuda", torch.bfloat16, enabled=where == "cuda"):
                loss = loss_of(network, take)
            optimiser.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(network.parameters(), 1.0)
            optimiser.step()
            rate.step()
            step += 1
            with torch.no_grad():
                new = 1 - min(AVERAGED, step / (step + 10))
                torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), new)
            total += float(loss.detach()) * len(part)
        print(f"epoch {epoch + 1} of {EPOCHS}: loss {total / len(learnt):.4f}", flush=True)
    mean.write(out)


if __name__ == "__main__":
    main()
