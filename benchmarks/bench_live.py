"""How soon an edit's results are there, and how soon a moved slider's numbers are.

The demo is served by the command a person would use and spoken to as the page does: a changed
file beside the page, the stream of states, the what-if questions. Each line gives the time on
the clock and, because other work may run on the machine, the server's processor time. Last, a
browser without a graphics card moves each slider, and the time runs until it has painted.
"""

import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx

from bench_page import opened

ROOT = Path(__file__).parent.parent
SERVE = "import sys; from bonewright.cli import main; sys.argv[0] = 'bonewright'; main()"
TRIES = 5
EDITS = (
    ("bodies", "measurementValue"),
    ("relatives", "bodyMass"),
    ("measurements", "measurementValue"),
    ("sections", "outerMediolateral"),
)
MOVED: tuple[tuple[str, str, tuple[float, ...]], ...] = (
    ("body", "fat_mean_percent", (12, 14, 16, 18, 20)),
    ("body", "body_density", (0.9, 0.92, 0.94, 0.97, 1.0)),
    ("body", "tissue.fat", (0.88, 0.9, 0.93, 0.95, 0.97)),
    ("body", "tissue.bone", (1.3, 1.35, 1.45, 1.5, 1.55)),
    ("movement", "femur_angle", (30, 40, 45, 55, 60)),
    ("relatives", "stem_age", (20, 22, 24, 28, 30)),
)


# From the slider's own event until the second frame after the figures were drawn anew.
MOVE = """async name => {
  const slider = document.getElementById(`what-if-${name}`);
  const figures = document.querySelector(".what-if-figures");
  const taken = [];
  for (let step = 1; step <= 12; step += 1) {
    const drawn = new Promise((done) => {
      const watch = new MutationObserver(() => { watch.disconnect(); done(); });
      watch.observe(figures, { childList: true, subtree: true, attributes: true });
    });
    slider.stepUp(step % 2 ? 3 * step : -2 * step);
    const begun = performance.now();
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    await drawn;
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
    taken.push(performance.now() - begun);
    await new Promise((done) => setTimeout(done, 60));
  }
  taken.sort((one, other) => one - other);
  return { median: taken[6], most: taken[11] };
}"""


class Served:
    """The demo, served and spoken to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.server = subprocess.Popen(
            [sys.executable, "-c", SERVE, "open", str(folder), "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
        )
        said = "" if self.server.stdout is None else self.server.stdout.readline()
        address = re.search(r"http://\S+", said)
        if address is None:
            raise SystemExit(f"the page was not served: {said}")
        base, _, token = address[0].partition("/?token=")
        headers = {"x-bonewright-page": "1", "origin": base}
        self.client = httpx.Client(base_url=base, headers=headers, timeout=300)
        self.client.get("/", params={"token": token})

    def states(self) -> Iterator[dict[str, Any]]:
        with self.client.stream("GET", "/api/events") as answer:
            for line in answer.iter_lines():
                if line.startswith("data: "):
                    yield json.loads(line.removeprefix("data: "))

    def spent_ms(self) -> float:
        fields = Path(f"/proc/{self.server.pid}/stat").read_text().rpartition(")")[2].split()
        return 1000 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def change(self, table: str, column: str, factor: float) -> None:
        """Change a cell through the page's own way of saving."""
        sheet = self.client.get(f"/api/tables/{table}").json()
        place = sheet["header"].index(column)
        row = next(row for row in sheet["rows"] if row["cells"][place])
        row["cells"][place] = f"{float(row['cells'][place]) * factor:.4g}"
        answer = self.client.post(
            f"/api/tables/{table}",
            json={"version": sheet["version"], "header": sheet["header"], "rows": sheet["rows"]},
        )
        answer.raise_for_status()


def timed(served: Served, what: str, act: Callable[[int], float | None]) -> None:
    """Print the median of several tries; ``act`` may return its own time in ms."""
    clocks, spent = [], []
    for number in range(TRIES):
        before, begun = served.spent_ms(), time.perf_counter()
        own = act(number)
        clocks.append(1000 * (time.perf_counter() - begun) if own is None else own)
        spent.append(served.spent_ms() - before)
    print(
        f"{what}: {statistics.median(clocks):.0f} ms on the clock"
        f" (most {max(clocks):.0f}), server {statistics.median(spent):.0f} ms"
    )


def edit(served: Served, table: str, column: str, number: int) -> tuple[float, float]:
    """Save a changed cell; return ms until the new mass and until the whole run."""
    states = served.states()
    next(states)
    begun = time.perf_counter()
    served.change(table, column, 1.01 + 0.003 * number)
    mass = 0.0
    for state in states:
        if not mass and ("mass" in state["arrived"] or not state["computing"]):
            mass = 1000 * (time.perf_counter() - begun)
        if not state["computing"] and mass:
            return mass, 1000 * (time.perf_counter() - begun)
    raise SystemExit("the stream of states ended")


def in_browser(folder: Path) -> None:
    """Print how long each slider takes from being moved to the painted figures."""
    with opened(folder) as study:
        for view, name, _ in MOVED:
            study.go(f"{view}#what-if")
            study.settle()
            page = study.page
            page.wait_for_selector(f"[id='what-if-{name}']", state="attached")
            page.wait_for_selector(".what-if-table")
            page.wait_for_timeout(2_000)  # until the rest of the page has drawn
            took = page.evaluate(MOVE, name)
            print(
                f"slider of {name} moved in a browser until it has painted:"
                f" {took['median']:.0f} ms (most {took['most']:.0f})"
            )


def main() -> None:
    """Print the times."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "study"
        shutil.copytree(ROOT / "demo", folder, ignore=shutil.ignore_patterns("results", "history"))
        served = Served(folder)
        try:
            for state in served.states():
                if not state["computing"]:
                    break
            print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
            for table, column in EDITS:
                whole: list[float] = []

                def act(
                    number: int,
                    table: str = table,
                    column: str = column,
                    whole: list[float] = whole,
                ) -> float:
                    mass, all_ms = edit(served, table, column, number)
                    whole.append(all_ms)
                    return mass

                timed(served, f"edit of {table}.{column} to its mass", act)
                print(f"  to all results: {statistics.median(whole):.0f} ms")
            for view, name, values in MOVED:
                served.client.post("/api/what-if", json={"view": view}).raise_for_status()

                def ask(
                    number: int,
                    view: str = view,
                    name: str = name,
                    values: tuple[float, ...] = values,
                ) -> None:
                    value = values[number % len(values)]
                    message = {"view": view, "values": {name: value}}
                    served.client.post("/api/what-if", json=message).raise_for_status()

                timed(served, f"slider of {name} to its numbers and figure", ask)
        finally:
            served.client.close()
            served.server.terminate()
            served.server.wait()
        in_browser(folder)


if __name__ == "__main__":
    main()
