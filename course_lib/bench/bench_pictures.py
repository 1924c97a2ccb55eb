"""The pictures and sounds of the bench, made when the page asks for them, beside the page and one after the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any

from course_lib.base import units
from course_lib.bench.job_queue import JobQueue
from course_lib.bench.repair_drive import repair_of
from course_lib.bench.replies import outside_spec
from course_lib.shop.findings import Finding

if TYPE_CHECKING:
    from course_lib.bench.bench_model import BenchModel
    from course_lib.cases.key import Key
    from course_lib.plots.picture import Picture


@dataclass(frozen=True, slots=True)
class Drawn:
    """Files that a page shows or plays, each with its words; kind: their media type (RFC 6838)."""

    kind: str = ""
    files: tuple[tuple[bytes, str], ...] = ()


#: Engine speed at which one listens, and the grade of a noise that is as loud as it gets.
_LISTEN_RPM, _LOUDEST = 2000.0, 3


def finding_picture(inspection: str, system: str) -> str:
    """The name under which the page asks for the pictures of a finding."""
    return f"finding {inspection} {system}"


class PictureMaker:
    """Draws for one bench. A picture once drawn is kept; what cannot be drawn is no picture, the words stand beside it."""

    def __init__(self, model: BenchModel) -> None:
        self._model = model
        self._kept: dict[str, Drawn] = {}
        self._numbers = count()
        self.beside = JobQueue(lambda: None)

    def ask(self, name: Any, send: Callable[[str, Drawn], None]) -> None:
        """Send the pictures `name`, as soon as they are drawn; none for a name that means nothing."""
        self.beside.ask(next(self._numbers), lambda _progress: send(str(name), self._pictures(str(name))))

    def _pictures(self, name: str) -> Drawn:
        if name not in self._kept:
            try:
                self._kept[name] = self._draw(name)
            except Exception:
                return Drawn()
        return self._kept[name]

    def _draw(self, name: str) -> Drawn:
        kind, *rest = name.split(" ")
        if kind == "sound":
            return _sounds(self._model, *rest)
        pictures = _KINDS[kind](self._model, *rest)
        return Drawn("image/svg+xml", tuple((each.svg(), each.alt) for each in pictures))


def _of_finding(model: BenchModel, inspection: str, system: str) -> tuple[Picture, ...]:
    # here and below: a bench that shows no picture loads no drawing library
    from course_lib.plots.finding_pictures import pictures_of

    finding = next(each for each in model.case.findings if each.inspection == inspection)
    return pictures_of(finding, verdict=True, system=system, unit=model.case.unit)


def sounds_name(finding: Finding) -> str:
    """The name under which the page asks for what was heard at a finding; "" where nothing was."""
    return f"sound {finding.inspection}" if any(_heard(finding).values()) else ""


def _heard(finding: Finding) -> dict[str, int]:
    return {look.key: look.grade for look in finding.looks if look.key in ("whine_gears", "whine_pump")}


def _sounds(model: BenchModel, inspection: str) -> Drawn:
    """What was heard, range by range, as sounds, each with its words."""
    from course_lib.plots import sound
    from course_lib.shop.apply_chart import ranges

    heard = _heard(next(each for each in model.case.findings if each.inspection == inspection))
    speed, found = units.from_rpm(_LISTEN_RPM), []
    if heard.get("whine_pump"):
        found.append(sound.pump_whine(speed, loud=heard["whine_pump"] / _LOUDEST))
    if heard.get("whine_gears"):
        unit = model.case.unit_spec
        gears = dict.fromkeys(each.gear for each in ranges(unit) if not each.name.startswith("manual"))
        found += [sound.whine(unit.name, gear, speed, loud=heard["whine_gears"] / _LOUDEST) for gear in gears]
    return Drawn("audio/wav", tuple((each.wav, each.words) for each in found))


def _of_odds(model: BenchModel, _system: str, _last: str) -> tuple[Picture, ...]:
    from course_lib.plots.suspects import OddsStep, odds_by_step

    piece = model.helper.standing()
    if piece is None or piece.value is None:
        return ()
    titles = ["at the start", *(f"{n}  {f.title}" for n, f in enumerate(model.findings, start=1))]
    found = [
        "the complaint",
        *(outside_spec(finding) or "nothing outside spec" for finding in model.findings),
    ]
    steps = [
        OddsStep(title, words, dict(each.table()))
        for title, words, each in zip(titles, found, piece.value.odds, strict=True)
    ]
    return (odds_by_step(steps, verdict=True, labels=dict(model.case.cause_choices)),)


def _of_life(model: BenchModel, system: str) -> tuple[Picture, ...]:
    from course_lib.plots.life_history import life_of

    return (life_of(_key(model), verdict=True, system=system),)


def _of_ahead(model: BenchModel, system: str) -> tuple[Picture, ...]:
    from course_lib.cases.repair_forward import vehicle_of
    from course_lib.faults.repair import TrialRepair, trial_repairs
    from course_lib.plots.repairs_ahead import repair_ahead

    past, answer = vehicle_of(_key(model)), model.record.handed_in
    if answer is None:
        return ()
    parts, causes = repair_of(answer)
    yours = TrialRepair(parts=parts, corrected=frozenset(causes) & {cause.id for cause in past.causes})
    others = {name: plan for name, plan in trial_repairs(past).items() if plan != yours}
    return (repair_ahead(past, {"yours": yours, **others}, verdict=True, system=system),)


def _key(model: BenchModel) -> Key:
    """The key of a case that is closed. Raises LookupError while it is open: its pictures would tell."""
    if model.key is None or not model.debriefed:
        raise LookupError("no debrief yet")
    return model.key


_KINDS: dict[str, Callable[..., tuple[Picture, ...]]] = {
    "finding": _of_finding,
    "odds": _of_odds,
    "life": _of_life,
    "ahead": _of_ahead,
}
