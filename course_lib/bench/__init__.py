"""The bench: the page on which a case is worked. Importing it loads no widget; the first use does."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "Bench": "bench_view",
    "open_bench": "bench_view",
    "BenchModel": "bench_model",
    "WorkState": "bench_model",
    "open_worked": "worked_view",
    "open_lesson": "items_view",
    "open_item": "items_view",
}


def __getattr__(name: str) -> Any:
    """Load `name` from its module on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"course_lib.bench has no {name!r}. It offers: {', '.join(sorted(_HOMES))}.")
    return getattr(import_module(f"course_lib.bench.{_HOMES[name]}"), name)
