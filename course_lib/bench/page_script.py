"""The code and the look of a page: a widget takes its code in one piece, put together from modules that import one another."""

from __future__ import annotations

import re
from pathlib import Path

_WEB = Path(__file__).parent / "web"
_IMPORT = re.compile(r'^import \{[^}]*\} from "\./(\w+\.js)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?!default)", re.MULTILINE)


def page_script(page: str) -> str:
    """The code of a page in one piece: its module in `web`, with everything that it imports before it."""
    return "\n".join(_IMPORT.sub("", _EXPORT.sub("", _text(name))) for name in _needed(page, {}))


def style(name: str) -> Path:
    """The file in `web` that says how a page looks."""
    return _WEB / name


def _text(name: str) -> str:
    return (_WEB / name).read_text(encoding="utf-8")


def _needed(name: str, found: dict[str, None]) -> dict[str, None]:
    """Module `name` with all it imports, each once, what is imported first. found: what is there already."""
    for each in _IMPORT.findall(_text(name)):
        if each not in found:
            _needed(each, found)
    found[name] = None
    return found
