"""A small table that a notebook shows: as HTML with its caption and heads, and as plain text without a page."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape

from course_lib.base import units

SIGN = "\u25c7"
LEGEND = (
    f"{SIGN} These numbers are worked out by the simulator of this course, for units that are invented; so are all pictures. "
    "Hours, seconds and rules of thumb in the text are the trade's: the sources at the end say whose."
)
"""What stands over a table of the simulator, and the line that explains it."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under a caption; the first column names each row. `off`: places (row, column) that are out of spec.

    worked_out: whether its numbers come from the simulator. first: the table in workshop units that this one was turned from.
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    off: frozenset[tuple[int, int]] = frozenset()
    worked_out: bool = True
    first: Table | None = field(default=None, compare=False, repr=False)

    def shown(self, system: str) -> Table:
        """The same table in "workshop" or "metric" units."""
        if self.first is not None:
            return self.first.shown(system)
        if system == units.SYSTEMS[0]:
            return self

        def turned(texts: tuple[str, ...]) -> tuple[str, ...]:
            return tuple(units.text_in_system(text, system) for text in texts)

        rows = tuple(turned(row) for row in self.rows)
        caption = units.text_in_system(self.caption, system)
        return Table(caption, turned(self.heads), rows, self.off, self.worked_out, self)

    @property
    def title(self) -> str:
        """The caption, with the sign of the simulator where it made the numbers."""
        return f"{self.caption} {SIGN}" if self.worked_out else self.caption

    def _repr_html_(self) -> str:
        """HTML that a screen reader can walk through: caption, column heads, row heads. No verdict by color alone."""
        heads = "".join(f'<th scope="col" style="{_CELL}">{escape(head)}</th>' for head in self.heads)
        rows = "".join(f"<tr>{self._row(at, row)}</tr>" for at, row in enumerate(self.rows))
        caption = f'<caption style="text-align:left;font-weight:bold;white-space:nowrap">{escape(self.title)}</caption>'
        return f"<table>{caption}<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"

    def _row(self, at: int, row: tuple[str, ...]) -> str:
        cells = [f'<th scope="row" style="{_CELL};font-weight:normal">{escape(row[0])}</th>']
        for column, text in enumerate(row[1:], 1):
            words = f"<strong>{escape(text)}</strong>" if (at, column) in self.off else escape(text)
            cells.append(f'<td style="{_CELL}">{words}</td>')
        return "".join(cells)

    def __repr__(self) -> str:
        """The same words without a page."""
        return "\n".join([self.title, " | ".join(self.heads), *(" | ".join(row) for row in self.rows)])


_CELL = "text-align:left;vertical-align:top"
