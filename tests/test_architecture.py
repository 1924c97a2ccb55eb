"""The shape of the house: imports go downward, heavy libraries have one door, public things say what they are."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
PACKAGE = TOP / "course_lib"

# Lowest first. A room may import from itself and from the rooms before it.
ROOMS = (
    ("base",),
    ("physics",),
    ("vehicle",),
    ("shop",),
    ("faults",),
    ("diagnosis",),
    ("cases",),
    ("assessment",),
    ("plots",),
    ("lessons",),
    ("bench",),
    ("classroom",),
    ("authoring",),
    ("cli",),
)
FLOOR = {room: floor for floor, rooms in enumerate(ROOMS) for room in rooms}
PAGES = {
    f"bench/{name}.py"
    for name in ("sheet_page", "view", "units_view", "worked_view", "items_view", "bay_view")
}
DOORS = {"matplotlib": {"plots/house.py"}, "ipywidgets": PAGES, "anywidget": PAGES, "traitlets": PAGES}
MOST_BODY_LINES, MOST_MODULE_LINES = 30, 450  # "about 20" and "about 400", with room for a long call
# Admitted exceptions: one balance that is read best in one piece. Do not add to this list; split instead.
LONG = {"plant._point", "plant"}

MODULES = sorted(PACKAGE.rglob("*.py"))
NAMES = [path.relative_to(PACKAGE).as_posix() for path in MODULES]
TREES = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in zip(NAMES, MODULES, strict=True)}


def room_of(name: str) -> str:
    """The room of a module, named by its path in the package."""
    return name.split("/")[0].removesuffix(".py")


def imported(name: str) -> list[str]:
    """Every module imported anywhere in a file, written in full, also inside functions and for types only."""
    found = []
    here = ["course_lib", *name.removesuffix(".py").split("/")]
    for node in ast.walk(TREES[name]):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(here[: -node.level]) if node.level else ""
            module = ".".join(part for part in (base, node.module) if part)
            found += [f"{module}.{alias.name}" for alias in node.names]
    return found


def rooms_imported(name: str) -> set[str]:
    """The rooms of this package that a file imports from."""
    return {full.split(".")[1] for full in imported(name) if full.startswith("course_lib.")}


def public(tree: ast.Module) -> list[tuple[str, ast.AST]]:
    """The public classes, functions and methods of a module, as (name, node)."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    tops = [node for node in tree.body if isinstance(node, kinds) and not node.name.startswith("_")]
    inner = [
        (f"{top.name}.{node.name}", node)
        for top in tops
        if isinstance(top, ast.ClassDef)
        for node in top.body
        if isinstance(node, kinds) and not node.name.startswith("_")
    ]
    return [(top.name, top) for top in tops] + inner


@pytest.mark.parametrize("name", [n for n in NAMES if n != "__init__.py"])
def test_imports_go_downward(name):
    """Each room is on the plan, and takes only from itself and from the rooms before it."""
    room = room_of(name)
    assert room in FLOOR, f"{room} is on no floor. Give it a place in ROOMS."
    upward = {other for other in rooms_imported(name) if FLOOR[other] > FLOOR[room]}
    assert not upward, f"{name} imports upward from {upward}"


@pytest.mark.parametrize("library", DOORS)
def test_heavy_libraries_have_one_door(library):
    """Only the named modules import the library."""
    users = {name for name in NAMES if any(full.split(".")[0] == library for full in imported(name))}
    assert users <= DOORS[library]


@pytest.mark.parametrize("name", NAMES)
def test_public_things_explain_themselves(name):
    """Modules, classes, functions and methods without a leading underscore have a docstring."""
    bare = [what for what, node in public(TREES[name]) if not ast.get_docstring(node)]
    assert ast.get_docstring(TREES[name]) or not TREES[name].body, f"{name} has no docstring"
    assert not bare, f"no docstring: {bare}"


@pytest.mark.parametrize("name", NAMES)
def test_sizes_stay_readable(name):
    """No function body and no module grows past what can be read in one go (house rule)."""
    stem = Path(name).stem
    lines = MODULES[NAMES.index(name)].read_text(encoding="utf-8").count("\n")
    assert lines <= MOST_MODULE_LINES or stem in LONG
    functions = [node for node in ast.walk(TREES[name]) if isinstance(node, ast.FunctionDef)]
    long = {f"{stem}.{node.name}" for node in functions if body_lines(node) > MOST_BODY_LINES}
    assert long <= LONG, f"too long: {long - LONG}"


def body_lines(function: ast.FunctionDef) -> int:
    """Lines of a function's body, its docstring not counted."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def project_files() -> list[Path]:
    """The files of the project: those that git knows, or in a copy without git, all that are not built."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=TOP, capture_output=True, text=True)
    names = listed.stdout.split("\0") if listed.returncode == 0 else []
    found = [TOP / name for name in names if name] or [p for p in TOP.rglob("*") if ".venv" not in p.parts]
    return [path for path in found if path.is_file() and path.suffix != ".png"]


def test_no_path_of_a_machine():
    """Nothing in the project depends on, or tells about, the machine it was written on."""
    pattern = re.compile(r"(?<![\w.])/(?:work|root|home|Users)/\w|/tmp/\w+\.\w+")
    guilty = [
        f"{path.relative_to(TOP)}: {found.group()}"
        for path in project_files()
        if (found := pattern.search(path.read_text(encoding="utf-8")))
    ]
    assert not guilty


def test_top_level_holds_only_what_it_should():
    """The top level of the project is a table of contents; a new entry is a decision."""
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "notebooks",
        "course_lib",
        "tests",
        "datasets",
        "solutions",
    }
    entries = {path.relative_to(TOP).parts[0] for path in project_files()}
    assert {entry for entry in entries if not entry.startswith(".")} <= allowed
