"""The code of a page from its parts: a widget takes it in one piece."""

from pathlib import Path

_HERE = Path(__file__).parent


def page_script(*parts: str) -> str:
    """The code of files of this folder in one piece, in the order in which they build on each other."""
    return "\n".join((_HERE / part).read_text(encoding="utf-8") for part in parts)
