"""The bench on the screen: passes sheets to the page, the page's acts to the model, and decides nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from course_lib.bench.bench_model import BenchModel
from course_lib.bench.bench_pictures import Drawn, PictureMaker
from course_lib.bench.bench_sheet import draw_sheet
from course_lib.bench.notebook_output import display
from course_lib.bench.page_script import page_script, style
from course_lib.bench.retired_record import retired_records
from course_lib.bench.sheet_page import SheetPage
from course_lib.bench.units_setting import READERS, tell_readers

if TYPE_CHECKING:
    from course_lib.assessment.record import Answer
    from course_lib.cases.case import Case
    from course_lib.cases.key import Key


class Bench(SheetPage):
    """A `BenchModel` on its page. Page to kernel: acts; kernel to page: the sheet, and pictures."""

    _esm = page_script("bench.js")
    _css = style("bench.css")

    def __init__(self, model: BenchModel) -> None:
        self.model = model
        self._drawer = PictureMaker(model)
        super().__init__(draw_sheet(model))
        model.changed = self._show
        READERS.add(self)

    def told(self, act: dict[str, Any]) -> None:
        """Carry out an act of the page, or draw a picture for it."""
        if act.get("do") == "picture":
            self._drawer.ask(act.get("picture"), self._send_pictures)
            return
        try:
            self.model.do(act)
        finally:
            self._show()
        if act.get("do") == "units":
            tell_readers(but=self)

    def read_units(self) -> None:
        """Take over the units chosen on another page."""
        self.model.read_units()
        self._show()

    def _show(self) -> None:
        """Show the sheet as it is now; also called from the thread in which help is worked out."""
        self.show(lambda: draw_sheet(self.model))

    def _send_pictures(self, name: str, drawn: Drawn) -> None:
        self.send(
            {"picture": name, "type": drawn.kind, "alts": [words for _, words in drawn.files]},
            buffers=[file for file, _ in drawn.files],
        )

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


def open_bench(case: Case, key: Key | None = None, *, mode: str = "practice", folder: str | Path = "answers",
               form: str = "full", given: Answer | None = None, **more: Any) -> Bench:  # fmt: skip
    """The bench for `case`; end a cell with it to show it.

    mode: "practice" or "without help" (need `key`; marked at once; hints and odds in practice only), or "marked" (no key;
    the instructor marks). form: "full" or "short", how much of a record is asked for; given: parts of it that are filled in
    beforehand. Work saved in `folder` comes back; work on a vehicle that stood here before is shown above, to be read.
    more: see `BenchModel`. Raises ValueError for a mode, form or key that does not fit.
    """
    bench = Bench(BenchModel(case, key, mode=mode, folder=folder, form=form, given=given, **more))
    for one in retired_records(case.id, folder):
        display(one)
    display(_Hint(case.id))
    return bench


def _hint(case_id: str) -> str:
    return f"Bench for case {case_id}. Run this cell to show it."
