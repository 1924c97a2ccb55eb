"""How much of a room its tests hold: ``python -m tests.mutants physics --sample 150 --seed 1``.

A mutant is the code with one small thing wrong: an operator, a comparison, a constant, a term left out, arguments swapped. Each
is written into a scratch copy of the checkout, and the room's tests run on it, quick ones first, until one fails. None of them
needs a population, which every mutant would have to live anew. General mutation testers were passed over for two reasons: they
put a wrapper around each function, which the rules of `physics` refuse, and count mutants that only raise a TypeError.

The score is the share of a seeded sample that is noticed, with its interval; what was not noticed is printed, line by line.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue
from time import monotonic
from typing import NamedTuple

from scipy.stats import binomtest

TOP = Path(__file__).resolve().parent.parent
COPIED = (
    "course_lib",
    "datasets",
    "notebooks",
    "solutions",
    "tests",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
)
PATIENCE = 4.0  # times as long as the sound code takes; a mutant that runs longer is noticed

PHYSICS = (
    "physics_hydraulics",
    "physics_drive",
    "physics_gearset",
    "reference_checks",
    "physics_contract",
    "physics_applying",
)
WORDS = (
    "shop::test_a_larger_number_never_gets_a_milder_word",
    "shop::test_every_inspection_has_a_method_and_a_caution",
    "shop::test_a_reading_is_judged_as_it_is_shown",
    "shop::test_a_sentence_is_a_sentence",
)
ROOMS = {
    "physics": (*PHYSICS, "plant", "unit_spec", "trade_facts"),
    "transmission": (
        "plant",
        "unit_spec",
        "reference_checks",
        "trade_facts",
        "shop_rules",
        "shop_evidence",
        "life",
    ),
    "marking": ("marking", "check_cells", "editions", "bench_model", "course"),
    "rubric": ("rubric_rules", "rubric", "check_cells", "course"),
    "shop": (*WORDS, "shop_order", "shop_rules", "shop_evidence", "shop_batch", "trade_facts"),
}
"""Room -> its tests, quick ones first: files, or single tests of a file of which others need a population."""

COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
COMBINED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Div,
    ast.Mod: ast.FloorDiv, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
TURNED = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
NAMES = {"minimum": "maximum", "maximum": "minimum", "min": "max", "max": "min", "any": "all", "all": "any"}


class Mutant(NamedTuple):
    """One small thing wrong: file, place of the node in the order of `ast.walk`, which change of that node, and how it reads."""

    path: Path
    node: int
    change: int
    line: int
    reads: str


# ---------------------------------------------------------------------- making them
def mutants_of(path: Path) -> Iterator[Mutant]:
    """Every mutant of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = _left_out(tree)
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in left_out:
            continue
        for change, new in enumerate(changes_of(node)):
            before, after = ast.unparse(node), ast.unparse(ast.fix_missing_locations(new))
            if before != after:
                yield Mutant(path, place, change, node.lineno, f"{before}  ->  {after}")


def mutated(mutant: Mutant) -> str:
    """The text of the file with that one thing wrong."""
    tree = ast.parse(mutant.path.read_text(encoding="utf-8"))
    node = next(each for place, each in enumerate(ast.walk(tree)) if place == mutant.node)
    new = list(changes_of(node))[mutant.change]
    node.__class__ = new.__class__
    node.__dict__.clear()
    node.__dict__.update(new.__dict__)
    return ast.unparse(ast.fix_missing_locations(tree))


def changes_of(node: ast.AST) -> Iterator[ast.expr | ast.stmt]:
    """A node with one thing wrong, in every way that fits it."""
    if isinstance(node, ast.BinOp):
        if type(node.op) in COMBINED:
            yield _with(node, op=COMBINED[type(node.op)]())
        yield from (copy.deepcopy(side) for side in (node.left, node.right))
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        for table in (COMPARED, TURNED):
            if type(node.ops[0]) in table:
                yield _with(node, ops=[table[type(node.ops[0])]()])
    elif isinstance(node, ast.BoolOp):
        yield _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
        yield from (copy.deepcopy(value) for value in node.values)
    elif isinstance(node, ast.UnaryOp) and not isinstance(node.operand, ast.Constant):
        yield copy.deepcopy(node.operand)
    elif isinstance(node, ast.AugAssign) and type(node.op) in COMBINED:
        yield _with(node, op=COMBINED[type(node.op)]())
        yield ast.Pass(lineno=node.lineno, col_offset=node.col_offset)
    elif isinstance(node, ast.IfExp):
        yield from (copy.deepcopy(side) for side in (node.body, node.orelse))
    elif isinstance(node, ast.Constant):
        yield from (ast.Constant(value) for value in _other_constants(node.value))
    elif isinstance(node, ast.Call):
        yield from _other_calls(node)


def _other_constants(value: object) -> Iterator[object]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1
    elif isinstance(value, float):
        yield value * 1.2 if value else 0.1


def _other_calls(node: ast.Call) -> Iterator[ast.Call]:
    """Two arguments swapped, and the other end of a limit."""
    name = getattr(node.func, "attr", "") or getattr(node.func, "id", "")
    in_order = name not in NAMES and not any(isinstance(each, ast.Starred) for each in node.args)
    if in_order and len(node.args) > 1:
        for at in range(len(node.args) - 1):
            args = [*node.args[:at], node.args[at + 1], node.args[at], *node.args[at + 2 :]]
            yield _with(node, args=args)
    if name in NAMES:
        field = "attr" if isinstance(node.func, ast.Attribute) else "id"
        yield _with(node, func=_with(node.func, **{field: NAMES[name]}))


def _with(node: ast.AST, **fields) -> ast.AST:
    new = copy.deepcopy(node)
    for name, value in fields.items():
        setattr(new, name, copy.deepcopy(value))
    return new


def _left_out(tree: ast.Module) -> set[int]:
    """Nodes that say nothing of what the code does: annotations, how a class is laid out, words, types only."""
    found: set[int] = set()
    for node in ast.walk(tree):
        aside = [getattr(node, name, None) for name in ("annotation", "returns")]
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            aside += [*node.decorator_list, *getattr(node, "keywords", ())]
        if isinstance(node, ast.Raise | ast.JoinedStr):
            aside.append(node)
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING":
            aside.append(node)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "cast":
            aside.append(node)
        found |= {id(each) for one in aside if one is not None for each in ast.walk(one)}
    return found


# ---------------------------------------------------------------------- running them
def files_of(room: str) -> list[Path]:
    """The files of a room, one module or a folder of them."""
    return sorted([*TOP.glob(f"course_lib/{room}.py"), *TOP.glob(f"course_lib/{room}/*.py")])


def scratch_copy(place: Path, room: str) -> Path:
    """The checkout in a place of its own, the room's files written as a mutant's are, so that layout never decides."""
    for name in COPIED:
        source = TOP / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, place / name)
    for path in files_of(room):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        (place / path.relative_to(TOP)).write_text(ast.unparse(tree), encoding="utf-8")
    return place


def tested(place: Path, room: str, patience: float | None = None) -> str:
    """The line of the first test that fails in a copy of the checkout; "" where all pass."""
    named = [name.partition("::") for name in ROOMS[room]]
    tests = [f"tests/test_{file}.py{colons}{test}" for file, colons, test in named]
    command = [
        sys.executable,
        "-B",
        "-m",
        "pytest",
        "-x",
        "-q",
        "-n",
        "0",
        "-p",
        "no:cacheprovider",
        *tests,
    ]
    one_core = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")}
    try:
        done = subprocess.run(
            command, cwd=place, env=os.environ | one_core | {"PYTHONPATH": str(place)}, timeout=patience,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return "it did not come to an end"
    said = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return "" if done.returncode == 0 else (said or done.stdout.splitlines()[-1:] or ["it ended"])[0]


def noticed(mutant: Mutant, copies: SimpleQueue, room: str, patience: float) -> str:
    """What notices a mutant; "" where nothing does."""
    place = copies.get()
    file = place / mutant.path.relative_to(TOP)
    sound = file.read_text(encoding="utf-8")
    try:
        file.write_text(mutated(mutant), encoding="utf-8")
        return tested(place, room, patience)
    finally:
        file.write_text(sound, encoding="utf-8")
        copies.put(place)


def main(arguments: list[str] | None = None) -> int:
    """Draw a sample of a room's mutants, run the tests on each, and say how many were noticed."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("room", choices=sorted(ROOMS))
    parser.add_argument("--sample", type=int, default=150, help="mutants drawn (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="of the draw (default: %(default)s)")
    parser.add_argument("--jobs", type=int, default=2, help="copies at a time (default: %(default)s)")
    given = parser.parse_args(arguments)
    every = [mutant for path in files_of(given.room) for mutant in mutants_of(path)]
    drawn = random.Random(given.seed).sample(every, min(given.sample, len(every)))
    with tempfile.TemporaryDirectory(prefix="mutants-") as room:
        copies: SimpleQueue = SimpleQueue()
        for number in range(given.jobs):
            place = Path(room) / f"copy{number}"
            place.mkdir()
            copies.put(scratch_copy(place, given.room))
        patience = _time_of_sound_code(copies, given.room)
        print(f"{given.room}: {len(every)} mutants, {len(drawn)} drawn with seed {given.seed}.", flush=True)
        survived = 0
        with ThreadPoolExecutor(given.jobs) as pool:
            for mutant, said in zip(
                drawn, pool.map(lambda one: noticed(one, copies, given.room, patience), drawn), strict=True
            ):
                if not said:
                    survived += 1
                    print(
                        f"  not noticed: {mutant.path.relative_to(TOP)}:{mutant.line}: {mutant.reads}",
                        flush=True,
                    )
    share = binomtest(len(drawn) - survived, len(drawn)).proportion_ci(method="wilson")
    low, high = share
    print(
        f"{given.room}: {len(drawn) - survived} of {len(drawn)} noticed, {1 - survived / len(drawn):.0%} ({low:.0%} to {high:.0%})."
    )
    return 0


def _time_of_sound_code(copies: SimpleQueue, room: str) -> float:
    """Seconds to wait for a mutant. Raises RuntimeError where the tests fail without any."""
    place, begun = copies.get(), monotonic()
    said = tested(place, room)
    copies.put(place)
    if said:
        raise RuntimeError(
            f"tests must pass on the sound code before it is mutated, got {said}. Mend that first."
        )
    return PATIENCE * (monotonic() - begun)


if __name__ == "__main__":
    sys.exit(main())
