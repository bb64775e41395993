"""Changes at random that a file suffers on its way, or that somebody hostile would make."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Sequence
from copy import deepcopy
from random import Random
from typing import Any

NUMBERS = (
    *("0", "-0.0", "-1", "1e308", "-1e308", "1e-320", "1e400", "nan", "-nan", "inf", "-inf"),
    *("0xffffffffffffffffffff", "99999999999999999999999999", "1" * 5000, "0x" + "f" * 6000),
    *("true", "1979-05-27", "07:32:00", "0.1", "1000", "65536", "2147483648", "1e12", "-90"),
)
TEXTS = (
    *("", " ", "\0", "\n", "../../etc/passwd", "/dev/zero", "/", ".", "..", "~", "C:\\con"),
    *("a" * 300, "b" * 70000, "\u202egnp.exe", "\ud800", "e\u0301", "\ufeff", "東", "𝕏", "%s%n"),
    *("[red]x[/]", "1/0", "1/16 +9999", "1/" + "9" * 400, "f/0", "8 +0.9", "²", "٣", "1e999"),
    *("file:///etc/passwd", "s3://x/y", "skin.png", "look.png", "kit.toml", "all", "key"),
)
LINES = (  # words of a command line that stand for a file, a name or a number
    *("", " ", "-", "--", "...", "~", "/", "/dev/null", "/dev/zero", "/dev/full", "/dev/stdout"),
    *("folder.png", "loop.png", "full.png", "pipe.png", "pipe.toml", "gone.toml", "no/a.png"),
    *("a\nb.png", "a\tb.toml", "\u202egnp.toml", "e\u0301.png", "\u00e9.png", "\u200b.png"),
    *("\udcff.png", "東京.png", "x" * 250 + ".png", "y" * 5000, "/proc/self/mem", "/proc/1/mem"),
    *("a.pdf", "a.svg", "a.tif", "a.exr", "a.jpg", "a.PNG", "kit.toml", "[red]x[/]", "%s%n", "²"),
    *("0.5,0.5", "1e400,0", "nan,nan", ",", "black", "-2", "1e999", "softbox-60x90 grid=fabric-40"),
    *("key", "stool", "light.key.distance_m", "light.key.distance_m=1..0.5", "camera.iso_speed="),
    *("camera.iso_speed=1..1e400", "..", "=..", "tcp://[", "ratio,,side", "list", "0.0.0.0", "::1"),
    *("violin-two-lights", "draft", "final", "65537", "0", "cuda", "dome", "letter", "both"),
)
VARIED = (  # what a series is asked to vary
    *("", "=", "==", "key", "=1,2", "title=x,y", "title=,", "light.key.on=true,false", "a.b=1,2"),
    *("light.key.distance_m=", "light.key.distance_m=1e400,1", "light.key.distance_m=nan,1"),
    *("light.key.distance_m=0.7,0.7", "light.key.distance_m=-,1", "light.kye.distance_m=1,2"),
    *("light.key.power=1/4,1/8", "light.key.power=1/0,²", "light.key.size_cm=[1,2],[3,4]"),
    *(
        '"',
        'title="a,b",\'c',
        "title=\u202ea,b",
        "title=[red],[/]",
        "title=a\nb,c",
        "light.key=-,{}",
    ),
    *(
        "light.key.distance_m=" + ",".join(f"{1 + k / 5000}" for k in range(5000)),
        "title=" + "[" * 5000,
    ),
    *(
        "title=" + "x" * 90000 + ",y",
        "light.key.azimuth_deg=0x10,1_0",
        "camera.f_number=8,1" + "0" * 500,
    ),
    *("point.stool.position_m=[0,1e308,0],-", "wanted.face=-,1", "kit=-,[]", "camera=-,1"),
)
VALUES: tuple[Any, ...] = (
    *(0, -1, 1, 2, 0.5, 1e308, -1e308, 1e-320, float("nan"), float("inf"), -float("inf")),
    *(10**30, 10**400, True, False, [], {}, [[]], [0, 0, 0], {"a": {"a": {}}}, [1e400], ["a"]),
)
PIECES = (b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"PK\x03\x04", b"\x1f\x8b", b"[[[[[[", b"{" * 40)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
STRING = re.compile(r'"[^"\n]*"')
DEEP = 3000  # levels, more than the interpreter follows


def changed(rng: Random, texts: Sequence[bytes]) -> bytes:
    """One of some TOML files with changes: as bytes, as text, in its tables, or in its numbers."""
    text = rng.choice(texts)
    way = rng.randrange(6)
    if way > 3:
        return nudged(rng, text.decode()).encode()
    if way == 0:
        return spoilt(rng, text, texts)
    if way == 1:
        return reworded(rng, text.decode()).encode("utf-8", "surrogatepass")
    tree = json.loads(json.dumps(tomllib.loads(text.decode()), default=str))
    try:
        made = toml_of(rebuilt(rng, tree))
    except ValueError:  # a number too long to be written down
        return text
    return made.encode("utf-8", "surrogatepass")


def spoilt(rng: Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """A file with some of its bytes changed, lost, doubled or taken from another."""
    held = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        at = rng.randrange(len(held) + 1)
        end = min(len(held), at + rng.choice((1, 2, 4, 16, 256)))
        match rng.randrange(8):
            case 0 if held:
                held[min(at, len(held) - 1)] ^= 1 << rng.randrange(8)
            case 1:
                held[at:end] = rng.randbytes(end - at)
            case 2:
                del held[at:end]
            case 3:
                held[at:at] = held[at:end] * rng.choice((1, 3, 50))
            case 4:
                held[at:at] = rng.choice(PIECES)
            case 5:
                del held[at:]
            case 6:
                held[at:end] = rng.choice((b"\xff", b"\0", b"\x7f", b"\x80")) * (end - at)
            case 7:
                other = rng.choice(others)
                start = rng.randrange(len(other) + 1)
                held[at:end] = other[start : start + rng.choice((4, 64, 1024))]
    return bytes(held)


def reworded(rng: Random, text: str) -> str:
    """A text with some numbers, words or lines changed."""
    for _ in range(rng.choice((1, 1, 1, 2, 5))):
        choice = rng.randrange(6)
        if choice < 3:
            text = _swapped(rng, text, NUMBER, rng.choice(NUMBERS))
        elif choice == 3:
            text = _swapped(rng, text, STRING, json.dumps(rng.choice(TEXTS)))
        else:
            lines = text.split("\n")
            at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
            match rng.randrange(4):
                case 0:
                    lines.insert(at, lines[other])
                case 1:
                    del lines[at]
                case 2:
                    lines[at], lines[other] = lines[other], lines[at]
                case 3:
                    lines[at] = _deep(rng)
            text = "\n".join(lines)
    return text


def nudged(rng: Random, text: str) -> str:
    """A text with some numbers a little or far off, as a slip of the hand leaves them."""
    for _ in range(rng.choice((1, 2, 4, 8))):
        found = list(NUMBER.finditer(text))
        if not found:
            break
        one = rng.choice(found)
        value = float(one[0]) * rng.choice((0, 0.1, 0.5, 0.9, 1.1, 2, 10, -1))
        whole = one[0].isdigit() and value.is_integer()
        text = text[: one.start()] + (f"{value:.0f}" if whole else repr(value)) + text[one.end() :]
    return text


def _swapped(rng: Random, text: str, pattern: re.Pattern[str], by: str) -> str:
    found = list(pattern.finditer(text))
    if not found:
        return text + by
    one = rng.choice(found)
    return text[: one.start()] + by + text[one.end() :]


def _deep(rng: Random) -> str:
    levels = rng.choice((20, 500, DEEP))
    kind = rng.randrange(4)
    if kind == 0:
        return "a = " + "[" * levels + "]" * levels
    if kind == 1:
        return "a = " + "{a = " * levels + "1" + "}" * levels
    if kind == 2:
        return "[" + ".".join("a" * levels) + "]"
    return ".".join("a" * levels) + " = 1"


def rebuilt(rng: Random, tree: Any) -> Any:
    """A tree of tables, lists and values with some of them changed, lost or put elsewhere."""
    tree = json.loads(json.dumps(tree))
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        places = list(_places(tree))
        if not places:
            break
        owner, key = rng.choice(places)
        match rng.randrange(6):
            case 0 | 1:
                owner[key] = deepcopy(rng.choice(VALUES))
            case 2:
                owner[key] = rng.choice(TEXTS)
            case 3:
                del owner[key]
            case 4:
                other, name = rng.choice(places)
                owner[key] = json.loads(json.dumps(other[name], default=str))
            case 5 if isinstance(owner, dict):
                owner[rng.choice(TEXTS)] = owner.pop(key)
    return tree


def _places(tree: Any) -> Any:
    keys = list(tree) if isinstance(tree, dict) else range(len(tree))
    for key in keys:
        yield tree, key
        if isinstance(tree[key], dict | list):
            yield from _places(tree[key])


def toml_of(tree: dict[str, Any]) -> str:
    """A tree as a TOML file, one line for each of its keys."""
    return "\n".join(f"{json.dumps(key)} = {_toml(value)}" for key, value in tree.items()) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        inner = ", ".join(f"{json.dumps(key)} = {_toml(each)}" for key, each in value.items())
        return "{" + inner + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, float):
        return repr(value)
    return json.dumps(value)
