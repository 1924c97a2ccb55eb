"""What a kept file was made by: the code that a module can reach, the data that this code names, the libraries it imports.

Nothing is listed by hand: what is reached follows from the import lines, so that a new module cannot be forgotten.
"""

from __future__ import annotations

import hashlib
import re
import sys
from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path

from course_lib.base.data_files import data_folder

PACKAGE = Path(__file__).resolve().parents[1]
_IMPORT = re.compile(
    r"^[ \t]*(?:from[ \t]+(\.*)([\w.]*)[ \t]+import[ \t]+(\([^)]*\)|[^\n#]+)|import[ \t]+([^\n#]+))", re.M
)
_READ = re.compile(r'\bread_data\(\s*f?"([^"{]+)')


def fingerprint(module: str) -> str:
    """Of everything that what `module` makes depends on, as it is on this machine: another one, and it must be made anew."""
    return _fingerprint(module, PACKAGE, data_folder())


@cache  # it reads a hundred files
def _fingerprint(module: str, package: Path, data: Path) -> str:
    code = import_closure(module, package)
    digest = hashlib.sha256(" ".join(f"{name} {version(name)}" for name in libraries(code, package)).encode())
    for top, paths in ((package, code), (data, data_named(code, data))):
        for path in sorted(paths):
            digest.update(path.relative_to(top).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def import_closure(module: str, package: Path = PACKAGE) -> set[Path]:
    """Files of the package that importing `module` can run: its imports, at the top or in a function, and theirs in turn."""
    found: set[Path] = set()
    ahead = [module]
    while ahead:
        name = ahead.pop()
        for path in _files(name, package) - found:
            found.add(path)
            ahead += _imported(path, package)
    return found


def libraries(code: set[Path], package: Path = PACKAGE) -> list[str]:
    """Libraries from outside that the code imports, sorted: another version may give another number."""
    named = {name.partition(".")[0] for path in code for name in _imported(path, package)}
    return sorted(named - {"", package.name} - sys.stdlib_module_names)


def data_named(code: set[Path], data: Path) -> set[Path]:
    """Data files that the code reads by name; where only the folder is written in the code, all files of it."""
    named = {name for path in code for name in _READ.findall(path.read_text(encoding="utf-8"))}
    return {path for name in named for path in data.glob(f"{name}{'*' if name.endswith('/') else ''}.toml")}


def _files(name: str, package: Path) -> set[Path]:
    """The file of a module and those of the packages it lies in; none for what is not of this package, or no module."""
    first, *parts = name.split(".")
    if first != package.name:
        return set()
    rooms = [package.joinpath(*parts[:depth]) / "__init__.py" for depth in range(len(parts) + 1)]
    return {path for path in (*rooms, package.joinpath(*parts).with_suffix(".py")) if path.is_file()}


def _imported(path: Path, package: Path) -> Iterator[str]:
    """What a file imports, written in full: a module, and each name of it, which may be a module as well."""
    room = (package.name, *path.relative_to(package).parent.parts)
    for dots, module, names, plain in _IMPORT.findall(path.read_text(encoding="utf-8")):
        base = room[: len(room) + 1 - len(dots)] if dots else ()
        whole = ".".join((*base, *filter(None, [module])))
        listed = (
            name.split(" as ")[0].strip() for name in re.sub(r"[()]|#[^\n]*", "", names or plain).split(",")
        )
        yield from (".".join(filter(None, (whole, name))) for name in ("", *listed))
