"""A real Chromium, or a skip that says how to get one; with CI=true its absence is a failure."""

import os
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        words = "skipped: no Chromium; on Debian: apt-get install chromium"
        if os.environ.get("CI") == "true":
            pytest.fail(words)
        pytest.skip(words)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()
