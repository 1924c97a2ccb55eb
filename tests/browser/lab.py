"""A JupyterLab, and what tests do on its pages."""

from __future__ import annotations

import json
import os
import re
import secrets
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import nbformat

BROWSER_FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
PATIENCE_MS = 30_000  # a machine busy with other tests answers late; that is no fault of the page
NO_NEWS = {"fetchNews": "false", "checkForUpdates": False}


class Lab:
    """A running JupyterLab: `folder` is its root, `page_of(notebook)` an address in it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.token = folder, secrets.token_hex(16)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.log = open(folder / "server.log", "wb")
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1"),
                *(f"--port={self.port}", "--ServerApp.port_retries=0"),
                *(f"--IdentityProvider.token={self.token}", f"--ServerApp.root_dir={folder}"),
            ],
            env=_own_folders(folder / ".jupyter"),
            stdout=self.log,
            stderr=subprocess.STDOUT,
        )

    def address(self, path: str) -> str:
        return f"http://127.0.0.1:{self.port}/{path}{'&' if '?' in path else '?'}token={self.token}"

    def wait_until_up(self, seconds: float = 60.0) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                with urllib.request.urlopen(self.address("api/status"), timeout=2):
                    return
            except OSError:
                assert self.process.poll() is None, (self.folder / "server.log").read_text()[-2000:]
                time.sleep(0.1)
        raise TimeoutError(f"JupyterLab did not answer within {seconds:g} s.")

    def page_of(self, notebook: str) -> str:
        return self.address(f"lab/workspaces/t{secrets.token_hex(4)}/tree/{notebook}?reset")

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(20)
        self.log.close()


def _own_folders(base: Path) -> dict[str, str]:
    news = base / "settings" / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    news.parent.mkdir(parents=True)
    news.write_text(json.dumps(NO_NEWS))
    kinds = {"CONFIG": "config", "DATA": "data", "RUNTIME": "runtime"}
    own = {f"JUPYTER_{kind}_DIR": str(base / folder) for kind, folder in kinds.items()}
    own["JUPYTERLAB_SETTINGS_DIR"] = str(base / "settings")
    tests = str(Path(__file__).parents[1])  # the kernel finds the fake case there
    own["PYTHONPATH"] = os.pathsep.join(filter(None, (tests, os.environ.get("PYTHONPATH"))))
    own["JUPYTERLAB_WORKSPACES_DIR"] = str(base / "workspaces")
    return os.environ | own


def write_notebook(folder: Path, name: str, sources: list[str]) -> Path:
    """A notebook of code cells `sources`, with no outputs."""
    cells = [nbformat.v4.new_code_cell(source, id=f"cell-{n}") for n, source in enumerate(sources)]
    notebook = nbformat.v4.new_notebook(cells=cells)
    notebook.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    path = folder / name
    nbformat.write(notebook, path)
    return path


def open_notebook(page, lab: Lab, name: str) -> None:
    """Open a notebook in JupyterLab and wait until its kernel is idle."""
    page.goto(lab.page_of(name))
    page.locator("#jp-main-statusbar").get_by_text(re.compile(r"\| Idle$")).wait_for()


def restart_kernel(page) -> None:
    """Restart the notebook's kernel by the menu."""
    page.get_by_role("menuitem", name="Kernel", exact=True).click()
    page.get_by_role("menuitem", name=re.compile("^Restart Kernel")).first.click()
    page.get_by_role("button", name="Confirm Kernel Restart").click()


def run_all(page, cells: int) -> None:
    """Run all cells by the menu and wait until the first `cells` of them are done."""
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.wait_for_function(
        """(cells) => {
            const prompts = [...document.querySelectorAll(".jp-CodeCell .jp-InputPrompt")].map(p => p.innerText);
            return /\\[\\d+\\]/.test(prompts[cells - 1]) && !prompts.some(p => p.includes("*"));
        }""",
        arg=cells,
    )


def save(page, notebook: str) -> None:
    """Save the notebook by keys; back when it is on disk, checkpoint and all."""
    with page.expect_response(lambda response: f"{notebook}/checkpoints" in response.url):
        page.keyboard.press("Control+s")


def failures(page) -> list[str]:
    """What cells have said by failing, one text a cell: JupyterLab shows an error as it shows the stream of errors."""
    return page.locator(
        ".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.stderr']"
    ).all_inner_texts()
