"""The bench on the screen: passes sheets to the page, the page's acts to the model, and decides nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import traitlets
from IPython.display import display

from .model import BenchModel

if TYPE_CHECKING:
    from ..cases import Case, Key

_HERE = Path(__file__).parent


class Bench(anywidget.AnyWidget):
    """A `BenchModel` drawn by `bench.js`. Page to kernel: acts; kernel to page: the whole sheet each time."""

    _esm = _HERE / "bench.js"
    _css = _HERE / "bench.css"
    sheet = traitlets.Dict().tag(sync=True)

    def __init__(self, model: BenchModel) -> None:
        self.model = model
        super().__init__(sheet=model.sheet())
        self.on_msg(self._act)

    def _act(self, _widget: Any, act: Any, _buffers: Any) -> None:
        try:
            self.model.do(act)
        finally:
            self.sheet = self.model.sheet()

    def __repr__(self) -> str:
        return _hint(self.model.case.id)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        if data is not None:
            data["text/plain"] = repr(self)  # constant, so that nbval can compare it whatever was done
        return bundle


class _Hint:
    """An output of its own above the bench: read in a reopened notebook, hidden while the bench is alive."""

    def __init__(self, case_id: str) -> None:
        self.text = _hint(case_id)

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        return f'<p class="bench-hint">{self.text}</p>'


def open_bench(
    case: Case, key: Key | None = None, *, mode: str = "practice", folder: str | Path = "answers"
) -> Bench:
    """The bench for `case`; end a cell with it to show it.

    `mode` is "practice" (needs `key`; marked at once) or "marked" (no key; the instructor marks). Work saved
    in `folder` comes back. Raises ValueError for a mode or key that does not fit.
    """
    bench = Bench(BenchModel(case, key, mode=mode, folder=folder))
    display(_Hint(case.id))
    return bench


def _hint(case_id: str) -> str:
    return f"Bench for case {case_id}. Run this cell to show it."
