"""How quick the page is in a real browser: first page, long tables, pasting, saving.

The demo is served as a person would serve it, and a copy of it with 20,000 measurements; both
are looked at in headless Chromium. Each line gives the time on the clock and, because other
work may run beside it, the processor time that the server and the page's own thread took.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import CDPSession, Page, sync_playwright

ROOT = Path(__file__).parent.parent
SERVE = "import sys; from bonewright.cli import main; sys.argv[0] = 'bonewright'; main()"
LONG_ROWS = 20_000
PASTED_ROWS = 1_000
ONCE_READY = "study-sheet:not([data-ready])"
SHEET = "document.querySelector('study-sheet[name=measurements]')"

SCROLL = """async sheet => {
  const frame = sheet.querySelector(".sheet-scroll");
  frame.scrollIntoView({ block: "center" });
  const gaps = [];
  let last = performance.now();
  for (let step = 0; step < 240; step += 1) {
    frame.scrollTop += 300;
    await new Promise(requestAnimationFrame);
    gaps.push(performance.now() - last);
    last = performance.now();
  }
  frame.scrollTop = frame.scrollHeight;
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const end = sheet.querySelector("tbody tr:last-child").dataset.line;
  gaps.sort((one, other) => one - other);
  return { median: gaps[120], p95: gaps[228], worst: gaps[239], end: Number(end),
    drawn: sheet.querySelectorAll("tbody tr").length };
}"""

# The last of the rows pasted has a unit that is no unit: its mark shows that all were checked.
PASTE = """async ([sheet, count]) => {
  const { store } = sheet;
  const rows = store.rows.rows
    .slice(0, count)
    .map((row, at) => [`p-${at}`, ...row.cells.slice(1, 5)]);
  rows[count - 1][4] = "mmm";
  const from = store.rows.rows.length - count;
  sheet.hands.go(from, 0);
  const data = new DataTransfer();
  data.setData("text/plain", rows.map((row) => row.join("\\t")).join("\\n"));
  const begun = performance.now();
  document.activeElement.dispatchEvent(
    new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
  await new Promise(requestAnimationFrame);
  const shown = performance.now() - begun;
  while (!store.problems.some(({ problem }) => problem.column === "measurementUnit")) {
    await new Promise((done) => setTimeout(done, 4));
  }
  await new Promise(requestAnimationFrame);
  return { shown, checked: performance.now() - begun };
}"""

DRAWN = """async () => {
  const images = [...document.querySelectorAll(".drawing img")];
  while (!images.every((image) => image.complete && image.naturalWidth > 0)) {
    await new Promise((done) => setTimeout(done, 5));
  }
}"""

SAVE = """async sheet => {
  sheet.store.rows.undo();
  sheet.hands.go(0, 3);
  const begun = performance.now();
  const { rows } = sheet.store;
  const [row] = rows.rows;
  rows.apply({ label: "typing", cells: [{ row, place: 3, from: row.cells[3], to: "150.00" }] });
  await sheet.save();
  return performance.now() - begun;
}"""


def long_study(folder: Path) -> None:
    """Copy the demo and repeat its measurements until there are 20,000."""
    shutil.copytree(ROOT / "demo", folder, ignore=shutil.ignore_patterns("results", "history"))
    path = folder / "tables" / "measurements.csv"
    header, *rows = path.read_text(encoding="utf-8").splitlines()
    lines = [header]
    for number in range(LONG_ROWS):
        lines.append(f"x-{number:05d},{rows[number % len(rows)].partition(',')[2]}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


class Opened:
    """A served study and the page that shows it."""

    def __init__(self, page: Page, address: str, server: "subprocess.Popen[str]") -> None:
        self.page, self.address, self.server = page, address, server
        self.devtools: CDPSession = page.context.new_cdp_session(page)
        self.devtools.send("Performance.enable")
        self.first_look_ms = 0.0

    def spent_ms(self) -> tuple[float, float]:
        """Return the processor time of the server and of the page's thread so far."""
        fields = Path(f"/proc/{self.server.pid}/stat").read_text().rpartition(")")[2].split()
        ticks = int(fields[11]) + int(fields[12])
        metrics = self.devtools.send("Performance.getMetrics")["metrics"]
        task = next(entry["value"] for entry in metrics if entry["name"] == "TaskDuration")
        return 1000 * ticks / os.sysconf("SC_CLK_TCK"), 1000 * task

    def timed(self, what: str, act: Callable[[], Any], *, leaves: bool = False) -> Any:
        """Print what an act took; one that ``leaves`` the page starts the page's time anew."""
        before, begun = self.spent_ms(), time.perf_counter()
        result = act()
        clock = 1000 * (time.perf_counter() - begun)
        after = self.spent_ms()
        server = after[0] - before[0]
        page = after[1] if leaves else after[1] - before[1]
        print(f"{what}: {clock:.0f} ms on the clock, server {server:.0f} ms, page {page:.0f} ms")
        return result

    def go(self, view: str) -> None:
        self.page.goto(f"{self.address}/{view}", wait_until="domcontentloaded")
        self.page.wait_for_selector(ONCE_READY, state="detached", timeout=60_000)

    def show(self, what: str, view: str) -> None:
        self.timed(what, lambda: self.go(view), leaves=True)

    def figures_drawn(self) -> None:
        """Wait until every figure of the page is there."""
        self.page.wait_for_selector(".drawing img[data-src]", state="detached")
        self.page.evaluate(DRAWN)

    def settle(self) -> None:
        self.page.wait_for_selector("body[data-computing=no]", timeout=300_000)


@contextmanager
def opened(folder: Path) -> Iterator[Opened]:
    """Serve a study and open it in headless Chromium."""
    server = subprocess.Popen(
        [sys.executable, "-c", SERVE, "open", str(folder), "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
    )
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        said = "" if server.stdout is None else server.stdout.readline()
        address = re.search(r"http://\S+", said)
        if address is None:
            raise SystemExit(f"the page was not served: {said}")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
            )
            page = browser.new_page()
            study = Opened(page, address[0].partition("/?")[0], server)
            begun = time.perf_counter()
            page.goto(address[0], wait_until="domcontentloaded")
            page.wait_for_selector(ONCE_READY, state="detached", timeout=60_000)
            study.first_look_ms = 1000 * (time.perf_counter() - begun)
            study.settle()
            yield study
            browser.close()
    finally:
        server.terminate()
        server.wait()


def first_pages(folder: Path) -> None:
    print("The demo")
    with opened(folder) as study:
        print(
            "very first look after the start, results being computed, until every table can be"
            f" worked in: {study.first_look_ms:.0f} ms on the clock"
        )
        study.timed("  and its figures, once there are results", study.figures_drawn)
        for _ in range(3):
            study.show("first page until every table can be worked in", "study")
            study.timed("  and its figures after that", study.figures_drawn)
        study.show("page of the skeleton, 800 measurements", "skeleton")


def long_table(folder: Path) -> None:
    print(f"The demo with {LONG_ROWS:,} measurements")
    with opened(folder) as study:
        study.show("page of the skeleton", "skeleton")
        study.settle()
        page = study.page
        sheet = page.evaluate_handle(SHEET)
        frames = study.timed("scrolled by 240 x 300 px", lambda: sheet.evaluate(SCROLL))
        print(
            f"  a frame every {frames['median']:.0f} ms (95 %: {frames['p95']:.0f},"
            f" worst {frames['worst']:.0f}); {frames['drawn']} rows in the page at line"
            f" {frames['end'] + 1:,}"
        )
        for _ in range(3):
            pasted = study.timed(
                f"{PASTED_ROWS:,} rows pasted and checked",
                lambda: page.evaluate(PASTE, [sheet, PASTED_ROWS]),
            )
            print(
                f"  shown after {pasted['shown']:.0f} ms, checked after {pasted['checked']:.0f} ms"
            )
            sheet.evaluate("sheet => sheet.editing.takeBack('undo')")
            page.wait_for_timeout(2_000)
        study.timed("one cell saved", lambda: sheet.evaluate(SAVE))


def main() -> None:
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} processors, load {load:.1f}")
    with tempfile.TemporaryDirectory() as place:
        demo, long = Path(place) / "demo", Path(place) / "long"
        shutil.copytree(ROOT / "demo", demo, ignore=shutil.ignore_patterns("results", "history"))
        long_study(long)
        first_pages(demo)
        long_table(long)


if __name__ == "__main__":
    main()
