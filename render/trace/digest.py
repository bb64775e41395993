"""A short name for everything that a picture depends on, so that finished light is found again."""

from __future__ import annotations

import hashlib
import weakref
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

# Big arrays (maps, strands), and parts of a sitter, which are told by a slot for weak references,
# are hashed once and remembered for as long as they live. Placed sets are frozen data: nobody
# writes into their arrays.
_REMEMBER_FROM_BYTES = 1 << 16
_known: dict[int, tuple[weakref.ref[Any], bytes]] = {}


def digest(thing: object) -> str:
    """Hexadecimal name (32 digits) of plain data: dataclasses, arrays, numbers, text, tuples."""
    state = hashlib.blake2b(digest_size=16)
    _feed(state, thing)
    return state.hexdigest()


def _feed(state: hashlib.blake2b, thing: object) -> None:
    if isinstance(thing, np.ndarray):
        state.update(_array_digest(thing))
    elif is_dataclass(thing) and not isinstance(thing, type):
        if "__weakref__" in getattr(type(thing), "__slots__", ()):
            state.update(_remembered(thing))
        else:
            _feed_fields(state, thing)
    elif isinstance(thing, dict):
        state.update(f"<{len(thing)} entries>".encode())
        for key in sorted(thing):
            _feed(state, key)
            _feed(state, thing[key])
    elif isinstance(thing, tuple | list):
        state.update(f"<{len(thing)}>".encode())
        for part in thing:
            _feed(state, part)
    elif isinstance(thing, np.generic):
        _feed(state, thing.item())
    elif thing is None or isinstance(thing, str | int | float):
        state.update(f"{thing!r};".encode())
    else:
        raise TypeError(f"cannot name a {type(thing).__name__}")


def _feed_fields(state: hashlib.blake2b, thing: Any) -> None:
    state.update(f"<{type(thing).__name__}>".encode())
    for field in fields(thing):
        state.update(f"{field.name}=".encode())
        _feed(state, getattr(thing, field.name))


def _remembered(thing: Any) -> bytes:
    """Digest of a dataclass that is asked for again and again."""
    known = _known.get(id(thing))
    if known is None or known[0]() is not thing:
        state = hashlib.blake2b(digest_size=16)
        _feed_fields(state, thing)
        known = _remember(thing, state.digest())
    return known[1]


def _remember(thing: Any, value: bytes) -> tuple[weakref.ref[Any], bytes]:
    name = id(thing)
    _known[name] = (weakref.ref(thing, lambda _: _known.pop(name, None)), value)
    return _known[name]


def _array_digest(array: np.ndarray[Any, Any]) -> bytes:
    known = _known.get(id(array))
    if known is not None and known[0]() is array:
        return known[1]
    head = f"{array.dtype.str}{array.shape}".encode()
    body = np.ascontiguousarray(array).data
    value = hashlib.blake2b(head, digest_size=16)
    value.update(body)
    if array.nbytes >= _REMEMBER_FROM_BYTES:
        _remember(array, value.digest())
    return value.digest()
