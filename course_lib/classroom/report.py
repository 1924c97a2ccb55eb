"""The class report: what the marks of a class say about the learners, and about the questions. Tables, each with one idea.

It reads the folder that `course mark` wrote. A table is a data frame whose column names are words for a reader.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from course_lib.assessment.rubric.mark_sheet import TITLES, TOP, WEIGHTS
from course_lib.base.data_files import data_folder
from course_lib.classroom import item_analysis
from course_lib.faults.causes import load_cause
from course_lib.lessons.misconceptions import misconception_behind, shared_misconceptions
from course_lib.plots.class_figures import class_economy, class_items, class_part_only
from course_lib.plots.picture import Picture

try:
    import pandas as pd
except ImportError:
    raise ImportError(
        "the class report must have pandas, got none. Install it with: .venv/bin/pip install -e '.[report]'"
    ) from None

DEMO = "demo"
PART_ONLY, SOLVED = "part only", "part and cause"
FEW_RECORDS = 10  # below it a share says little (common practice, no source)


@dataclass(frozen=True, slots=True)
class ClassMarks:
    """The marks of a class as they were written: a row for each learner and case, and the notes on the hand-ins."""

    cases: pd.DataFrame
    notes: pd.DataFrame

    @property
    def handed_in(self) -> pd.DataFrame:
        """The rows of the cases that were handed in and marked as a whole."""
        return self.cases[self.cases["outcome"] != ""]


def read_marks(folder: Path | str) -> ClassMarks:
    """The marks in a folder that `course mark` wrote; "demo" is a simulated class of thirty that comes with the course.

    Raises FileNotFoundError or ValueError with one line.
    """
    folder = data_folder() / "classroom" / DEMO if folder == DEMO else Path(folder)
    try:
        cases, notes = (
            pd.read_csv(folder / f"{name}.csv", dtype=str, keep_default_na=False)
            for name in ("cases", "notes")
        )
    except FileNotFoundError:
        raise FileNotFoundError(
            f"folder must be one that `course mark` wrote, got {folder}. Mark the class first."
        ) from None
    numbers = ["points", "earned", "minutes", "attempts", "ideal", "inspections", *WEIGHTS]
    missing = sorted({*numbers, "outcome", "first", "causes", "true"} - set(cases))
    if missing:
        raise ValueError(
            f"cases.csv must have a column {missing[0]}, got none in {folder}. Mark the class again."
        )
    cases[numbers] = cases[numbers].apply(pd.to_numeric, errors="coerce")
    return ClassMarks(cases[cases["points"] > 0], notes)  # a case that could not be marked counts nowhere


# ---------------------------------------------------------------------- the learners
def learners(marks: ClassMarks) -> pd.DataFrame:
    """One row for each learner, in the order of the list: points of all cases, cases solved, minutes beside the ideal."""
    solved = marks.cases.assign(solved=marks.cases["outcome"] == SOLVED)
    rows = solved.groupby("learner", sort=False)
    table = rows.agg(
        points=("earned", "sum"), of=("points", "sum"), solved=("solved", "sum"), cases=("case", "size")
    )
    notes = marks.notes.groupby("learner")["note"].size()
    table["times the ideal minutes"] = _economy(marks).groupby("learner")["ratio"].median().round(1)
    table["notes"] = notes.reindex(table.index, fill_value=0)
    return table


def _economy(marks: ClassMarks) -> pd.DataFrame:
    """The cases handed in, with their minutes as a multiple of the ideal ones."""
    rows = marks.handed_in
    return rows.assign(ratio=rows["minutes"] / rows["ideal"].where(rows["ideal"] > 0))


def economy(marks: ClassMarks) -> pd.DataFrame:
    """How much the class inspected: for solved and unsolved cases the median of minutes, inspections and times the ideal."""
    rows = _economy(marks)
    rows = rows.assign(case=np.where(rows["outcome"] == SOLVED, "solved", "not solved"))
    columns = {
        "minutes": "minutes",
        "ideal": "ideal minutes",
        "ratio": "times the ideal",
        "inspections": "inspections",
    }
    table = rows.groupby("case")[list(columns)].median().rename(columns=columns).round(1)
    table.insert(0, "records", rows.groupby("case").size())
    return table


# ---------------------------------------------------------------------- the questions
def scores(marks: ClassMarks) -> pd.DataFrame:
    """Learner x criterion: the share of the points earned, over the learner's cases; whoever handed in nothing is left out."""
    rows = marks.cases[marks.cases["learner"].isin(set(marks.handed_in["learner"]))]
    earned = rows.groupby("learner", sort=False)[list(WEIGHTS)].sum()
    return earned / (
        rows.groupby("learner", sort=False).size().to_numpy()[:, None] * np.array(list(WEIGHTS.values()))
    )


def solved(marks: ClassMarks) -> pd.DataFrame:
    """Learner x place, easiest case first: 1 where part and cause are right, else 0."""
    rows = marks.cases[marks.cases["learner"].isin(set(marks.handed_in["learner"]))]
    rows = rows.sort_values("ideal", kind="stable").assign(right=(rows["outcome"] == SOLVED).astype(float))
    rows = rows.assign(place=rows.groupby("learner").cumcount() + 1)
    return rows.pivot(index="learner", columns="place", values="right").dropna()


def items(marks: ClassMarks) -> pd.DataFrame:
    """How each criterion does as a question: share of the points, index D and its word, correlation with the rest."""
    table = scores(marks)
    index = item_analysis.discrimination(table)
    return pd.DataFrame(
        {
            "share of points": item_analysis.difficulty(table).round(2),
            "D": index.round(2),
            "tells apart": [item_analysis.in_words(value) for value in index],
            "correlation with the rest": item_analysis.item_rest(table).round(2),
        },
        index=pd.Index([TITLES[name] for name in table], name="criterion"),
    )


def trust(marks: ClassMarks) -> dict[str, item_analysis.Reliability]:
    """How far the sums can be trusted: of the criteria (alpha), and of cases solved or not (KR-20)."""
    return {
        "criteria (alpha)": item_analysis.reliability(scores(marks)),
        "cases solved (KR-20)": item_analysis.reliability(solved(marks)),
    }


# ---------------------------------------------------------------------- the thoughts
def wrong_causes(marks: ClassMarks) -> pd.DataFrame:
    """The wrong causes that were named, commonest first, each with the thought behind it and what is true."""
    rows = [
        (load_cause(named).label, *_said_and_truth(named, row.true))
        for row in marks.handed_in.itertuples()
        for named in _names(row.causes)
        if named not in _names(row.true)
    ]
    columns = ["cause named", "said", "in truth"]
    table = pd.DataFrame(rows, columns=columns)
    return table.value_counts(sort=True).rename("times").reset_index()[["times", *columns]]


def thoughts(marks: ClassMarks) -> pd.DataFrame:
    """The thoughts behind the wrong causes, commonest first, and how many learners held each."""
    rows = [
        (thought, row.learner)
        for row in marks.handed_in.itertuples()
        for named in _names(row.causes)
        if (thought := misconception_behind(named, _names(row.true)))
    ]
    table = (
        pd.DataFrame(rows, columns=["thought", "learner"])
        .groupby("thought")["learner"]
        .agg(["size", "nunique"])
    )
    table = table.rename(columns={"size": "times", "nunique": "learners"}).sort_values(
        "times", ascending=False, kind="stable"
    )
    table["said"] = [shared_misconceptions()[name].says for name in table.index]
    return table


def _names(text: str) -> list[str]:
    return [name for name in text.split("; ") if name]


def _said_and_truth(named: str, true: str) -> tuple[str, str]:
    """The thought behind a wrong cause, and what is true; both empty where none is known."""
    thought = shared_misconceptions().get(misconception_behind(named, _names(true)))
    return (thought.says, thought.truth) if thought else ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOnly:
    """The share of records that name the part and miss the cause: `before` and `after`, of so many records each."""

    before: float
    after: float
    records_before: int
    records_after: int

    def __str__(self) -> str:
        few = min(self.records_before, self.records_after)
        doubt = f" Only {few} records: the change may be chance." if few < FEW_RECORDS else ""
        before = f"{self.before:.0%} of {self.records_before} before"
        return f"Part only: {before}, {self.after:.0%} of {self.records_after} after.{doubt}"


def part_only(marks: ClassMarks, before: ClassMarks | None = None) -> PartOnly:
    """How often the part alone was right, before and after: an earlier set of the class, else the first hand-in of each record."""
    last = marks.handed_in["outcome"]
    first = marks.handed_in["first"] if before is None else before.handed_in["outcome"]
    return PartOnly(
        before=float((first == PART_ONLY).mean()) if len(first) else float("nan"),
        after=float((last == PART_ONLY).mean()) if len(last) else float("nan"),
        records_before=len(first),
        records_after=len(last),
    )


# ---------------------------------------------------------------------- figures
def picture_of_items(marks: ClassMarks) -> Picture:
    """How each criterion does, drawn."""
    table = items(marks)
    columns = (list(table[name]) for name in ("share of points", "D", "tells apart"))
    return class_items(list(table.index), *columns, verdict=True)


def picture_of_economy(marks: ClassMarks) -> Picture:
    """Points of each record against its minutes, drawn."""
    rows = _economy(marks)
    return class_economy(list(rows["earned"]), list(rows["ratio"]), verdict=True)


def picture_of_part_only(marks: ClassMarks, before: ClassMarks | None = None) -> Picture:
    """The part and not the cause, before and after, drawn."""
    found = part_only(marks, before)
    return class_part_only(
        found.before, found.after, (found.records_before, found.records_after), verdict=True
    )


# ---------------------------------------------------------------------- a second marker
def agreement(marks: ClassMarks, second: Path | str) -> pd.DataFrame:
    """How far a person who marked some of the records agrees with the marks, criterion by criterion: Cohen's kappa of the levels.

    second: a CSV with columns learner, case and any of the criteria, levels 0 to 3. Raises ValueError where nothing matches.
    """
    other = pd.read_csv(second, dtype={"learner": str, "case": str})
    both = marks.cases.merge(other, on=["learner", "case"], suffixes=("", " second"))
    names = [name for name in WEIGHTS if f"{name} second" in both]
    if both.empty or not names:
        raise ValueError(
            f"second must hold learners and cases of this class, got none in {second}. Check its columns."
        )
    rows = {}
    for name in names:
        ours = (both[name] * TOP / WEIGHTS[name]).round().astype(int)
        theirs = both[f"{name} second"].astype(int)
        same = float((ours == theirs).mean())
        rows[TITLES[name]] = {
            "records": len(both),
            "same": same,
            "kappa": item_analysis.kappa(list(ours), list(theirs)),
        }
    return pd.DataFrame.from_dict(rows, orient="index").round(2).rename_axis("criterion")


def copied(marks: ClassMarks) -> pd.DataFrame:
    """The notes that an instructor should read first: copies, and records of others' cases."""
    notes = marks.notes[marks.notes["note"].str.contains("word for word|which was given to", regex=True)]
    return notes.drop_duplicates().set_index("learner")
