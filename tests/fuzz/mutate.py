"""Changes that a reader's first look does not throw out: words, lines, pairs, values, parts."""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from random import Random

NUMBER = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")

NUMBERS = (
    *(b"0", b"-0", b"1", b"-1", b"2", b"3", b"-0.5", b"0.001", b"10", b"360", b"1e9", b"-1e9"),
    *(b"1e308", b"-1e308", b"1e-308", b"5e-324", b"1e400", b"nan", b"inf", b"-inf", b"1e16"),
    *(b"9999999", b"9999999.9999", b"10000000", b"1e7", b"1e-9", b"1e-16", b"0.1", b".5", b"5."),
    *(b"255", b"256", b"65535", b"65536", b"2147483647", b"2147483648", b"-2147483649"),
    *(b"4294967296", b"9223372036854775807", b"9223372036854775808", b"1" * 400, b"00001"),
    *(b"0x10", b"1_0", b"+1", b"--1", b"1.2.3", b"", b"100000", b"50001", b"0.30000000000000004"),
)

_HERE = Path(__file__).parent


def words_of(name: str) -> tuple[bytes, ...]:
    """The dictionary of a target: a word a line, line ends written as escapes."""
    lines = (_HERE / "words" / f"{name}.txt").read_text(encoding="ascii").splitlines()
    return tuple(line.encode().decode("unicode_escape").encode() for line in lines)


@cache
def seeds_of(name: str) -> tuple[bytes, ...]:
    """The kept inputs of a target."""
    return tuple(path.read_bytes() for path in sorted((_HERE / "seeds" / name).iterdir()))


_SOME = (b"\x00", b"\xff", b"\xef\xbb\xbf", "ü".encode(), b"\r", b"\r\n", b"\n", b"\t", b" ", b'"')


def spots(data: bytes, pattern: re.Pattern[bytes]) -> list[tuple[int, int]]:
    """Where the pattern stands."""
    return [found.span() for found in pattern.finditer(data)]


def replaced(data: bytes, spot: tuple[int, int], by: bytes) -> bytes:
    return data[: spot[0]] + by + data[spot[1] :]


def new_number(old: bytes, rng: Random) -> bytes:
    """Another number: odd, near to the old one, or the old one scaled."""
    way = rng.random()
    if way < 0.5:
        return rng.choice(NUMBERS)
    try:
        value = float(old)
    except ValueError:
        return rng.choice(NUMBERS)
    if way < 0.7:
        return f"{value + rng.choice((-1, 1, 0.001, -0.001, 1e-9)):.12g}".encode()
    if way < 0.85:
        return f"{value * rng.choice((-1, 2, 0.5, 10, 0.1, 1000)):.12g}".encode()
    return f"{rng.uniform(-100, 100):.4f}".encode()


def text_mutator(
    *,
    word: re.Pattern[bytes],
    words: Sequence[bytes],
    unit: int = 1,
    others: Sequence[bytes] = (),
) -> Callable[[bytes, str, Random], bytes]:
    """Changes of a text whose lines go together by `unit`s. `words` take the place of what
    `word` finds; lines come from `others` too."""

    def numbers(data: bytes, rng: Random) -> bytes:
        found = spots(data, NUMBER)
        if not found:
            return data + rng.choice(NUMBERS)
        spot = rng.choice(found)
        return replaced(data, spot, new_number(data[slice(*spot)], rng))

    def exchange(data: bytes, rng: Random) -> bytes:
        found = spots(data, word)
        if not found:
            return data + rng.choice(words)
        spot = rng.choice(found)
        by = rng.choice(words) if rng.random() < 0.7 else data[slice(*rng.choice(found))]
        return replaced(data, spot, by)

    def insert(data: bytes, rng: Random) -> bytes:
        found = spots(data, word)
        at = rng.choice(found)[rng.randrange(2)] if found else 0
        return data[:at] + rng.choice(words) + data[at:]

    def drop(data: bytes, rng: Random) -> bytes:
        found = spots(data, word)
        return replaced(data, rng.choice(found), b"") if found else data

    def lines(data: bytes, rng: Random) -> bytes:
        rows = data.splitlines(keepends=True)
        groups = [b"".join(rows[i : i + unit]) for i in range(0, len(rows), unit)]
        if not groups:
            return data
        first = rng.randrange(len(groups))
        last = min(len(groups), first + rng.choice((1, 1, 1, 2, 3, 8, 20)))
        block = groups[first:last]
        way = rng.randrange(5)
        if way == 0:
            del groups[first:last]
        elif way == 1:
            place = rng.randrange(len(groups) + 1)
            groups[place:place] = block * rng.choice((1, 1, 1, 2, 20))
        elif way == 2:
            del groups[first:last]
            place = rng.randrange(len(groups) + 1)
            groups[place:place] = block
        elif way == 3:
            rng.shuffle(block)
            groups[first:last] = block
        else:
            strange = rng.choice(others or (data,)).splitlines(keepends=True)
            start = unit * rng.randrange(max(1, len(strange) // unit))
            length = unit * rng.choice((1, 1, 2, 4, 12))
            groups[first:first] = strange[start : start + length]
        return b"".join(groups)

    def some(data: bytes, rng: Random) -> bytes:
        at = rng.randrange(len(data) + 1)
        by = rng.choice(_SOME) * rng.choice((1, 1, 1, 300))
        return data[:at] + by + data[at + rng.choice((0, 0, 1)) :]

    def cut(data: bytes, rng: Random) -> bytes:
        return data[: rng.randrange(len(data) + 1)]

    ways = (numbers, numbers, numbers, exchange, exchange, insert, drop, lines, lines, some)

    def mutate(data: bytes, ending: str, rng: Random) -> bytes:
        for _ in range(rng.choice((1, 1, 1, 2, 3, 5))):
            data = (cut if rng.random() < 0.02 else rng.choice(ways))(data, rng)
        return data

    return mutate


def binary(data: bytes, ending: str, rng: Random) -> bytes:
    """Changes of single bytes and of numbers of two, four and eight."""
    made = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4))):
        if not made:
            return bytes(rng.randrange(256) for _ in range(20))
        at = rng.randrange(len(made)) if rng.random() < 0.5 else rng.randrange(min(len(made), 200))
        way = rng.randrange(6)
        if way == 0:
            made[at] ^= 1 << rng.randrange(8)
        elif way == 1:
            made[at] = rng.choice((0, 1, 127, 128, 255, rng.randrange(256)))
        elif way == 2:
            kind = rng.choice(("<H", ">H", "<I", ">I", "<q", "<f", "<d"))
            odd = (0, 1, -1, 2, 255, 65535, 2**31 - 1, 2**32 - 1, 4_000_001)
            value = rng.choice(odd)
            size = struct.calcsize(kind)
            if kind[1] in "fd":
                part = struct.pack(kind, rng.choice((0.0, -1.0, 1e30, float("nan"), float("inf"))))
            else:
                part = (value % 256**size).to_bytes(size, "little" if kind[0] == "<" else "big")
            made[at : at + size] = part
        elif way == 3:
            del made[at : at + rng.choice((1, 2, 4, 50, 200))]
        elif way == 4:
            made[at:at] = made[at : at + rng.choice((1, 4, 12, 50))]
        else:
            other = rng.randrange(len(made))
            length = rng.choice((1, 4, 12))
            made[at : at + length] = made[other : other + length]
    return bytes(made)


def png(data: bytes, ending: str, rng: Random) -> bytes:
    """Changes of an image's chunks, whose check sums are right again afterwards."""
    head, at, chunks = data[:8], 8, []
    while at + 12 <= len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        chunks.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + size]))
        at += 12 + size
    if not chunks or rng.random() < 0.1:
        return binary(data, ending, rng)
    place = rng.randrange(len(chunks))
    kind, body = chunks[place]
    way = rng.randrange(4)
    if way == 0:
        chunks[place] = (rng.choice((b"tRNS", b"eXIf", b"acTL", b"PLTE", b"zTXt", b"gAMA")), body)
    elif way == 1:
        chunks.insert(rng.randrange(len(chunks) + 1), chunks[place])
    elif kind == b"IDAT" and way == 2:
        with suppress(zlib.error):
            chunks[place] = (kind, zlib.compress(binary(zlib.decompress(body), ending, rng)))
    else:
        chunks[place] = (kind, binary(body, ending, rng))
    made = [head]
    for kind, body in chunks:
        made += [struct.pack(">I", len(body)), kind, body]
        made.append(struct.pack(">I", zlib.crc32(kind + body)))
    return b"".join(made)


def zipped(inner: Callable[[bytes, str, Random], bytes]) -> Callable[[bytes, str, Random], bytes]:
    """Changes of a part within a package, which is packed anew."""

    def mutate(data: bytes, ending: str, rng: Random) -> bytes:
        try:
            with zipfile.ZipFile(io.BytesIO(data)) as package:
                parts = {
                    each.filename: package.read(each)
                    for each in package.infolist()
                    if each.file_size < 10**6
                }
        except Exception:
            return binary(data, ending, rng)
        if not parts or rng.random() < 0.05:
            return binary(data, ending, rng)
        name = rng.choice(sorted(parts))
        if rng.random() < 0.08:
            parts[rng.choice(("3D/3dmodel.model", "3D/other.model", "a", "../b"))] = parts[name]
        elif rng.random() < 0.02:
            del parts[name]
        else:
            parts[name] = inner(parts[name], ending, rng)
        return pack(parts)

    return mutate


def pack(parts: dict[str, bytes]) -> bytes:
    """A package of parts, the same bytes each time."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in parts.items():
            package.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return held.getvalue()
