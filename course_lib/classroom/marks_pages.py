"""A page for each learner, and one that lists them: plain HTML that reads well printed, without a script or a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from course_lib.assessment.rubric.mark_sheet import TITLES
from course_lib.classroom.check_cells import WHOLE
from course_lib.classroom.class_marks import LearnerMarks, Row

_PASSED = "Sound."


def write_pages(results: Sequence[LearnerMarks], folder: Path) -> None:
    """Write index.html and a page for each learner."""
    folder.mkdir(parents=True, exist_ok=True)
    pages = {_file_name(number, one): one for number, one in enumerate(results, start=1)}
    texts = {name: page_of(one) for name, one in pages.items()}
    texts["index.html"] = _TEMPLATES.get_template("index.html").render(pages=pages)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


def page_of(one: LearnerMarks) -> str:
    """A learner's page: for each case, what was marked, the points, and the reason in one sentence."""
    return _TEMPLATES.get_template("learner.html").render(one=one)


def _heading(row: Row) -> str:
    """What was marked, in words."""
    name = row["check"].partition("/")[2]
    return TITLES.get(name, "Whole record" if name == WHOLE else name)


def _reason(row: Row) -> str:
    """The sentence without the name of the kind of failure before it."""
    return re.sub(r"^\w+: ", "", row["said"]) or _PASSED


def _work(row: Row) -> str:
    """What was done on a case."""
    if not row["minutes"]:
        return row["remark"] or "nothing handed in"
    sure = f", {row['sureness']}" if row["sureness"] else ""
    tries = "once" if row["attempts"] == "1" else f"{row['attempts']} times"
    return f"{row['minutes']} minutes of inspections, handed in {tries}{sure}"


def _file_name(number: int, one: LearnerMarks) -> str:
    slug = re.sub(r"[^a-z0-9]+", "-", one.name.casefold()).strip("-")[:40].strip("-")
    return f"{number:03d}-{slug}".rstrip("-") + ".html"


_TEMPLATES = Environment(
    loader=PackageLoader("course_lib.classroom", "pages"),
    autoescape=True,  # names and words are a stranger's
    undefined=StrictUndefined,
    trim_blocks=True,
    keep_trailing_newline=True,
)
_TEMPLATES.filters |= {"heading": _heading, "points": "{:g}".format, "reason": _reason, "work": _work}
