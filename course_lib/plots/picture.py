"""A picture with its words. What it is drawn with is loaded by whoever draws one, not by whoever asks what a picture is."""

from __future__ import annotations

import base64
import html
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from course_lib.plots.palette import following

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

DPI = 160


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure and what it says in words, for those who cannot see it. Raises ValueError where the words are missing."""

    figure: Figure
    alt: str

    def __post_init__(self) -> None:
        if not self.alt.strip():
            raise ValueError("alt must be what a reader sees in the picture, got nothing. Put it in words.")

    def svg(self) -> bytes:
        """The picture as lines and letters that stay sharp at every size, light or dark as the page around it.

        The same picture gives the same bytes.
        """
        from matplotlib import rc_context  # here: who only asks what a picture is loads no drawing library

        file = io.StringIO()
        with rc_context({"svg.hashsalt": "course", "svg.fonttype": "path"}):
            self.figure.savefig(file, format="svg", metadata={"Date": None})
        return following(file.getvalue()).encode()

    @property
    def source(self) -> str:
        """The picture as the source of an <img>, which needs nothing beside it."""
        return f"data:image/svg+xml;base64,{base64.b64encode(self.svg()).decode()}"

    def html(self) -> str:
        """The picture as an <img> of at most 800 px, its words as alternative text."""
        alt = html.escape(self.alt, quote=True)
        style = "width:800px;max-width:100%;height:auto"
        return f'<img src="{self.source}" alt="{alt}" style="{style}">'

    def _repr_html_(self) -> str:
        return self.html()

    def named(self, name: str) -> list[Artist]:
        """Everything drawn under a name, in the order it was drawn."""
        return [
            artist for axes in self.figure.axes for artist in axes.get_children() if artist.get_gid() == name
        ]

    def words(self) -> list[str]:
        """Everything that is written in the picture, in the order it was drawn."""
        texts = (text.get_text() for axes in self.figure.axes for text in axes.texts)
        return [text for text in texts if text]
