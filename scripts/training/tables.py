"""Reads the tables that scripts/training/table.rs writes: a line of JSON, then rows of 32-bit numbers."""

import json
import math

import numpy


class Table:
    """Rows of named columns, the constants by which the program makes them, and how they were made."""

    def __init__(self, path):
        with open(path, "rb") as file:
            line = file.readline()
        head = json.loads(line)
        self.layout, self.made = head["layout"], head["made"]
        self.constants = Constants(head["constants"])
        self.columns, width = {}, 0
        for name, shape in head["columns"]:
            self.columns[name] = (width, shape)
            width += math.prod(shape)
        self.rows = numpy.memmap(path, dtype="<f4", mode="r", offset=len(line)).reshape(-1, width)

    def __len__(self):
        return len(self.rows)

    def column(self, name, rows=slice(None)):
        """The numbers of a column in some rows: rows by its shape."""
        start, shape = self.columns[name]
        values = numpy.array(self.rows[rows, start : start + math.prod(shape)])
        return values.reshape(len(values), *shape)


AT_ONCE = 1024


def in_parts(table, names, part_of):
    """What `part_of` makes of some columns, by name, for all rows: a part at a time, into room that is made once."""
    whole = None
    for begin in range(0, len(table), AT_ONCE):
        rows = slice(begin, begin + AT_ONCE)
        part = part_of({name: table.column(name, rows) for name in names})
        if whole is None:
            whole = {name: value.new_empty(len(table), *value.shape[1:]) for name, value in part.items()}
        for name, value in part.items():
            whole[name][rows] = value
    if whole is None:
        raise SystemExit("The table has no rows: more takes are needed")
    return whole


class Constants:
    """The program's constants by name: whole numbers where they have no fraction. `texts` are as the program wrote them."""

    def __init__(self, texts):
        self.texts = dict(texts)

    def __getattr__(self, name):
        text = self.__dict__.get("texts", {}).get(name)
        if text is None:
            raise AttributeError(f"the program has no constant {name}")
        return float(text) if "." in text else int(text)
