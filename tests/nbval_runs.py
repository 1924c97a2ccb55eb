"""pytest with nbval over a folder of notebooks, as an instructor would type it."""

import subprocess
import sys
from pathlib import Path

COMMAND = (sys.executable, "-m", "pytest", "--nbval-current-env", "--nbval-cell-timeout", "120")
QUIET = ("-p", "no:cacheprovider", "-q", "--color=no")


def run_nbval(folder: Path, how: str = "--nbval-lax") -> subprocess.CompletedProcess:
    """Every notebook in a folder and below it. how: "--nbval-lax", or "--nbval" to compare what is stored."""
    return subprocess.run([*COMMAND, how, *QUIET, "."], cwd=folder, capture_output=True, text=True)
