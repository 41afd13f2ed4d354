"""Rewrites networks' files with numbers of 16 bits in place of 32, as src/layers/file.rs reads them: half as large.
What has that form already stays as it is.

halve.py FILE...
"""
import struct
import sys

# Beginning of a file with numbers of 16 bits: then comes the length of the head, and the head.
MARK = b"RT16"
# Lengths of the heads of files with numbers of 32 bits, in bytes, by what they begin with.
HEADS = {b"RTN2": 8, b"RTB2": 13, b"RTF1": 7}


def halved(data, head):
    """The file `data`, whose head is `head` bytes long, with numbers of 16 bits, each the nearest one."""
    count = (len(data) - head) // 4
    numbers = struct.unpack(f"<{count}f", data[head:])
    return MARK + bytes([head]) + data[:head] + struct.pack(f"<{count}e", *numbers)


def in_full(data):
    """A file with numbers of 32 bits, whichever `data` has."""
    if not data.startswith(MARK):
        return data
    begin = len(MARK) + 1 + data[len(MARK)]
    count = (len(data) - begin) // 2
    return data[len(MARK) + 1 : begin] + struct.pack(f"<{count}f", *struct.unpack(f"<{count}e", data[begin:]))


def main():
    for path in sys.argv[1:]:
        with open(path, "rb") as file:
            data = file.read()
        if data.startswith(MARK):
            continue
        head = HEADS.get(data[:4])
        if head is None:
            sys.exit(f"{path}: a network's file begins with {b', '.join(HEADS).decode()}; this one does not")
        with open(path, "wb") as file:
            file.write(halved(data, head))


if __name__ == "__main__":
    main()
