"""A JupyterLab of its own for each test module, and Debian's Chromium looking at it."""

from __future__ import annotations

import shutil

import pytest
from lab import BROWSER_FLAGS, PATIENCE_MS, Lab
from playwright.sync_api import expect, sync_playwright

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """One server for a module, stopped at its end."""
    server = Lab(tmp_path_factory.mktemp("lab"))
    try:
        server.wait_until_up()
        yield server
    finally:
        server.stop()


@pytest.fixture(scope="module")
def chromium():
    """One browser for a module; a machine without one fails, because then nobody has looked."""
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        pytest.fail("No Chromium found. Install it (Debian: apt-get install chromium) and run again.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=BROWSER_FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium):
    """A fresh page, tall enough for the whole bench."""
    context = chromium.new_context(viewport={"width": 1280, "height": 1800}, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()
