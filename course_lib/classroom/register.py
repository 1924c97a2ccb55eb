"""What an instructor keeps of a class set: who was dealt which cases, and how equal they are."""

from __future__ import annotations

from pathlib import Path

import msgspec

REGISTER, NOTEBOOK = "register.json", "class_set.ipynb"


class RegisterEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One learner of the register: the name on the list, the folder handed out, the cases in it."""

    name: str
    folder: str
    cases: tuple[str, ...]


class Register(msgspec.Struct, frozen=True, kw_only=True):
    """What the instructor keeps of a set: who has which cases, and how equal they are. minutes: case id -> ideal way."""

    entries: tuple[RegisterEntry, ...]
    minutes: dict[str, int]
    spread: str


def read_register(place: Path) -> Register:
    """The register in an instructor's folder. Raises FileNotFoundError or ValueError with one line."""
    path = place / REGISTER
    if not path.is_file():
        raise FileNotFoundError(
            f"set must be the instructor's folder of a class set, got {place}. It holds {REGISTER}."
        )
    try:
        return msgspec.json.decode(path.read_bytes(), type=Register)
    except msgspec.MsgspecError as error:
        raise ValueError(
            f"register {path} must be whole, got: {error}. Make the set again from its secret."
        ) from None
