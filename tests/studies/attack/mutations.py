"""New inputs from old: bytes, tokens and lines changed, moved, doubled, cut and mixed, by chance."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence

Parts = list[bytes]
TOKEN = re.compile(rb"[A-Za-z_][\w-]*|[-+]?\d[\d.]*(?:[eE][-+]?\d+)?|\s+|.", re.DOTALL)
NUMBER = re.compile(rb"[-+]?\d[\d.]*(?:[eE][-+]?\d+)?$")
ODD = (
    b"nan", b"inf", b"-inf", b"1e999", b"-1e308", b"1e299", b"5e-324", b"-0.0", b"0", b"1", b"-1", b"0.001", b"1e6",
    b"9" * 400, b"0x" + b"f" * 400, b"9007199254740993", b"true", b"null", b"\"\"", b"\"flat\"", b"\"\x1b[31m\"",
    b"\"\xe2\x80\xae\"", b"\"\\u0000\"", b"\"\\ud800\"", b"[]",
    b"{}", b"[[", b"]]", b"[", b"]", b"{", b"}", b"=", b",",
    b".", b":", b"'''", b"\"\"\"", b"\x00", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b"\t", b";", b"#", b"a.b.c",
    b"../../x", b"/dev/null", b"~", b"C:\\x", b"EOF", b"SECTION", b"ENDSEC", b"INSERT", b"SPLINE", b"LWPOLYLINE",
    b"ARC", b"CIRCLE", b"ELLIPSE", b"  0", b" 10", b" 42", b" 70", b" 90", b"x_mm,z_in", b"r_mm,s_mm", b"1,2",
    b"3,5;4,5",
)  # fmt: skip
MOST_BYTES = 60_000
MOST_CHANGES = 6


def mutated(rng: random.Random, corpus: Sequence[bytes]) -> bytes:
    """An input near one of ``corpus``: changed as bytes, as tokens or as lines, a few times over."""
    whole = _picked(rng, corpus)
    for _ in range(rng.randint(1, MOST_CHANGES)):
        whole = rng.choices((_tokens, _lines, _bytes, _spliced), (6, 3, 2, 1))[0](rng, whole, corpus)
    return whole[:MOST_BYTES]


def _picked(rng: random.Random, corpus: Sequence[bytes]) -> bytes:
    """One of the corpus, the latest found more often than others."""
    at = rng.random() if rng.random() < 0.5 else 1.0 - rng.random() ** 3
    return corpus[min(int(at * len(corpus)), len(corpus) - 1)]


def _tokens(rng: random.Random, whole: bytes, corpus: Sequence[bytes]) -> bytes:
    parts: Parts = TOKEN.findall(whole)
    numbers = [k for k, part in enumerate(parts) if NUMBER.match(part)]
    if numbers and rng.random() < 0.5:
        at = rng.choice(numbers)
        parts[at] = _other_number(rng, parts[at])
        return b"".join(parts)
    return b"".join(_changed(rng, parts))


def _other_number(rng: random.Random, number: bytes) -> bytes:
    try:
        value = float(number)
    except ValueError:
        return rng.choice(ODD)
    how: tuple[Callable[[], float], ...] = (
        lambda: -value, lambda: value * 10.0 ** rng.uniform(-3.0, 3.0), lambda: value + rng.gauss(0.0, 1.0),
        lambda: round(value), lambda: value * (1.0 + 1e-9), lambda: rng.uniform(-60.0, 60.0),
    )  # fmt: skip
    return rng.choice(ODD) if rng.random() < 0.25 else f"{rng.choice(how)():.{rng.randint(1, 17)}g}".encode()


def _lines(rng: random.Random, whole: bytes, corpus: Sequence[bytes]) -> bytes:
    return b"\n".join(_changed(rng, whole.split(b"\n")))


def _bytes(rng: random.Random, whole: bytes, corpus: Sequence[bytes]) -> bytes:
    """A bit turned over, a byte changed, or the end cut off."""
    if not whole:
        return rng.randbytes(rng.randint(0, 40))
    at, how = rng.randrange(len(whole)), rng.random()
    if how < 0.15:
        return whole[:at]
    put = bytes([whole[at] ^ 1 << rng.randrange(8)]) if how < 0.6 else rng.randbytes(rng.randint(0, 3))
    return whole[:at] + put + whole[at + 1 :]


def _spliced(rng: random.Random, whole: bytes, corpus: Sequence[bytes]) -> bytes:
    """The beginning of one with the end of another."""
    one, other = whole.split(b"\n"), rng.choice(corpus).split(b"\n")
    return b"\n".join(one[: rng.randint(0, len(one))] + other[rng.randint(0, len(other)) :])


def _changed(rng: random.Random, parts: Parts) -> Parts:
    """Put something odd in, take some out, double, move or swap some."""
    if not parts:
        return [rng.choice(ODD)]
    at, many, how = rng.randrange(len(parts)), rng.randint(1, 8), rng.randrange(6)
    if how == 0:
        parts[at] = rng.choice(ODD)
    elif how == 1:
        parts.insert(at, rng.choice(ODD))
    elif how == 2:
        del parts[at : at + many]
    elif how == 3:
        to = rng.randrange(len(parts))
        parts[to:to] = parts[at : at + many] * rng.choice((1, 1, 1, 2, 30))
    elif how == 4:
        to = rng.randrange(len(parts))
        parts[at], parts[to] = parts[to], parts[at]
    else:
        some = parts[at : at + many]
        del parts[at : at + many]
        to = rng.randint(0, len(parts))
        parts[to:to] = some
    return parts
