"""The units a learner reads in: kept beside the records, chosen with one switch, and the same on all open pages."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol
from weakref import WeakSet

from course_lib.assessment.record import write_whole
from course_lib.base.units import SYSTEMS

#: The file in the folder of records. Its name begins with a dot, so that nobody hands it in.
UNITS_FILE = ".units"
_WORDS = {"workshop": "psi, \u00b0F, miles", "metric": "kPa, \u00b0C, km"}


class UnitsReader(Protocol):
    """A page that shows numbers."""

    def read_units(self) -> None:
        """Take over the units kept in the folder, and show everything in them."""


#: Pages that are open in this kernel.
READERS: WeakSet[UnitsReader] = WeakSet()


def units_choice(system: str) -> dict[str, Any]:
    """What the switch shows: its label, the units read now, and what there is to choose from."""
    return {"label": "Units", "value": system, "options": [[each, _WORDS[each]] for each in SYSTEMS]}


def tell_readers(but: UnitsReader | None = None) -> None:
    """Have every open page take over the units kept, except the one on which they were chosen."""
    for page in list(READERS):
        if page is not but:
            page.read_units()


def units_kept(folder: str | Path) -> str:
    """The units chosen last in this folder; the first of the list where none were, or the file cannot be read."""
    try:
        kept = (Path(folder) / UNITS_FILE).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeError):
        return SYSTEMS[0]
    return kept if kept in SYSTEMS else SYSTEMS[0]


def keep_units(system: str, folder: str | Path) -> None:
    """Remember the units; where that cannot be written they hold for this sitting only."""
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
        write_whole(Path(folder) / UNITS_FILE, system.encode())
    except OSError:
        return
