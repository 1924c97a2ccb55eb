"""A page for each learner, and one that lists them: plain HTML that reads well printed, without a script or a picture."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from course_lib.assessment.rubric.mark_sheet import TITLES
from course_lib.classroom.check_cells import WHOLE

if TYPE_CHECKING:
    from course_lib.classroom.class_marks import LearnerMarks

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
body {{ font: 1rem/1.5 system-ui, sans-serif; color: #1b1b1b; background: #fff }}
body {{ max-width: 60rem; margin: 2rem auto; padding: 0 1rem }}
table {{ border-collapse: collapse; margin: 1rem 0 }}
caption {{ text-align: left; font-weight: bold; padding: .3rem 0 }}
th, td {{ border-bottom: 1px solid #767676; padding: .3rem .8rem .3rem 0; text-align: left; vertical-align: top }}
td.number {{ text-align: right; white-space: nowrap }}
</style>
</head>
<body>
<h1>{title}</h1>
{body}
</body>
</html>
"""
_PASSED = "Sound."


def write_pages(results: Sequence[LearnerMarks], folder: Path) -> None:
    """Write index.html and a page for each learner."""
    folder.mkdir(parents=True, exist_ok=True)
    names = [
        f"{number:03d}-{_slug(one.name)}".rstrip("-") + ".html" for number, one in enumerate(results, start=1)
    ]
    for name, one in zip(names, results, strict=True):
        (folder / name).write_text(page_of(one), encoding="utf-8", newline="\n")
    (folder / "index.html").write_text(_index(results, names), encoding="utf-8", newline="\n")


def page_of(one: LearnerMarks) -> str:
    """A learner's page: for each case, what was marked, the points, and the reason in one sentence."""
    body = [f"<p>{one.earned:g} of {one.most:g} points.</p>"]
    for case in one.cases:
        body.append(
            _case_table(case, [row for row in one.rows if row["check"].startswith(f"{case['case']}/")])
        )
    body += _notes(one.notes)
    return _PAGE.format(title=escape(one.name), body="\n".join(body))


def _case_table(case: dict[str, str], rows: Sequence[dict[str, str]]) -> str:
    lines = [
        f'<tr><th scope="row">{escape(_title(row))}</th>'
        f'<td class="number">{escape(row["earned"])} of {escape(row["points"])}</td>'
        f"<td>{escape(_reason(row))}</td></tr>"
        for row in rows
    ]
    head = '<tr><th scope="col">Marked</th><th scope="col">Points</th><th scope="col">Why</th></tr>'
    caption = f"Case {escape(case['case'])}: {escape(_work(case))}"
    why = f"<p>In your words: {escape(rows[0]['why'])}</p>" if rows[0]["why"] else ""
    return f"<table><caption>{caption}</caption>{head}{''.join(lines)}</table>{why}"


def _title(row: dict[str, str]) -> str:
    """What was marked, in words."""
    name = row["check"].partition("/")[2]
    return TITLES.get(name, "Whole record" if name == WHOLE else name)


def _reason(row: dict[str, str]) -> str:
    """The sentence without the name of the kind of failure before it."""
    return re.sub(r"^\w+: ", "", row["said"]) or _PASSED


def _work(row: dict[str, str]) -> str:
    if not row["minutes"]:
        return row["remark"] or "nothing handed in"
    sure = f", {row['sureness']}" if row["sureness"] else ""
    tries = "once" if row["attempts"] == "1" else f"{row['attempts']} times"
    return f"{row['minutes']} minutes of inspections, handed in {tries}{sure}"


def _notes(notes: Iterable[str]) -> list[str]:
    lines = [f"<li>{escape(note)}</li>" for note in notes]
    return ["<h2>About what was handed in</h2>", "<ul>", *lines, "</ul>"] if lines else []


def _index(results: Sequence[LearnerMarks], names: Sequence[str]) -> str:
    head = '<tr><th scope="col">Learner</th><th scope="col">Points</th><th scope="col">Notes</th></tr>'
    rows = [
        f'<tr><th scope="row"><a href="{escape(name)}">{escape(one.name)}</a></th>'
        f'<td class="number">{one.earned:g} of {one.most:g}</td><td>{escape("; ".join(one.notes))}</td></tr>'
        for name, one in zip(names, results, strict=True)
    ]
    body = f"<table><caption>{len(results)} hand-ins</caption>{head}{''.join(rows)}</table>"
    return _PAGE.format(title="Marks of the class", body=body)


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40].strip("-")
