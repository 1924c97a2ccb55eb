"""A worked case: an expert's road through one frozen case, step by step, with a prediction before each step.

The words are data (`datasets/worked/<case>.toml`); every number in them is a slot, filled from what the
inspections of the frozen case found. Nothing here is scored. This room knows no widgets.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cached_property
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import replace

from course_lib.assessment.record import CONFIDENCE, clean_text, record_path, write_whole
from course_lib.base import units
from course_lib.base.data_files import read_data
from course_lib.base.guards import between, one_of
from course_lib.cases.case import Case
from course_lib.cases.key import Key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults.after_repair import findings_when_repaired
from course_lib.lessons.step_order import first_unanswered
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import HEADINGS, Finding, Reading

AFTER = "after_"
"""What stands before the key of a reading that was taken after the repair."""

AGAIN = ", once more after the repair"

_SLOT = re.compile(r"\{([a-z0-9_]+)(?::([a-z]+))?\}")


class StepChoice(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One answer a learner may give before a step opens, and the reply to it."""

    text: str
    reply: str


class StepText(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The words of one step.

    `choices` are offered before it opens (3 or 4), or, without choices, the learner writes a sentence and
    compares it with `model` and `ticks`. `inspections` are then shown, cut down to the reading keys in
    `readings` if there are any; or the repair `road` ("part only", ...) driven forward. `mended`: the inspections are made after
    the whole repair. `claims` are pairs of reading key and verdict that the words rely on: a test holds them against the frozen
    case. In words and claims, a reading after the repair has "after_" before its key.
    """

    question: str
    choices: tuple[StepChoice, ...] = ()
    model: str = ""
    ticks: tuple[str, ...] = ()
    inspections: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    road: str = ""
    mended: bool = False
    meaning: tuple[str, ...] = ()
    claims: tuple[tuple[str, str], ...] = ()


class WorkedText(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The words of a worked case: its steps by name, in order, and the rows of the expert's record."""

    steps: dict[str, StepText]
    record: tuple[tuple[str, str], ...] = ()


class Prediction(msgspec.Struct, frozen=True, kw_only=True):
    """What a learner committed to before a step opened. `choice` counts from 0; -1 if it is in `words`."""

    choice: int = -1
    sureness: str = ""
    words: str = ""


class WorkedCase:
    """A worked case on its way: the frozen case, its words, and the learner's predictions so far.

    Predictions are kept in `<folder>/<case id>-predictions.json`, so a restart of the kernel loses none. system: the units
    in which everything is read, "workshop" or "metric"; it may be changed at any time.
    """

    def __init__(
        self, case: Case, key: Key, *, folder: Path | str = "answers", system: str = "workshop"
    ) -> None:
        self.case, self.key, self.system = case, key, system
        self.words = read_data(f"worked/{case.id}", WorkedText)
        self.path = record_path(f"{case.id}-predictions", folder)
        self.predictions = _load_predictions(self.path)
        self._offered = {inspection.id: inspection for inspection in case.offered}

    def lock(self, step: str, *, choice: int = -1, sureness: str = "", words: str = "") -> None:
        """Commit to a prediction; the step is then open. A step that is open already stays as it is."""
        text = self._step(step)
        if step in self.predictions:
            return
        if text.choices:
            between("choice", choice, 0, len(text.choices) - 1, "Choose one of the answers.")
            one_of("sureness", sureness, CONFIDENCE)
        elif not words.strip():
            raise ValueError("words must be a sentence of yours, got nothing. A short one will do.")
        self.predictions[step] = Prediction(choice=choice, sureness=sureness, words=clean_text(words))
        self.path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(self.path, msgspec.json.encode(self.predictions))

    def sheet(self, step: str) -> dict[str, Any]:
        """All that the page shows of a step, in order: the question, and once it is answered, what opens.

        A step waits for the one before it, because its question tells what was found there.
        """
        text, made = self._step(step), self.predictions.get(step)
        if waits := self._waits(step):
            closed = {"question": "", "choices": [], "sureness": [], "answered": "", "blocks": []}
            return closed | {"name": step, "waits": waits}
        return {
            "name": step,
            "waits": "",
            "question": self.fill(text.question),
            "choices": [self.fill(choice.text) for choice in text.choices],
            "sureness": list(CONFIDENCE) if text.choices else [],
            "answered": "" if made is None else self._answered(text, made),
            "blocks": [] if made is None else self._blocks(text, made),
        }

    def _waits(self, step: str) -> str:
        """What must be answered first; "" where nothing is, or where the step is answered itself."""
        steps = list(self.words.steps)
        wanted = first_unanswered(steps[: steps.index(step)], self.predictions.__contains__)
        if not wanted or step in self.predictions:
            return ""
        return f"Answer step {steps.index(wanted) + 1} first, above. Then this step asks you something."

    def record_rows(self) -> list[tuple[str, str]]:
        """The expert's record: what is asked, and what the expert wrote."""
        return [(self.fill(asked), self.fill(wrote)) for asked, wrote in self.words.record]

    def whole(self) -> str:
        """The whole road in Markdown: every question with every answer and its reply, all that opens, and the expert's record."""
        parts = []
        for number, text in enumerate(self.words.steps.values(), 1):
            answers = [f"- *{self.fill(choice.text)}* {self.fill(choice.reply)}" for choice in text.choices]
            opened = [_in_markdown(block) for block in self._opens(text)]
            parts += [f"## Step {number}", f"**{self.fill(text.question)}**", "\n".join(answers), *opened]
        rows = [f"| {asked} | {wrote} |" for asked, wrote in self.record_rows()]
        record = "\n".join(["| Asked | The expert wrote |", "|---|---|", *rows])
        return "\n\n".join(
            part for part in [f"# Case {self.case.id}, worked", *parts, "## The record", record] if part
        )

    def readings(self) -> dict[str, Reading]:
        """Every reading that the steps of this case take, by its key."""
        taken = [(name, step.mended) for step in self.words.steps.values() for name in step.inspections]
        return {
            f"{AFTER if mended else ''}{r.key}": r
            for name, mended in taken
            for r in self._shown(name, mended).readings
        }

    def fill(self, text: str) -> str:
        """`text` with its slots filled: {key}, {key:spec}, {key:off}, and a few about vehicle and repairs; in the units read.

        Raises ValueError for a slot that nothing fills.
        """
        filled = _SLOT.sub(lambda slot: self._slot(slot[1], slot[2] or "found"), text)
        return units.text_in_system(filled, self.system)

    def _slot(self, name: str, wanted: str) -> str:
        plain = self._plain_slots()
        if name in plain:
            return plain[name]
        readings = self.readings()
        one_of("slot", name, readings)
        reading = readings[name]
        return {
            "found": reading.found_text,
            "spec": reading.spec_text,
            "off": reading.with_unit(reading.show(abs(reading.deviation))),
        }[wanted]

    def _plain_slots(self) -> dict[str, str]:
        order, stories = self.case.work_order, self.key.stories
        slots = {
            "odometer": f"{order.odometer_miles:,}",
            "owner": order.owner.split(",")[0],
            "vehicle": re.split(r", | with ", order.vehicle)[0],
        }
        for name, story in stories.items():
            half = name.replace(" ", "_")
            slots[f"{half}_odometer"] = f"{story.odometer_miles:,.0f}"
            slots[f"{half}_miles"] = "no" if story.miles is None else f"{story.miles:,.0f}"
        return slots

    def _step(self, step: str) -> StepText:
        one_of("step", step, self.words.steps)
        return self.words.steps[step]

    def _answered(self, text: StepText, made: Prediction) -> str:
        said = text.choices[made.choice].text if text.choices else made.words
        return f"You said: {self.fill(said)}" + (f" ({made.sureness})" if made.sureness else "")

    def _blocks(self, text: StepText, made: Prediction) -> list[dict[str, Any]]:
        if not text.choices:
            return self._opens(text)
        return [{"kind": "text", "text": self.fill(text.choices[made.choice].reply)}, *self._opens(text)]

    def _opens(self, text: StepText) -> list[dict[str, Any]]:
        """What opens whatever was answered."""
        blocks: list[dict[str, Any]] = []
        if text.model:
            blocks.append({"kind": "text", "lead": "A model sentence.", "text": self.fill(text.model)})
            blocks.append(
                {
                    "kind": "list",
                    "lead": "Look for these in yours.",
                    "items": list(map(self.fill, text.ticks)),
                }
            )
        for name in text.inspections:
            blocks += self._opened(name, text.readings, text.mended)
        if text.road:
            told = self.key.stories[text.road].text
            blocks += [{"kind": "text", "text": units.text_in_system(line, self.system)} for line in told]
        leads = ["What it means."] + [""] * len(text.meaning)
        blocks += [
            {"kind": "text", "lead": lead, "text": self.fill(line)}
            for lead, line in zip(leads, text.meaning, strict=False)
        ]
        return blocks

    def _inspect(self, name: str, mended: bool = False) -> Finding:
        """A finding of the case; what must come first is done first, in whatever order steps are opened."""
        if mended:
            return self._mended[name]
        for first in self._offered[name].needs:
            self._inspect(first)
        return self.case.inspect(name)

    @cached_property
    def _mended(self) -> dict[str, Finding]:
        return findings_when_repaired(vehicle_of(self.key), self.case.seed)

    def _shown(self, name: str, mended: bool = False) -> Finding:
        """A finding of the case in the units read."""
        return finding_in_system(self._inspect(name, mended), self.system)

    def _opened(self, name: str, only: tuple[str, ...], mended: bool) -> list[dict[str, Any]]:
        about, finding = self._offered[name], self._shown(name, mended)
        shown = [r for r in finding.readings if not only or r.key in only]
        blocks: list[dict[str, Any]] = [
            {"kind": "heading", "text": f"{finding.title}{AGAIN if mended else ''}, {finding.minutes} min"}
        ]
        if about.caution:
            blocks.append(
                {
                    "kind": "caution",
                    "lead": "Caution.",
                    "text": units.text_in_system(about.caution, self.system),
                }
            )
        if shown:
            blocks.append(
                {
                    "kind": "table",
                    "caption": finding.title,
                    "columns": list(HEADINGS),
                    "rows": [reading_row(r) for r in shown],
                }
            )
        if finding.words:
            blocks.append({"kind": "list", "lead": "", "items": list(finding.words)})
        return [*blocks, {"kind": "picture", "of": name, "only": list(only), "mended": mended}]

    def seen(self, name: str, only: Collection[str], mended: bool = False) -> Finding:
        """A finding as a step shows it, in workshop units: all looks, and all readings or some; of the vehicle mended or not."""
        finding = self._inspect(name, mended)
        if not only:
            return finding
        return replace(finding, readings=tuple(r for r in finding.readings if r.key in only))


def _in_markdown(block: dict[str, Any]) -> str:
    """A block of a step as text; a picture says nothing that the readings and words before it do not."""
    lead = f"**{block['lead']}** " if block.get("lead") else ""
    if block["kind"] == "list":
        return "\n".join(([lead, ""] if lead else []) + [f"- {item}" for item in block["items"]])
    if block["kind"] == "table":
        head = ["| Reading | Found | Spec | Result |", "|---|---|---|---|"]
        rows = ["| {what} | {found} | {spec} | {result} |".format(**row) for row in block["rows"]]
        return "\n".join(head + rows)
    if block["kind"] == "heading":
        return f"### {block['text']}"
    return "" if block["kind"] == "picture" else lead + block["text"]


def reading_row(reading: Reading) -> dict[str, str]:
    """One row of a findings table: what, found, spec, result, and the side on which it is out of spec."""
    side = {"below spec": "below", "above spec": "above"}.get(reading.verdict, "")
    return {
        "what": reading.label,
        "found": reading.found_text,
        "spec": reading.spec_text,
        "result": reading.verdict,
        "side": side,
    }


def _load_predictions(path: Path) -> dict[str, Prediction]:
    """Predictions kept earlier; none if there are none that can be read (they are not scored)."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=dict[str, Prediction])
    except (OSError, msgspec.MsgspecError, UnicodeError):
        return {}
