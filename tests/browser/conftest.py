"""The page of a copy of the demo study, opened in headless Chromium as a person would."""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

DEMO = Path(__file__).parents[2] / "demo"
SERVE = "import sys; from bonewright.cli import main; sys.argv[0] = 'bonewright'; main()"


FLAGS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


# The plugin's own fixtures for pages rest on a way of writing fixtures that pytest warns of,
# and here warnings are errors; the three that are needed are quickly written.
@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The opened page, its study folder, and what the browser asked for and complained of."""

    page: Page
    folder: Path
    address: str
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def go(self, view: str, *, with_figures: bool = False) -> None:
        """Open a view and wait until its tables are there, or everything on it."""
        self.page.goto(f"{self.address}/{view}", wait_until="domcontentloaded")
        self.page.wait_for_selector("body[data-computing=no]")
        self.page.wait_for_function(
            "[...document.querySelectorAll('study-sheet')].every(sheet => sheet.table)"
        )
        if with_figures:
            self.page.wait_for_load_state("networkidle")


@pytest.fixture
def opened(tmp_path: Path, chromium: Browser) -> Iterator[Opened]:
    folder = tmp_path / "study"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "history"))
    server = subprocess.Popen(  # noqa: S603 - our own command
        [sys.executable, "-c", SERVE, "open", str(folder), "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert server.stdout is not None
        found = re.search(r"http://\S+", server.stdout.readline())
        assert found is not None
        context = chromium.new_context(accept_downloads=True)
        page = context.new_page()
        opened = Opened(page=page, folder=folder, address=found[0].partition("/?")[0])
        context.on("request", lambda request: opened.requests.append(request.url))

        def listen(message: ConsoleMessage) -> None:
            if message.type in ("error", "warning"):
                opened.complaints.append(message.text)

        page.on("console", listen)
        page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        page.goto(found[0], wait_until="domcontentloaded")
        page.wait_for_selector("body[data-computing=no]")
        yield opened
        context.close()
    finally:
        server.terminate()
        server.wait()
        if server.stdout is not None:
            server.stdout.close()
