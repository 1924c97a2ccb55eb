"""One word for one thing: what a learner reads says it in the words of `words.toml`, and in no other."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import msgspec
import pytest

from course_lib import load_case, load_key
from course_lib.cases.case import findings_in
from course_lib.shop.interview import TALK

ROOT = Path(__file__).parents[1]
CODE = ROOT / "course_lib"
TABLE = tomllib.loads((Path(__file__).parent / "words.toml").read_text())
# Owners, bills, neighbors and an apprentice in haste speak as they like.
OWNERS, THEIRS = ("people.toml", "facts.toml"), ("told", "history", "complaint", "belief", "says", "since")
QUOTED = re.compile('\u201c[^\u201d]*\u201d|"[^"\\n]*"')
NAMES = re.compile(r"[\w@*{}.:/-]*[_@][\w@*{}.:/-]*")  # ids, keys and file names
# Why a value of a unit is what it is, which unit it is, words of a closed list, and what points to another entry.
UNREAD = ("reason", "origin", "unit", "name", "id", "kind", "drives", "seat", "stays", "owns", "look")


def of_data() -> Iterator[tuple[str, str]]:
    """Every text of the data files."""
    for path in sorted((ROOT / "datasets").rglob("*.toml")):
        if path.name not in OWNERS:
            yield from _told(str(path.relative_to(ROOT)), tomllib.loads(path.read_text()))


def _told(place: str, value: object) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, each in value.items():
            if key not in (*THEIRS, *UNREAD) and not key.startswith("says_"):
                yield from _told(place, each)
    elif isinstance(value, list):
        for each in value:
            yield from _told(place, each)
    elif isinstance(value, str):
        yield place, QUOTED.sub(" ", value)


def of_code() -> Iterator[tuple[str, str]]:
    """Every sentence in the code that is no docstring, and every string of a page's script."""
    for path in sorted(CODE.rglob("*.py")):
        tree = ast.parse(path.read_text())
        docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
                if " " in node.value or re.fullmatch("[A-Z][a-z]+", node.value):
                    yield f"{path.relative_to(ROOT)}:{node.lineno}", node.value
    for path in sorted(CODE.rglob("*.js")):
        for text in re.findall(r"""//.*|/\*[^/]*\*/|"([^"\n]*)"|'[^'\n]*'|`([^`]*)`""", path.read_text()):
            if " " in "".join(text):
                yield str(path.relative_to(ROOT)), "".join(text)


def of_notebooks() -> Iterator[tuple[str, str]]:
    """Every cell of the masters, and what they print."""
    for path in sorted((ROOT / "solutions").glob("*.ipynb")):
        for cell in json.loads(path.read_text())["cells"]:
            place = f"{path.relative_to(ROOT)}:{cell['id']}"
            source = "".join(cell["source"])
            yield place, source if cell["cell_type"] == "code" else QUOTED.sub(" ", source)
            for output in cell.get("outputs", ()):
                yield from _printed(place, output)


def _printed(place: str, output: dict) -> Iterator[tuple[str, str]]:
    yield place, "".join(output.get("text", ()))
    for kind, text in output.get("data", {}).items():
        if kind.startswith("text/"):
            yield place, QUOTED.sub(" ", re.sub(r"<[^>]*>", " ", "".join(text)))


def of_cases() -> Iterator[tuple[str, str]]:
    """Work orders, findings and keys of the cases that come with the course."""
    for path in sorted((ROOT / "datasets" / "cases").glob("*.json")):
        case, place = load_case(path), f"datasets/cases/{path.name}"
        yield from _told(place, msgspec.to_builtins(case.work_order))
        for finding in findings_in(case).values():
            yield from _told(place, [finding.title, *(finding.words if finding.inspection != TALK else ())])
            yield from _told(place, [text for r in finding.readings for text in (r.label, r.note)])
            yield from _told(place, [look.text for look in finding.looks if not look.key.startswith("says_")])
        key = load_key(path.stem)
        yield from _told(f"datasets/keys/{path.stem}.key", msgspec.to_builtins(key))


@cache
def texts() -> tuple[tuple[str, str], ...]:
    """Everything that a learner reads, each with its place."""
    sources = (of_data, of_code, of_notebooks, of_cases)
    return tuple((place, NAMES.sub(" ", text)) for source in sources for place, text in source())


def found(entry: dict) -> list[str]:
    """Where a text has one of the other words of an entry, outside what is excepted."""
    word = re.compile(rf"\b(?:{'|'.join(entry['not'])})\b", re.IGNORECASE)
    spared = re.compile("|".join(each["where"] for each in entry.get("except", ())) or r"(?!)", re.IGNORECASE)
    hits = []
    for place, text in texts():
        rest = spared.sub(lambda m: "\u2026" * len(m.group()), text)
        hits += [f"{place}: {rest[max(0, m.start() - 60) : m.end() + 40]!r}" for m in word.finditer(rest)]
    return hits


@pytest.mark.parametrize("entry", TABLE["words"], ids=lambda entry: entry["use"])
def test_a_thing_is_called_by_its_one_word(entry):
    """No text has another word for it."""
    hits = found(entry)
    assert not hits, f"say {entry['use']!r} ({entry['why']}):\n" + "\n".join(hits)
