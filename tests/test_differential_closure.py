"""Kept lives and cases go stale with whatever made them: code that is reached, data that it names, libraries it imports."""

import ast
import re
import shutil
from importlib import metadata

import numpy as np
import pytest
from structure import PACKAGE, TOP, imports, read_library

from course_lib.base.data_files import data_folder
from course_lib.diagnosis import fingerprints as room
from course_lib.diagnosis.fingerprints import data_named, fingerprint, import_closure

LIVES, CASES = "course_lib.diagnosis.lived_populations", "course_lib.cases.make"
POPULATION_NEEDS = (
    "base/constants.py",
    "base/guards.py",
    "base/data_files.py",
    "base/units.py",
    "physics/pump.py",
    "shop/gauges.py",
    "faults/scenario.py",
)


LIBRARY = read_library()
FILES = {module.path.relative_to(TOP / PACKAGE).as_posix(): module for module in LIBRARY.values()}


def names(module, package=TOP / PACKAGE):
    """Files of a closure, below the package."""
    return {path.relative_to(package).as_posix() for path in import_closure(module, package)}


def by_the_tree(module):
    """The same closure, from the parsed source of `structure`."""
    found, ahead = set(), [module]
    while ahead:
        parts = ahead.pop().split(".")[1:]
        files = {"/".join((*parts[:depth], "__init__.py")) for depth in range(len(parts) + 1)} | {
            "/".join(parts) + ".py"
        }
        for name in (files & FILES.keys()) - found:
            found.add(name)
            full = [each.name for each in imports(FILES[name]) if each.name.split(".")[0] == PACKAGE]
            ahead += [*full, *(name.rpartition(".")[0] for name in full)]
    return found


@pytest.mark.parametrize(
    "module", [LIVES, CASES, "course_lib.bench.bench_view", "course_lib.authoring.case_recipes"]
)
def test_the_closure_is_that_of_the_parsed_source(module):
    """Imports in brackets, in functions, relative ones and names that are modules: none is missed, none is made up."""
    assert names(module) == by_the_tree(module)


def test_what_lives_depend_on_is_in_and_what_they_do_not_is_out():
    """What a list kept by hand once missed is there; pages, marking and the class room are not."""
    assert set(POPULATION_NEEDS) < names(LIVES) < names(CASES)
    assert not {
        name
        for name in names(CASES)
        if name.split("/")[0] in ("bench", "classroom", "lessons", "plots", "assessment")
    }


def test_data_follow_the_code_that_reads_them():
    """Every unit, cause and word; for a case its links and people as well; no glossary and no lesson."""
    top = data_folder()
    lived, dressed = (
        {path.relative_to(top).as_posix() for path in data_named(import_closure(each), top)}
        for each in (LIVES, CASES)
    )
    assert {
        "units/T3.toml",
        "units/T4.toml",
        "causes.toml",
        "parts.toml",
        "objects.toml",
        "uses.toml",
        "words.toml",
    } < lived
    assert dressed > lived | {"people.toml", "record/links.toml", "record/repairs.toml"}
    assert not dressed & {"glossary.toml", "course.toml", "misconceptions.toml"}


def test_every_data_file_is_named_where_it_is_read():
    """A name put together elsewhere would not be seen: each call names its file or folder in a text of its own."""
    for path in sorted((TOP / PACKAGE).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        calls = (
            text.count("read_data(")
            - text.count("def read_data(")
            - (path.stem == "closure") * text.count("read_data(")
        )
        assert calls == 0 or calls == len(room._READ.findall(text)), path


@pytest.fixture
def copy(tmp_path):
    """A copy of package and data, and a function that gives the fingerprint of a module in it."""
    shutil.copytree(
        TOP / PACKAGE, tmp_path / "course_lib", ignore=shutil.ignore_patterns("__pycache__", "*.js", "*.css")
    )
    shutil.copytree(data_folder(), tmp_path / "datasets")

    def of(module):
        room._fingerprint.cache_clear()
        return room._fingerprint(module, tmp_path / "course_lib", tmp_path / "datasets")

    yield tmp_path, of
    room._fingerprint.cache_clear()


@pytest.mark.parametrize(
    "file, lives, cases",
    [
        ("course_lib/base/constants.py", True, True),
        ("course_lib/base/guards.py", True, True),
        ("course_lib/shop/__init__.py", True, True),
        ("course_lib/diagnosis/evidence_weight.py", False, True),
        ("course_lib/assessment/marking.py", False, False),
        ("course_lib/plots/drawing.py", False, False),
        ("datasets/units/T4.toml", True, True),
        ("datasets/record/links.toml", False, True),
        ("datasets/glossary.toml", False, False),
        ("datasets/cases/K05-2.json", False, False),
    ],
)
def test_a_changed_file_makes_stale_what_it_made(copy, file, lives, cases):
    """In the closure it does, outside it does not."""
    top, of = copy
    before = of(LIVES), of(CASES)
    path = top / file
    path.write_bytes(path.read_bytes() + b"\n")
    assert (of(LIVES) != before[0], of(CASES) != before[1]) == (lives, cases)


def test_a_new_unit_or_module_makes_them_stale(copy):
    """A unit that was not there; a module that is imported from now on."""
    top, of = copy
    before = of(LIVES)
    shutil.copy(top / "datasets/units/T4.toml", top / "datasets/units/T9.toml")
    with_unit = of(LIVES)
    (top / "course_lib/physics/fresh.py").write_text("")
    assert before != with_unit == of(LIVES)
    pump = top / "course_lib/physics/pump.py"
    pump.write_text(pump.read_text(encoding="utf-8") + "\nfrom . import fresh\n", encoding="utf-8")
    with_module = of(LIVES)
    (top / "course_lib/physics/fresh.py").write_text("G = 1.62\n")
    assert len({before, with_unit, with_module, of(LIVES)}) == 4


def constants():
    """Every number that `base.constants` names: (name, as it is written)."""
    tree = ast.parse((TOP / PACKAGE / "base/constants.py").read_text(encoding="utf-8"))
    return [
        (each.targets[0].id, ast.unparse(each.value))
        for each in tree.body
        if isinstance(each, ast.Assign) and isinstance(each.targets[0], ast.Name)
    ]


def test_another_gravity_makes_them_stale(copy):
    """So does any other constant: each, and nothing else, is changed in a copy."""
    top, of = copy
    path = top / "course_lib/base/constants.py"
    text, before = path.read_text(encoding="utf-8"), (of(LIVES), of(CASES))
    names = [name for name, _ in constants()]
    assert len(names) >= 5 and any("GRAVITY" in name for name in names)
    for name in names:
        changed = re.sub(rf"^{name} = ", f"{name} = 1.62 + 0.0 * ", text, flags=re.M)
        assert changed != text
        path.write_text(changed, encoding="utf-8")
        assert not {of(LIVES), of(CASES)} & set(before), name
    path.write_text(text, encoding="utf-8")
    assert (of(LIVES), of(CASES)) == before


def test_whatever_is_reached_counts(copy):
    """Every eighth of all modules and data files, changed alone, gives another fingerprint."""
    top, of = copy
    package = top / "course_lib"
    code = import_closure(CASES, package)
    whole = sorted({*code, *data_named(code, top / "datasets")})[::8]
    found = {of(CASES)}
    for path in whole:
        text = path.read_bytes()
        path.write_bytes(text + b"\n# another\n")
        found.add(of(CASES))
        path.write_bytes(text)
    assert len(found) == len(whole) + 1


@pytest.mark.parametrize("module", [LIVES, CASES])
def test_another_library_makes_them_stale(monkeypatch, module):
    """Each that the code imports, numpy and, for the odds, scipy among them; one that it does not reach makes no difference."""
    before, reached = fingerprint(module), room.libraries(import_closure(module))
    assert {"numpy", "msgspec", *(["scipy"] if module == CASES else [])} <= set(reached)
    for other in (*reached, "pandas", "matplotlib"):
        room._fingerprint.cache_clear()
        monkeypatch.setattr(
            room, "version", lambda asked, other=other: "99.0" if asked == other else metadata.version(asked)
        )
        assert (fingerprint(module) != before) == (other in reached), other
    room._fingerprint.cache_clear()
    assert metadata.version("numpy") == np.__version__
