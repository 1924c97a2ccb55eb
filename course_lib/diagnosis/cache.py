"""Populations and cases kept on disk. A file that is damaged, or was made from other data, is made anew and never trusted."""

from __future__ import annotations

import hashlib
import io
import json
import os
import sys
import tempfile
import warnings
import zlib
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TypeVar

import msgspec
import numpy as np
from platformdirs import user_cache_path

from course_lib.diagnosis.population import Population, Sharpness

T = TypeVar("T")


class Outdated(ValueError):
    """A kept file that was made from other data or by other code."""


Progress = Callable[[int, int], None]
DIGEST = hashlib.sha256().digest_size
MOST_CASES = 400  # kept; the ones longest unused go first
PLAIN = ("cause", "weight", "severity", "miles", "vehicles")
COLUMNS = ("readings", "looks", "objects")


def show_progress(done: int, total: int) -> None:
    """One line that grows while a population is lived, on the error stream, so that it is in nobody's output."""
    end = "\n" if done == total else ""
    print(f"\rLives to compare with: {done} of {total} causes", end=end, file=sys.stderr, flush=True)


def no_progress(done: int, total: int) -> None:
    """Says nothing."""


def cache_folder() -> Path:
    """Where populations are kept: the user's cache, else a temporary folder where that cannot be written."""
    for folder in (
        user_cache_path("course_lib", appauthor=False),
        Path(tempfile.gettempdir()) / "course_lib",
    ):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError:
            continue
    raise OSError(
        "cache folder must be writable, got none. Free some space, or allow writing to your home folder."
    )


def kept_population(
    name: str,
    made_from: str,
    build: Callable[[Progress], Population],
    *,
    folder: Path | None = None,
    progress: Progress = no_progress,
) -> Population:
    """The population `name` from the cache, else from `build`, which is told where to report progress.

    made_from: fingerprint of what it depends on. An outdated file is replaced; so is a damaged one, with a one-line warning.
    """
    path = (cache_folder() if folder is None else folder) / f"{name}.npz"
    if path.is_file():
        try:
            return load_population(path, made_from)
        except Outdated:
            pass
        except ValueError as error:
            warnings.warn(f"{error} It is made anew.", stacklevel=2)
    population = build(progress)
    save_population(population, path, made_from)
    return population


def save_population(population: Population, path: Path, made_from: str) -> None:
    """Write to a file, whole or not at all: an .npz, and after it the SHA-256 of its bytes."""
    arrays = {name: getattr(population, name) for name in PLAIN}
    for kind in COLUMNS:
        stack = list(getattr(population, kind).values())
        arrays[kind] = np.array(stack) if stack else np.zeros((0, len(population)))
    about = {kind: list(getattr(population, kind)) for kind in COLUMNS} | {
        "causes": population.causes,
        "sigma": population.sigma,
        "made_by": population.made_by,
        "sharpness": asdict(population.sharpness),
        "made_from": made_from,
    }
    arrays["about"] = np.frombuffer(json.dumps(about).encode(), np.uint8)
    whole = io.BytesIO()
    np.savez(whole, **arrays)
    _write(path, whole.getvalue())


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all, and after the content the SHA-256 of its bytes."""
    handle, part = tempfile.mkstemp(dir=path.parent, suffix=".part")
    with os.fdopen(handle, "wb") as file:
        file.write(content + hashlib.sha256(content).digest())
    os.replace(part, path)


def _read(path: Path) -> bytes:
    """The content of a kept file. Raises ValueError when it is damaged."""
    stored = path.read_bytes()
    content, digest = stored[:-DIGEST], stored[-DIGEST:]
    if hashlib.sha256(content).digest() != digest:
        raise ValueError(f"kept file {path.name} must be whole, got a damaged one.")
    return content


def load_population(path: Path, made_from: str) -> Population:
    """Read a population. Raises ValueError when the file is damaged, `Outdated` when it was made from something else."""
    with np.load(io.BytesIO(_read(path)), allow_pickle=False) as file:
        arrays = {name: file[name] for name in file.files}
    about = json.loads(arrays.pop("about").tobytes())
    if about["made_from"] != made_from:
        raise Outdated(
            f"population {path.name} must be made from this course's data, got one made from other data."
        )
    return Population(
        causes=tuple(about["causes"]),
        cause=arrays["cause"],
        weight=arrays["weight"],
        severity=arrays["severity"],
        miles=arrays["miles"],
        readings=dict(zip(about["readings"], arrays["readings"], strict=True)),
        looks=dict(zip(about["looks"], arrays["looks"], strict=True)),
        objects=dict(zip(about["objects"], arrays["objects"], strict=True)),
        vehicle=arrays["vehicles"],
        sigma=about["sigma"],
        made_by=about["made_by"],
        sharpness=Sharpness(**about["sharpness"]),
    )


# ---------------------------------------------------------------------- cases
def kept_case(asked: str, made_from: str, schema: type[T], make: Callable[[], T]) -> T:
    """What `make` made when it was last asked for this, else made now and kept, packed against an accidental look.

    asked: everything the result depends on besides `made_from`; schema: its type, for reading it back. What cannot be kept
    or read back is made anew.
    """
    name = hashlib.sha256(f"{asked} {made_from}".encode()).hexdigest()[:24]
    path = cache_folder() / f"{name}.case"
    try:
        made = msgspec.json.decode(zlib.decompress(_read(path)), type=schema)
        path.touch()
        return made
    except (OSError, ValueError, zlib.error):
        made = make()
    try:
        _write(path, zlib.compress(msgspec.json.encode(made)))
        _drop_oldest(path.parent)
    except OSError:
        pass  # a full disk only costs the time to make it again
    return made


def _drop_oldest(folder: Path) -> None:
    """Remove the cases longest unused beyond `MOST_CASES`."""
    kept = sorted(folder.glob("*.case"), key=lambda path: path.stat().st_mtime)
    for path in kept[: max(len(kept) - MOST_CASES, 0)]:
        path.unlink(missing_ok=True)
