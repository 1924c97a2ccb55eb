"""The shape of the library, counted: ``python -m tests.structure [CHECKOUT ...]`` prints one column for each checkout.

Rooms are what stands at the top of `course_lib`; an arrow leads from a room to one that it imports from, anywhere: also inside a
function, also for types only. A floor is how deep imports go; a circle is a set of rooms or modules that import each other.
Two commits side by side: `git worktree add ../before COMMIT`, then ``python -m tests.structure ../before .``.
`tests/test_architecture.py` holds the limits with the same functions.
"""

from __future__ import annotations

import ast
import io
import json
import re
import subprocess
import sys
import tokenize
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path
from typing import NamedTuple

TOP = Path(__file__).resolve().parent.parent
PACKAGE = "course_lib"

ROOMS = (
    "base", "physics", "vehicle", "shop", "faults", "diagnosis", "cases", "assessment", "plots", "lessons", "bench", "classroom",
    "authoring", "cli",
)  # fmt: skip
"""Lowest first. A room may import from itself and from the rooms before it."""

MOST_BODY_LINES = 30
MOST_COMPLEXITY = 10
MOST_PARAMETERS = 8
MOST_MODULE_LINES = (
    425  # about 400: `lessons.item_kinds`, one class for each kind of item, is read best in one piece
)
SHOWN = 5  # of the longest, the most complex, the largest

Function = ast.FunctionDef | ast.AsyncFunctionDef
Arrows = dict[str, set[str]]


class Import(NamedTuple):
    """One name imported: written in full, and whether it is inside a function or for types only."""

    name: str
    inside: bool
    types: bool


@dataclass(frozen=True)
class Module:
    """A file of the library. name: dotted, as it is imported, without the package; a room's `__init__` has the room's name."""

    name: str
    path: Path
    text: str
    tree: ast.Module

    @property
    def room(self) -> str:
        """What it stands in, at the top of the package."""
        return self.name.split(".")[0]

    @property
    def stem(self) -> str:
        """Its own name, without the rooms it stands in."""
        return self.name.rsplit(".", 1)[-1]

    @property
    def lines(self) -> int:
        """All lines of the file."""
        return self.text.count("\n")


def read_library(top: Path = TOP) -> dict[str, Module]:
    """Every module of a checkout by its name; "" is the package itself."""
    found = {}
    for path in sorted((top / PACKAGE).rglob("*.py")):
        parts = path.relative_to(top / PACKAGE).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        text = path.read_text(encoding="utf-8")
        found[name] = Module(name, path, text, ast.parse(text))
    return found


# ---------------------------------------------------------------------- who imports whom
def imports(module: Module) -> list[Import]:
    """Every name imported anywhere in a file."""
    here = [PACKAGE, *filter(None, module.name.split("."))]
    if module.path.name != "__init__.py":
        here.pop()
    found: list[Import] = []

    def look(node: ast.AST, inside: bool, types: bool) -> None:
        if isinstance(node, ast.Import):
            found.extend(Import(alias.name, inside, types) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = here[: len(here) - node.level + 1] if node.level else []
            source = ".".join([*base, *filter(None, [node.module])])
            found.extend(Import(f"{source}.{alias.name}", inside, types) for alias in node.names)
        inside = inside or isinstance(node, Function | ast.Lambda)
        for child in ast.iter_child_nodes(node):
            look(
                child, inside, types or (isinstance(node, ast.If) and child in node.body and _for_types(node))
            )

    look(module.tree, False, False)
    return found


def _for_types(node: ast.If) -> bool:
    """Whether a block is read by type checkers only."""
    return "TYPE_CHECKING" in (getattr(node.test, "id", ""), getattr(node.test, "attr", ""))


def module_arrows(library: dict[str, Module], types: bool = True) -> Arrows:
    """Module -> the modules of the library that it imports; without `types`, those that it imports when it runs."""
    found: Arrows = {name: set() for name in library}
    for name, module in library.items():
        for each in imports(module):
            if each.name.split(".")[0] == PACKAGE and (types or not each.types):
                parts = each.name.split(".")[1:]
                target = ".".join(parts) if ".".join(parts) in library else ".".join(parts[:-1])
                found[name].add(target)
        found[name].discard(name)
    return found


def room_arrows(library: dict[str, Module], types: bool = True) -> Arrows:
    """Room -> the rooms that it imports from, itself left out; the package's own `__init__` is no room."""
    found: Arrows = {module.room: set() for name, module in library.items() if name}
    for name, targets in module_arrows(library, types).items():
        if name:
            found[library[name].room] |= {library[target].room for target in targets if target}
    return {room: targets - {room} for room, targets in found.items()}


def circles(arrows: Arrows) -> list[list[str]]:
    """Sets of rooms or modules each of which is reached from each (Tarjan's strongly connected components of two and more)."""
    place: dict[str, int] = {}
    lowest: dict[str, int] = {}
    stack: list[str] = []
    found = []

    def visit(name: str) -> None:
        place[name] = lowest[name] = len(place)
        stack.append(name)
        for other in sorted(arrows[name]):
            if other not in place:
                visit(other)
            if other in stack:
                lowest[name] = min(lowest[name], lowest[other])
        if lowest[name] == place[name]:
            members = stack[stack.index(name) :]
            del stack[stack.index(name) :]
            if len(members) > 1:
                found.append(sorted(members))

    for name in sorted(arrows):
        if name not in place:
            visit(name)
    return found


def floors(arrows: Arrows) -> int:
    """How deep imports go, a circle counted as one floor."""
    together = {name: min(circle) for circle in circles(arrows) for name in circle}
    merged: Arrows = {}
    for name, targets in arrows.items():
        merged.setdefault(together.get(name, name), set()).update(
            together.get(each, each) for each in targets
        )
    depth: dict[str, int] = {}
    for name in TopologicalSorter(
        {name: targets - {name} for name, targets in merged.items()}
    ).static_order():
        depth[name] = 1 + max((depth[each] for each in merged[name] - {name}), default=0)
    return max(depth.values())


# ---------------------------------------------------------------------- sizes
def functions(module: Module) -> Iterator[tuple[str, Function]]:
    """Every function and method with its name, written with what it stands in."""

    def look(node: ast.AST, within: str) -> Iterator[tuple[str, Function]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, Function | ast.ClassDef):
                if isinstance(child, Function):
                    yield f"{within}.{child.name}", child
                yield from look(child, f"{within}.{child.name}")
            else:
                yield from look(child, within)

    return look(module.tree, module.name)


def body_lines(function: Function) -> int:
    """Lines of a function's body, its docstring not counted."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def parameters(function: Function) -> int:
    """How many arguments a function takes, those by keyword only included, itself or its class not."""
    given = function.args
    names = [each.arg for each in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    return len(names) - (names[:1] in (["self"], ["cls"]))


def complexities(top: Path = TOP) -> dict[str, int]:
    """Function -> its cyclomatic complexity (McCabe), as ruff's rule C901 counts it; named by file and line."""
    asked = ["--isolated", "--no-cache", "--select=C901", "--config=lint.mccabe.max-complexity=0"]
    command = [sys.executable, "-m", "ruff", "check", "--output-format=json", "--exit-zero", *asked, PACKAGE]
    done = subprocess.run(command, cwd=top, capture_output=True, text=True, check=True)
    found = {}
    for each in json.loads(done.stdout):
        path = Path(each["filename"]).relative_to(top.resolve() / PACKAGE).with_suffix("").as_posix()
        name = each["message"].split("`")[1]
        found[f"{path.replace('/', '.')}.{name}:{each['location']['row']}"] = int(
            each["message"].split("(")[1].split()[0]
        )
    return found


def code_lines(module: Module) -> int:
    """Lines that hold code: no blank ones, no comments, no docstrings."""
    aside = (
        tokenize.COMMENT,
        tokenize.NL,
        tokenize.NEWLINE,
        tokenize.INDENT,
        tokenize.DEDENT,
        tokenize.ENDMARKER,
    )
    held: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(module.text).readline):
        if token.type not in aside:
            held.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(module.tree):
        if (
            isinstance(node, ast.Expr)
            and isinstance(node.value, ast.Constant)
            and isinstance(node.value.value, str)
        ):
            held.difference_update(range(node.lineno, (node.end_lineno or 0) + 1))
    return len(held)


# ---------------------------------------------------------------------- names, and what is done too often
def doubled_modules(library: dict[str, Module]) -> dict[str, list[str]]:
    """Names that two modules or rooms have."""
    return _doubled((module.stem, name) for name, module in library.items() if name)


def doubled_classes(library: dict[str, Module]) -> dict[str, list[str]]:
    """Names that two classes have, wherever they stand."""
    return _doubled(
        (node.name, name)
        for name, module in library.items()
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ClassDef)
    )


def doubled_functions(library: dict[str, Module]) -> dict[str, list[str]]:
    """Names that two public functions have, methods left out."""
    return _doubled(
        (node.name, name)
        for name, module in library.items()
        for node in module.tree.body
        if isinstance(node, Function) and not node.name.startswith("_") and node.name != "main"
    )


def _doubled(pairs: Iterator[tuple[str, str]]) -> dict[str, list[str]]:
    places: dict[str, list[str]] = {}
    for name, place in pairs:
        places.setdefault(name, []).append(place)
    return {name: found for name, found in places.items() if len(found) > 1}


def caches(module: Module) -> int:
    """Functions whose results are kept for as long as the program runs."""
    kinds = ("cache", "lru_cache", "cached_property")
    return sum(
        _called(each.func if isinstance(each, ast.Call) else each) in kinds
        for _, function in functions(module)
        for each in function.decorator_list
    )


def look_ups(module: Module, of: str = "load_unit") -> int:
    """Places that look a unit up by its name, rather than having it handed in."""
    return sum(isinstance(node, ast.Call) and _called(node.func) == of for node in ast.walk(module.tree))


def lazy_imports(module: Module) -> int:
    """Import statements inside functions, each name counted once."""
    return sum(each.inside for each in imports(module))


def unused(library: dict[str, Module], top: Path = TOP) -> list[str]:
    """Public functions that no module and no notebook names but where they are defined; those that pytest
    or a command line calls are left out."""
    notebooks = [path.read_text(encoding="utf-8") for path in (top / "solutions").glob("*.ipynb")]
    said = Counter(re.findall(r"\w+", " ".join(notebooks)))
    for module in library.values():
        for node in ast.walk(module.tree):
            names = [getattr(node, field, None) for field in ("id", "attr", "value")]
            said.update(name for name in names if isinstance(name, str))
            if isinstance(node, ast.ImportFrom | ast.Import):
                said.update(alias.name for alias in node.names)
    return [
        f"{name}.{node.name}"
        for name, module in library.items()
        for node in module.tree.body
        if isinstance(node, Function)
        and not node.decorator_list
        and not node.name.startswith(("_", "pytest_"))
        and not said[node.name]
    ]


def _called(node: ast.expr) -> str:
    return getattr(node, "attr", "") or getattr(node, "id", "")


# ---------------------------------------------------------------------- the table
def counts(top: Path) -> dict[str, int | str | list[str]]:
    """What is counted of a checkout, by the words of the table."""
    library = read_library(top)
    rooms, modules = room_arrows(library), module_arrows(library)
    every = [(name, function) for module in library.values() for name, function in functions(module)]
    long = Counter({name: body_lines(function) for name, function in every})
    wide = Counter({name: parameters(function) for name, function in every})
    knotty = Counter(complexities(top))
    large = Counter({name or PACKAGE: module.lines for name, module in library.items()})
    each = list(library.values())
    return {
        "rooms": len(rooms),
        "arrows between rooms": sum(map(len, rooms.values())),
        "floors": floors(rooms),
        "circles of rooms": len(circles(room_arrows(library, types=False))),
        "circles of rooms, types too": len(circles(rooms)),
        "modules": len(library),
        "circles of modules": _sizes(circles(module_arrows(library, types=False))),
        "circles of modules, types too": _sizes(circles(modules)),
        "lines": sum(large.values()),
        "lines of code": sum(map(code_lines, each)),
        "lines of JavaScript": sum(
            path.read_text(encoding="utf-8").count("\n") for path in (top / PACKAGE).rglob("*.js")
        ),
        "functions": len(every),
        f"bodies over {MOST_BODY_LINES} lines": _over(long, MOST_BODY_LINES),
        f"complexity over {MOST_COMPLEXITY}": _over(knotty, MOST_COMPLEXITY),
        f"over {MOST_PARAMETERS} parameters": _over(wide, MOST_PARAMETERS),
        f"modules over {MOST_MODULE_LINES} lines": _over(large, MOST_MODULE_LINES),
        "module names twice": len(doubled_modules(library)),
        "class names twice": len(doubled_classes(library)),
        "public function names twice": len(doubled_functions(library)),
        "public functions not used": len(unused(library, top)),
        "caches": sum(map(caches, each)),
        "lazy imports": sum(map(lazy_imports, each)),
        "look-ups load_unit(name)": sum(map(look_ups, each)),
        "longest bodies": _most(long),
        "highest complexity": _most(knotty),
        "most parameters": _most(wide),
        "largest modules": _most(large),
    }


def _over(sizes: Counter[str], most: int) -> int:
    return sum(size > most for size in sizes.values())


def _sizes(found: list[list[str]]) -> str:
    """How many circles, and of how many modules each."""
    return f"{len(found)} ({', '.join(str(len(each)) for each in found)})" if found else "0"


def _most(sizes: Counter[str]) -> list[str]:
    return [f"{size} {name}" for name, size in sizes.most_common(SHOWN)]


def table(tops: list[Path]) -> str:
    """A column of counts for each checkout, then what is largest in each."""
    columns = [counts(top) for top in tops]
    wide = max(map(len, columns[0]))
    lines = []
    for what in columns[0]:
        row = [column[what] for column in columns]
        if all(isinstance(value, int | str) for value in row):
            lines.append(f"{what:<{wide}}" + "".join(f" {value!s:>18}" for value in row))
        for top, value in zip(tops, row, strict=True):
            if isinstance(value, list):
                lines += [f"\n{what}, {top.resolve().name}", *(f"  {each}" for each in value)]
    return "\n".join([f"{'':<{wide}}" + "".join(f" {top.resolve().name[:18]:>18}" for top in tops), *lines])


if __name__ == "__main__":
    print(table([Path(each) for each in sys.argv[1:]] or [TOP]))
