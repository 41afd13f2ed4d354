"""Golden answers: what PyTorch makes of a built-in network's weights, which tests of src hold the program's own layers to."""

import torch
from safetensors.numpy import load_file, save

from layers import head_of, is_repeatable, load
from tables import Constants, Table

FOLDER = "fixtures/golden"
INPUT = "seen."


def network_of(module, path):
    """A network with the weights of a file, sizes and constants as its head has them."""
    head = head_of(path)
    if head.get("layout") != module.Network.LAYOUT:
        raise SystemExit(f"{path}: its weights have the layout {head.get('layout')}, {module.Network.LAYOUT} is expected")
    sizes = {name: int(head[name]) for name in module.SIZES}
    return load(module.Network(Constants(head), sizes), path).eval()


@torch.no_grad()
def answer(module, path, columns):
    """What the program should say of rows of a table with the weights of `path`."""
    is_repeatable(torch.device("cpu"))
    said = module.said(network_of(module, path), columns)
    return {name: value.numpy().copy() for name, value in said.items()}


def write(name, module, weights, table):
    """Writes fixtures/golden/NAME.safetensors: what is seen, from a table where there is a new one, and what is said of it."""
    path = f"{FOLDER}/{name}.safetensors"
    if table:
        rows = Table(table)
        columns = {column: rows.column(column) for column in rows.columns}
    else:
        columns = {key.removeprefix(INPUT): value for key, value in load_file(path).items() if key.startswith(INPUT)}
    said = answer(module, weights, columns)
    # Columns without numbers in them are none.
    tensors = {INPUT + key: value for key, value in columns.items() if value.size}
    with open(path, "wb") as file:
        file.write(save(tensors | said))
    print(f"{path}: {', '.join(said)}")
