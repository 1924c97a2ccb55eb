"""What a class secret gives: seeds, names and padding that nobody can work out without it, and files that tell nothing.

Everything comes from HMAC-SHA-256 of the secret and a purpose, so that a set can be made again from the secret alone, and
what one purpose shows (the id of a case) says nothing about another (its seed). Source: RFC 2104, RFC 4231.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import os
import secrets
from pathlib import Path

LEAST_SECRET = 16  # bytes; shorter ones can be tried out
SAME_TIME = 1_767_225_600  # s since 1970, the first day of 2026: every file of a set says the same
BLOCK = 4096  # bytes; sizes are rounded up to this, then made all the same


def read_secret(path: Path) -> tuple[bytes, bool]:
    """The class secret in a file, and whether it had to be made; a new one is drawn where the file is missing.

    Raises ValueError for one that is too short.
    """
    fresh = not path.exists()
    if fresh:
        path.write_text(secrets.token_hex(32) + "\n", encoding="ascii")
        path.chmod(0o600)
    secret = path.read_bytes().strip()
    if len(secret) < LEAST_SECRET:
        raise ValueError(
            f"secret must be at least {LEAST_SECRET} characters, got {len(secret)} in {path}. "
            "Name a file that does not exist yet, and one is drawn for you."
        )
    return secret, fresh


def derive(secret: bytes, *purpose: str | int) -> bytes:
    """32 bytes for one purpose; another purpose gives bytes that have nothing to do with them."""
    return hmac.new(secret, json.dumps(purpose).encode(), hashlib.sha256).digest()


def seed_of(secret: bytes, *purpose: str | int) -> int:
    """A seed of 63 bits: too many to try them all, and as many as a file of ours can hold."""
    return int.from_bytes(derive(secret, "seed", *purpose)[:8], "big") >> 1


def case_id_of(secret: bytes, number: int) -> str:
    """The id of a case: eight letters and digits that say nothing about its seed or its place in the set."""
    return "V-" + base64.b32encode(derive(secret, "case id", number)[:5]).decode("ascii")


def pad_case(path: Path, size: int, secret: bytes) -> None:
    """Bring a stored case to `size` bytes, so that a long file does not tell of many findings.

    The filling stands behind the packed findings, where unpacking stops, and is drawn from the secret. Raises ValueError
    for a case that is longer already.
    """
    stored = json.loads(path.read_text(encoding="utf-8"))
    packed = base64.b85decode(stored["sealed_findings"])
    # Of 4 bytes, 5 characters are made; the last few are filled with blanks.
    room = size - path.stat().st_size - 8
    if room < 0:
        raise ValueError(f"size must be enough for {path.name}, got {size}. Give more.")
    filling = hashlib.shake_256(derive(secret, "filling", path.stem)).digest(room * 4 // 5)
    stored["sealed_findings"] = base64.b85encode(packed + filling).decode("ascii")
    text = json.dumps(stored, indent=2, ensure_ascii=False).encode()
    path.write_bytes(text + b" " * (size - len(text) - 1) + b"\n")


def common_size(paths: list[Path]) -> int:
    """The size to which the cases of a set are brought: the longest, rounded up, with room for the filling."""
    longest = max(path.stat().st_size for path in paths)
    return (longest // BLOCK + 2) * BLOCK


def same_times(top: Path) -> None:
    """Give every file and folder under `top` one and the same time: when a case was made would tell how long it took."""
    for path in sorted(top.rglob("*"), reverse=True):
        os.utime(path, (SAME_TIME, SAME_TIME))
    os.utime(top, (SAME_TIME, SAME_TIME))
