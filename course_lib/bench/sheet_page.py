"""A page that draws one sheet of plain data: the whole of it comes once, then only what has changed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

Sheet = dict[str, Any]


def changes(before: Sheet, after: Sheet) -> Sheet:
    """What makes `after` of `before`: only what differs, None for what is gone, so that None means "nothing" in a sheet too.

    Objects are gone into, lists are sent anew. Source: RFC 7396, JSON Merge Patch, section 2.
    """
    patch: Sheet = {name: None for name in before if name not in after}
    for name, now in after.items():
        old = before.get(name)
        if old != now:
            patch[name] = changes(old, now) if isinstance(old, dict) and isinstance(now, dict) else now
    return patch


class SheetPage(anywidget.AnyWidget):
    """A widget whose page draws `sheet`. A page that opens gets the whole; `show` sends what has changed since, numbered by `turn`,
    and a page that has missed a turn asks for the whole again."""

    whole = traitlets.Dict().tag(sync=True, to_json=lambda _whole, page: page.sheet)

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = {"turn": 0, **sheet}
        self._one_at_a_time = threading.RLock()
        super().__init__()
        self.on_msg(self._heard)

    def show(self, drawn: Callable[[], Sheet]) -> None:
        """Have the page show the sheet that is drawn now; may be called from any thread.

        It is drawn while no other is: an older sheet never replaces a newer one.
        """
        with self._one_at_a_time:
            sheet, turn = drawn(), self.sheet["turn"]
            patch = changes(self.sheet, {"turn": turn, **sheet})
            if patch:
                self.sheet = {"turn": turn + 1, **sheet}
                self.send({"changed": patch | {"turn": turn + 1}})

    def told(self, sent: dict[str, Any]) -> None:
        """What the page sends; each page has its own."""
        raise NotImplementedError

    def _heard(self, _widget: Any, sent: Any, _buffers: Any) -> None:
        if isinstance(sent, dict) and sent.get("do") == "whole":
            self.send({"whole": self.sheet})
        else:
            self.told(sent if isinstance(sent, dict) else {})
