"""Libraries that only some tests need."""

from types import ModuleType

import pytest


def from_extra(extra: str, module: str) -> ModuleType:
    """A module that comes with an extra of the course; where that is not installed, whoever asks is skipped and told why."""
    return pytest.importorskip(module, reason=f"needs the extra `{extra}`: pip install -e '.[{extra}]'")
