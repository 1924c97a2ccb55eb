"""How much of a room its tests hold: ``python -m tests.mutants physics --sample 150 --seed 1``.

A mutant is the code with one small thing wrong: an operator, a comparison, a constant, a term left out, arguments swapped. Each
is written into a scratch copy of the checkout, and the room's tests run on it until one fails, those that noticed a mutant before
first. None of them needs a population, which every mutant would have to live anew. A mutant runs in a process forked from this
one, which has read the libraries once for all of them, and meets only those files of tests that call the function it is in.
General mutation testers were passed over for two reasons: they put a wrapper around each function, which the rules of `physics`
refuse, and count mutants that only raise a TypeError.

The score is the share of a seeded sample that is noticed, with its interval; what was not noticed is printed, line by line.
`--again FILE`, a file with such lines, tries those once more, wherever they stand by now. Leave a room as it is while it is
mutated: mutants are read from the checkout as they come up.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from importlib import import_module
from importlib.util import cache_from_source
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from time import monotonic
from types import CodeType
from typing import NamedTuple

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy: a process that is forked must have no threads
READ_ONCE = (
    "scipy.optimize",
    "scipy.integrate",
    "pandas",
    "matplotlib.pyplot",
    "msgspec",
    "nbformat",
    "jupyter_client",
    "jsonschema",
    "hypothesis",
    "pytest_benchmark.plugin",
)
for _name in READ_ONCE:
    import_module(_name)

import pytest  # noqa: E402
from scipy.stats import binomtest  # noqa: E402

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
MOST_MEMORY = 6 * 2**30  # bytes; a mutant that asks for more is noticed
FORK = get_context("fork")
PYTEST = (
    "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb=no", "--hypothesis-seed=1",
    "-W", "ignore::pytest.PytestAssertRewriteWarning",  # what is read once cannot be rewritten
)  # fmt: skip
PATIENCE, LEAST = (
    5.0,
    20.0,
)  # times the seconds a test takes on sound code, and seconds: a mutant that works on longer is noticed

PHYSICS = (
    "physics_hydraulics",
    "physics_drive",
    "physics_gearset",
    "reference_checks",
    "physics_contract",
    "physics_applying",
    "physics_electric",
    "physics_handover",
)
WORDS = (
    "shop::test_a_larger_number_never_gets_a_milder_word",
    "shop::test_every_inspection_has_a_method_and_a_caution",
    "shop::test_a_reading_is_judged_as_it_is_shown",
    "shop::test_a_sentence_is_a_sentence",
)
ROOMS = {
    "physics": (*PHYSICS, "workings", "plant", "unit_spec", "trade_facts", "slipping"),
    "vehicle": (
        "electronic_control",
        "codes",
        "shifts_in_time",
        "felt",
        "wear",
        "workings",
        "plant",
        "unit_spec",
        "slipping",
        "sump",
        "trade_facts",
        "life",
        "shop_rules",
        "shop_evidence",
        "shop_driven",
        "shop_electric",
        "electronic_lives",
    ),
    "marking": ("marking", "check_cells", "editions", "bench_model", "course"),
    "rubric": ("rubric_rules", "rubric", "check_cells", "course"),
    "shop": (
        "shop_laws",
        "shop_electric",
        *WORDS,
        "shop_order",
        "shop_rules",
        "shop_evidence",
        "shop_driven",
        "trade_facts",
        "shop_batch",
    ),
}
"""Room -> its tests, quick ones first: files, or single tests of a file of which others need a population."""

LEFT_OUT = (
    "tests/test_life.py::test_lives_end_where_scipy_ends_them",
    "tests/test_life.py::test_those_lives_are_not_all_alike",
    "tests/test_shop_batch.py::test_a_finding_is_its_row_in_words",
)
"""Tests that take longer than all others of their room together."""

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
ALIKE = dict.fromkeys(
    ("isinstance", "getattr", "setattr", "hasattr", "isclose", "zip")
)  # swapped: only a TypeError, or no change


class Mutant(NamedTuple):
    """One small thing wrong: file, the function it is in ("" for none), place of the node in the order of `ast.walk`, which
    change of that node, and how it reads."""

    path: Path
    function: str
    node: int
    change: int
    line: int
    reads: str


# ---------------------------------------------------------------------- making them
def mutants_of(path: Path) -> Iterator[Mutant]:
    """Every mutant of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out, inside = _left_out(tree), dict(_functions(tree))
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in left_out:
            continue
        for change, new in enumerate(changes_of(node)):
            before, after = ast.unparse(node), ast.unparse(ast.fix_missing_locations(new))
            if before != after:
                yield Mutant(
                    path, inside.get(id(node), ""), place, change, node.lineno, f"{before}  ->  {after}"
                )


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
    in_order = name not in NAMES | ALIKE and not any(isinstance(each, ast.Starred) for each in node.args)
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


def _functions(tree: ast.Module | ast.ClassDef, within: str = "") -> Iterator[tuple[int, str]]:
    """Each node in the body of a function, with the name of that function; what runs as the file is read is not among them."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            yield from _functions(node, f"{within}{node.name}.")
        elif isinstance(node, ast.FunctionDef):
            yield from ((id(each), within + node.name) for line in node.body for each in ast.walk(line))


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
class Order:
    """A plugin of pytest: tests that noticed a mutant before go first; it keeps the name of the first test that fails."""

    def __init__(self, noticed_by: Counter[str], seconds: dict[str, float] | None):
        self.noticed_by, self.failed, self.limits = noticed_by, "", seconds
        self.seconds: dict[str, float] = {}
        self.codes: dict[int, CodeType] = {}

    def listen(self, frame, event, _):
        """What `sys.setprofile` asks for: keeps every function that is called."""
        if event == "call":
            self.codes[id(frame.f_code)] = frame.f_code

    def called(self) -> set[tuple[str, str]]:
        """File and name of the functions of the library that were called."""
        return {
            (Path(code.co_filename).name, code.co_qualname.partition(".<locals>")[0])
            for code in self.codes.values()
            if "/course_lib/" in code.co_filename
        }

    def pytest_collection_modifyitems(self, items):
        items.sort(key=lambda item: -self.noticed_by[item.nodeid])

    def pytest_runtest_logstart(self, nodeid):
        """Seconds of work, not of the clock: on a busy machine no mutant is noticed for that. The signal ends the process."""
        if self.limits is not None:
            signal.setitimer(signal.ITIMER_PROF, LEAST + PATIENCE * self.limits.get(nodeid, 0.0))

    def pytest_runtest_logreport(self, report):
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_collectreport(self, report):
        if report.failed:
            self.failed = self.failed or f"{report.nodeid} cannot be read"


class Running(NamedTuple):
    """A mutant at work: its process, what it says at the end, its copy of the checkout, the sound text of its file."""

    process: BaseProcess
    says: Connection
    place: Path
    mutant: Mutant | None
    sound: str


def files_of(room: str) -> list[Path]:
    """The files of a room, one module or a folder of them."""
    return sorted({*TOP.glob(f"course_lib/**/{room}.py"), *TOP.glob(f"course_lib/**/{room}/*.py")})


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


def begin(
    place: Path,
    tests: list[list[str]],
    mutant: Mutant | None,
    noticed_by: Counter[str],
    seconds: dict[str, float] | None,
) -> Running:
    """The tests begun in a copy of the checkout, in a process that has read everything but the checkout already."""
    sound = ""
    if mutant:
        file = place / mutant.path.relative_to(TOP)
        sound = file.read_text(encoding="utf-8")
        file.write_text(mutated(mutant), encoding="utf-8")
        Path(cache_from_source(str(file))).unlink(missing_ok=True)
    hears, says = FORK.Pipe(duplex=False)
    process = FORK.Process(target=_test, args=(place, tests, Order(noticed_by, seconds), says))
    process.start()
    says.close()
    return Running(process, hears, place, mutant, sound)


def _test(place: Path, tests: list[list[str]], order: Order, says: Connection) -> None:
    """In a process of its own: run tests, file by file, until one fails; say which, and on sound code what they call."""
    sys.path[:] = [str(place), *(each for each in sys.path if Path(each or ".").resolve() != TOP)]
    for name in [each for each in sys.modules if each.partition(".")[0] in ("tests", "course_lib")]:
        del sys.modules[name]
    os.chdir(place)
    os.environ["PYTHONPATH"] = str(place)
    sound = order.limits is None
    sys.dont_write_bytecode = not sound
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(nowhere, stream)
    if sound:
        sys.setprofile(order.listen)
    else:
        signal.setitimer(signal.ITIMER_PROF, LEAST)
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    left_out, said = [f"--deselect={each}" for each in LEFT_OUT], ""
    for each in tests:
        code = pytest.main([*PYTEST, *each, *left_out], plugins=[order])
        if code:
            said = order.failed or f"pytest ended with {code!r}"
            break
    sys.setprofile(None)
    says.send((said, order.called(), order.seconds))


def ended(running: Running) -> tuple[str, set[tuple[str, str]], dict[str, float]] | None:
    """What noticed a mutant, "" where nothing did, what was called, and seconds a test; None while it is not known."""
    if not running.says.poll():
        return None
    try:
        said = running.says.recv()
    except EOFError:
        said = "it did not come to an end", set(), {}
    running.process.join(5)
    if running.process.is_alive():
        running.process.kill()
        running.process.join()
    if running.mutant:
        (running.place / running.mutant.path.relative_to(TOP)).write_text(running.sound, encoding="utf-8")
    return said


class Tested(NamedTuple):
    """Tests of one file: what they call, and how many seconds each takes on sound code while that is listened to."""

    tests: list[str]
    called: set[tuple[str, str]]
    seconds: dict[str, float]

    def yields(self, noticed_by: Counter[str]) -> float:
        """How many mutants it has noticed a second, one more counted so that each has its turn."""
        return (1 + sum(noticed_by[test] for test in self.seconds)) / (1.0 + sum(self.seconds.values()))


def on_sound_code(place: Path, room: str) -> list[Tested]:
    """The tests of a room, file by file. Raises RuntimeError where one fails without a mutant."""
    files: dict[str, list[str]] = {}
    for file, colons, test in (name.partition("::") for name in ROOMS[room]):
        files.setdefault(file, []).append(f"tests/test_{file}.py{colons}{test}")
    found = []
    for tests in files.values():
        running = begin(place, [tests], None, Counter(), None)
        while (said := ended(running)) is None:
            wait([running.says], timeout=1.0)
        if said[0]:
            raise RuntimeError(
                f"tests must pass on the sound code before it is mutated, got {said[0]}. Mend that first."
            )
        found.append(Tested(tests, *said[1:]))
    return found


def results(drawn: list[Mutant], files: list[Tested], places: list[Path]) -> Iterator[tuple[Mutant, str]]:
    """Every mutant with what noticed it, as they end; as many at a time as there are copies."""
    noticed_by: Counter[str] = Counter()
    waiting, free, at_work = list(reversed(drawn)), list(places), []
    while waiting or at_work:
        while waiting and free:
            mutant = waiting.pop()
            met = [
                each
                for each in files
                if not mutant.function or (mutant.path.name, mutant.function) in each.called
            ]
            if met:
                met.sort(key=lambda each: -each.yields(noticed_by))
                tests = [each.tests for each in met]
                seconds = {test: s for each in met for test, s in each.seconds.items()}
                at_work.append(begin(free.pop(), tests, mutant, noticed_by, seconds))
            else:
                yield mutant, ""
        wait([running.says for running in at_work], timeout=1.0)
        for running in list(at_work):
            said = ended(running)
            if said is not None:
                noticed_by[said[0]] += 1
                at_work.remove(running)
                free.append(running.place)
                yield running.mutant, said[0]


def not_noticed_in(output: str, every: list[Mutant]) -> list[Mutant]:
    """The mutants that an earlier output says were not noticed: those that read the same, nearest to where they stood."""
    found = []
    for line in output.splitlines():
        _, said, where = line.partition("not noticed: ")
        if said:
            name, at, reads = where.split(":", 2)
            same = [m for m in every if (str(m.path.relative_to(TOP)), m.reads) == (name, reads.strip())]
            found += sorted(same, key=lambda mutant: abs(mutant.line - int(at)))[:1]
    return found


def main(arguments: list[str] | None = None) -> int:
    """Draw a sample of a room's mutants, run the tests on each, and say how many were noticed."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("room", choices=sorted(ROOMS))
    parser.add_argument("--sample", type=int, default=150, help="mutants drawn (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="of the draw (default: %(default)s)")
    parser.add_argument("--jobs", type=int, default=1, help="copies at a time (default: %(default)s)")
    parser.add_argument("--again", type=Path, help="an earlier output: only what was not noticed then")
    parser.add_argument("--by", action="store_true", help="print what noticed each mutant, too")
    given = parser.parse_args(arguments)
    every = [mutant for path in files_of(given.room) for mutant in mutants_of(path)]
    drawn = random.Random(given.seed).sample(every, min(given.sample, len(every)))
    if given.again:
        drawn = not_noticed_in(given.again.read_text(encoding="utf-8"), every)
    begun, survived = monotonic(), 0
    with tempfile.TemporaryDirectory(prefix="mutants-") as top:
        places = [scratch_copy(Path(top) / f"copy{number}", given.room) for number in range(given.jobs)]
        files, *_ = [on_sound_code(place, given.room) for place in places]
        print(f"{given.room}: {len(every)} mutants, {len(drawn)} drawn with seed {given.seed}.", flush=True)
        for mutant, said in results(drawn, files, places):
            survived += not said
            if given.by or not said:
                where = f"{mutant.path.relative_to(TOP)}:{mutant.line}: {mutant.reads}"
                print(f"  noticed by {said}: {where}" if said else f"  not noticed: {where}", flush=True)
    killed = len(drawn) - survived
    low, high = binomtest(killed, len(drawn)).proportion_ci(method="wilson")
    print(
        f"{given.room}: {killed} of {len(drawn)} noticed, {killed / len(drawn):.1%} "
        f"({low:.1%} to {high:.1%}), in {monotonic() - begun:.0f} s."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
