"""What the pages use of the notebook they stand in, with the types that IPython lacks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, cast

from IPython import display as ipython


class Place(Protocol):
    """A place in the notebook that can be written again."""

    def update(self, thing: object, **how: Any) -> None:
        """Show something else there."""


#: Show something below the running cell; with `display_id=True` the place it stands in comes back.
display = cast("Callable[..., Place]", ipython.display)
HTML = cast("Callable[[str], ipython.DisplayObject]", ipython.HTML)
Markdown = cast("Callable[[str], ipython.DisplayObject]", ipython.Markdown)
