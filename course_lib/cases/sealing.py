"""Packed so that nobody reads a finding or an answer by accident; no protection against somebody who wants to."""

from __future__ import annotations

import base64
import zlib
from typing import TypeVar

import msgspec

T = TypeVar("T")
MOST_BYTES = 16 * 2**20
"""Most that is unpacked; no case and no key has a tenth of it."""
BROKEN = (msgspec.MsgspecError, ValueError, zlib.error)
"""What `unseal` raises for a text that is not whole."""


def seal(value: msgspec.Struct) -> bytes:
    """`value` packed."""
    return base64.b85encode(zlib.compress(msgspec.json.encode(value), 9))


def unseal(text: bytes, schema: type[T]) -> T:
    """What was sealed, read by its schema. Raises one of BROKEN."""
    packed = zlib.decompressobj()
    whole = packed.decompress(base64.b85decode(text.strip()), MOST_BYTES)
    if not packed.eof:
        raise ValueError("it is cut off, or larger than anything that is sealed")
    return msgspec.json.decode(whole, type=schema)
