"""The one form in which a notebook of the course is written, the same on every machine."""

from __future__ import annotations

import json
from typing import Any

METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
"""What every notebook says about its language; nothing of the machine it was last opened on."""


def notebook_of(cells: list[dict[str, Any]]) -> dict[str, Any]:
    """A notebook of these cells."""
    return {"cells": cells, "metadata": METADATA, "nbformat": 4, "nbformat_minor": 5}


def as_text(notebook: dict[str, Any]) -> str:
    """The notebook as the text of its file; the same notebook always gives the same text."""
    return json.dumps(notebook, indent=1, ensure_ascii=False, sort_keys=True) + "\n"
