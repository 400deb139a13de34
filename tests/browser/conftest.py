"""The page of a copy of the demo study, opened in headless Chromium as a person would."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

DEMO = Path(__file__).parents[2] / "demo"
SERVE = "import sys; from bonewright.cli import main; sys.argv[0] = 'bonewright'; main()"


# A loaded machine is slow, not wrong.
expect.set_options(timeout=20_000)

FLAGS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # Pictures in the round without a graphics card.
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
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
        self.page.wait_for_selector("body[data-computing=no]", timeout=120_000)
        self.page.wait_for_selector("study-sheet:not([data-ready])", state="detached")
        if with_figures:
            self.page.wait_for_load_state("networkidle")


SMALL = {
    "study.toml": """[study]
title = "A small study"
question = "How long was its femur?"
invented = true

[animal]
name = "test rail"
""",
    "tables/specimens.csv": "materialEntityID,institutionCode,catalogNumber,element,side,sex,"
    "lifeStage,preparations,preservation,materialEntityRemarks\n"
    + "".join(f"bone-{n},AAA,{n},femur,left,unknown,adult,bone,complete,\n" for n in range(1, 13)),
    "tables/measurements.csv": "measurementID,materialEntityID,measurementType,measurementValue,"
    "measurementUnit\n"
    + "".join(f"m-{n:02d},bone-{n},GL,{150 + 1.5 * n:.1f},mm\n" for n in range(1, 13)),
}


def write_small(folder: Path) -> None:
    """Write a study of twelve bones, quick to compute."""
    for name, content in SMALL.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(content, encoding="utf-8")


def _copy_demo(folder: Path) -> None:
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "history"))


@contextmanager
def _served(folder: Path, write: Callable[[Path], None] = _copy_demo) -> Iterator[str]:
    """Serve a study by the command a person would use; give the first address."""
    write(folder)
    with _command(str(folder)) as address:
        yield address


@contextmanager
def _command(*folder: str, home: Path | None = None) -> Iterator[str]:
    server = subprocess.Popen(  # noqa: S603 - our own command
        [sys.executable, "-c", SERVE, "open", *folder, "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | ({} if home is None else {"HOME": str(home)}),
    )
    try:
        assert server.stdout is not None
        found = re.search(r"http://\S+", server.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        server.terminate()
        server.wait()
        if server.stdout is not None:
            server.stdout.close()


@contextmanager
def _opened(chromium: Browser, folder: Path, address: str) -> Iterator[Opened]:
    context = chromium.new_context(accept_downloads=True)
    context.set_default_timeout(90_000)
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = context.new_page()
    opened = Opened(page=page, folder=folder, address=address.partition("/?")[0])
    context.on("request", lambda request: opened.requests.append(request.url))

    def listen(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            opened.complaints.append(message.text)

    page.on("console", listen)
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    page.goto(address, wait_until="domcontentloaded")
    page.wait_for_selector("body[data-computing=no]", timeout=120_000)
    yield opened
    context.close()


@pytest.fixture
def opened(tmp_path: Path, chromium: Browser) -> Iterator[Opened]:
    """The page of a study of the test's own, to be changed."""
    folder = tmp_path / "study"
    with _served(folder) as address, _opened(chromium, folder, address) as opened:
        yield opened


@pytest.fixture
def newcomer(tmp_path: Path, chromium: Browser) -> Iterator[Opened]:
    """The start page of a person who has no study yet; ``folder`` is their home."""
    with (
        _command(home=tmp_path) as address,
        _opened(chromium, tmp_path, address) as opened,
    ):
        yield opened


@pytest.fixture(scope="session")
def demo_served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    folder = tmp_path_factory.mktemp("browser") / "study"
    with _served(folder) as address:
        yield folder, address


@pytest.fixture
def reading(demo_served: tuple[Path, str], chromium: Browser) -> Iterator[Opened]:
    """The page of a study that several tests look at and none saves to."""
    folder, address = demo_served
    with _opened(chromium, folder, address) as opened:
        yield opened


@pytest.fixture
def small(tmp_path: Path, chromium: Browser) -> Iterator[Opened]:
    """The page of a small study of the test's own, to be changed."""
    folder = tmp_path / "study"
    with _served(folder, write_small) as address, _opened(chromium, folder, address) as opened:
        yield opened


@pytest.fixture(scope="session")
def small_served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    folder = tmp_path_factory.mktemp("browser-small") / "study"
    with _served(folder, write_small) as address:
        yield folder, address


@pytest.fixture
def trying(small_served: tuple[Path, str], chromium: Browser) -> Iterator[Opened]:
    """The page of a small study in which several tests edit and none saves."""
    folder, address = small_served
    with _opened(chromium, folder, address) as opened:
        yield opened
