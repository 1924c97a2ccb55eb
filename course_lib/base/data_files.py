"""Where the data files are, and the one way to read them: TOML text, checked against a typed schema."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

import msgspec

T = TypeVar("T")


def data_folder(name: str = "datasets") -> Path:
    """The folder `name` of the installed package, else of the checkout around it."""
    packaged = Path(str(files("course_lib"))) / "_data" / name
    return packaged if packaged.is_dir() else Path(__file__).resolve().parents[2] / name


def read_data(name: str, schema: type[T]) -> T:
    """Read `datasets/<name>.toml` and check it against `schema`, a msgspec type.

    Raises FileNotFoundError or ValueError with one line that says what to do.
    """
    path = data_folder() / f"{name}.toml"
    try:
        return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), schema)
    except FileNotFoundError:
        raise FileNotFoundError(
            f"Data file {path} is missing. Reinstall the course, or restore it with: git checkout -- datasets"
        ) from None
    except (msgspec.ValidationError, tomllib.TOMLDecodeError) as error:
        raise ValueError(f"Data file {path} is not valid: {error}. Correct that entry.") from None
