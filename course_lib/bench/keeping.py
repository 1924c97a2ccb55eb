"""What is kept beside the records: the units a learner reads in."""

from __future__ import annotations

from pathlib import Path

from ..record import write_whole
from ..units import SYSTEMS

#: The file in the folder of records. Its name begins with a dot, so that nobody hands it in.
UNITS_FILE = ".units"


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
