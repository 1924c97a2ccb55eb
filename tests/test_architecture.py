"""The shape of the house: imports go downward, heavy libraries have one door, public things say what they are."""

import ast
import re
import subprocess
from pathlib import Path

import pytest
from structure import (
    MOST_BODY_LINES,
    MOST_COMPLEXITY,
    MOST_MODULE_LINES,
    ROOMS,
    TOP,
    body_lines,
    circles,
    complexities,
    functions,
    imports,
    module_arrows,
    read_library,
    room_arrows,
)

PAGES = {
    f"bench.{name}"
    for name in ("sheet_page", "bench_view", "units_view", "worked_view", "items_view", "bay_view")
}
DOORS = {
    "matplotlib": {"plots.drawing", "plots.picture"},
    "ipywidgets": PAGES,
    "anywidget": PAGES,
    "traitlets": PAGES,
}
LIBRARY = read_library()


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


@pytest.mark.parametrize("room", sorted(room_arrows(LIBRARY)))
def test_imports_go_downward(room):
    """Each room is on the plan, and takes only from the rooms before it, for types as well."""
    assert room in ROOMS, f"{room} is on no floor. Give it a place in ROOMS."
    upward = room_arrows(LIBRARY)[room] - set(ROOMS[: ROOMS.index(room)])
    assert not upward, f"{room} imports upward from {upward}"


def test_no_module_imports_itself_by_a_detour():
    """No module needs one that needs it, for types either."""
    assert not circles(module_arrows(LIBRARY))


@pytest.mark.parametrize("library", DOORS)
def test_heavy_libraries_have_one_door(library):
    """Only the named modules import the library."""
    users = {
        name for name, module in LIBRARY.items() if library in {i.name.split(".")[0] for i in imports(module)}
    }
    assert users <= DOORS[library]


@pytest.mark.parametrize("module", LIBRARY.values(), ids=lambda module: module.name)
def test_public_things_explain_themselves(module):
    """Modules, classes, functions and methods without a leading underscore have a docstring."""
    bare = [what for what, node in public(module.tree) if not ast.get_docstring(node)]
    assert ast.get_docstring(module.tree) or not module.tree.body, f"{module.name} has no docstring"
    assert not bare, f"no docstring: {bare}"


@pytest.mark.parametrize("module", LIBRARY.values(), ids=lambda module: module.name)
def test_sizes_stay_readable(module):
    """No function body and no module grows past what can be read in one go (house rule)."""
    assert module.lines <= MOST_MODULE_LINES
    long = [name for name, function in functions(module) if body_lines(function) > MOST_BODY_LINES]
    assert not long, f"too long: {long}"


def test_no_function_branches_too_often():
    """Cyclomatic complexity (McCabe) of every function."""
    assert not {name: count for name, count in complexities().items() if count > MOST_COMPLEXITY}


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
