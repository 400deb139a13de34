"""Twenty browsers' worth of clients edit one study at once: no update is lost.

The real server serves a copy of the demo on loopback; once it has computed it, each client
talks to it as the page does: it follows the stream of states and reads a table again when that
tells of another version, has what is typed checked, saves what differs from the version it
read, goes on from the version saved, and on a clash takes the joined rows, settles what
contradicts and saves again. Three kinds of edit are made: a cell of the client's own, a row of
its own, and a count that all clients raise by one in the same cell, which comes out short if
anything is lost.

    python benchmarks/bench_clients.py [SECONDS] [CLIENTS] [SEED]

Prints one line of JSON (times in milliseconds); exits 1 if an update was lost.
"""

import json
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import httpx

ROOT = Path(__file__).parent.parent
WRITES = {"x-bonewright-page": "1"}
COUNT_ROW = "src-count"
THINKS_S = (0.5, 3.5)
SERVE = "from bonewright.cli import main; main()"


class Sheet:
    """A table as one browser has it, and what it changed since the version it read."""

    def __init__(self, table: dict[str, Any]) -> None:
        self.version: str = table["version"]
        self.header: list[str] = table["header"]
        self.rows: list[dict[str, Any]] = table["rows"]
        self.changed: set[int] = set()
        self.added: list[list[str]] = []

    def place(self, column: str) -> int:
        return self.header.index(column)

    def row(self, key: str) -> dict[str, Any]:
        return next(row for row in self.rows if row["cells"][0] == key)

    def change(self, row: dict[str, Any], column: str, value: str) -> None:
        row["cells"][self.place(column)] = value
        self.changed.add(row["number"])

    def edits(self) -> dict[str, Any]:
        last = max(row["number"] for row in self.rows)
        return {
            "version": self.version,
            "header": self.header,
            "changed": [row for row in self.rows if row["number"] in self.changed],
            "added": [{"after": last, "cells": cells} for cells in self.added],
            "removed": [],
        }

    def saved(self, answer: dict[str, Any]) -> bool:
        """Go on from the version saved; False if its columns are others."""
        self.version = answer["version"]
        self.rows += [{"number": None, "cells": cells} for cells in self.added]
        for number, row in enumerate(self.rows, start=2):
            row["number"] = number
        self.changed, self.added = set(), []
        return answer["header"] == self.header


class Client(threading.Thread):
    """One browser: what it did, what was acknowledged and how long each answer took."""

    def __init__(self, number: int, address: str, token: str, *, until: float, seed: int) -> None:
        super().__init__(name=f"client-{number}")
        self.number = number
        self.until = until
        self.chance = random.Random(f"{seed}-{number}")  # noqa: S311 - no secret
        self.http = httpx.Client(
            base_url=address, headers={**WRITES, "origin": address}, timeout=30
        )
        self.http.get("/", params={"token": token})
        self.sheets: dict[str, Sheet] = {}
        self.versions: dict[str, str] = {}
        self.times: dict[str, list[float]] = defaultdict(list)
        self.cells: dict[str, str] = {}
        self.rows: set[str] = set()
        self.counted = 0
        self.clashes = 0
        self.states = 0
        self.fault = ""

    def ask(self, kind: str, method: str, path: str, **sent: Any) -> httpx.Response:
        start = time.perf_counter()
        answer = self.http.request(method, path, **sent)
        self.times[kind].append(1000 * (time.perf_counter() - start))
        if answer.status_code not in (200, 409):
            raise RuntimeError(f"{path}: {answer.status_code} {answer.text[:300]}")
        return answer

    def follow(self) -> None:
        with self.http.stream("GET", "/api/events", timeout=60) as stream:
            for line in stream.iter_lines():
                if line.startswith("data:"):
                    self.states += 1
                    self.versions = json.loads(line[5:])["versions"]
                if time.monotonic() > self.until:
                    return

    def run(self) -> None:
        follower = threading.Thread(target=self.follow)
        follower.start()
        try:
            while time.monotonic() < self.until:
                time.sleep(self.chance.uniform(*THINKS_S))
                self.chance.choice((self.own_cell, self.own_cell, self.own_row, self.count))()
        except Exception as error:
            self.fault = f"{self.name}: {error!r}"
        follower.join()
        self.http.close()

    def sheet(self, name: str) -> Sheet:
        """Return the table as the page has it: read again if the stream told of another."""
        known = self.sheets.get(name)
        if known is None or self.versions.get(name, known.version) != known.version:
            known = Sheet(self.ask("load", "GET", f"/api/tables/{name}").json())
            self.sheets[name] = known
        return known

    def own_cell(self) -> None:
        value = f"{self.chance.uniform(0.01, 0.09):.4f}"
        sheet = self.sheet("measurements")
        row = sheet.rows[self.number]
        sheet.change(row, "measurementAccuracy", value)
        row_id = row["cells"][sheet.place("measurementID")]
        self.save("measurements", sheet)
        self.cells[row_id] = value

    def own_row(self) -> None:
        sheet = self.sheet("sources")
        name = f"src-{self.number}-{len(self.rows)}"
        cells = {"sourceID": name, "bibliographicCitation": "A note", "sourceKind": "own measuring"}
        sheet.added.append([cells.get(column, "") for column in sheet.header])
        self.save("sources", sheet)
        self.rows.add(name)

    def count(self) -> None:
        sheet = self.sheet("sources")
        row = sheet.row(COUNT_ROW)
        place = sheet.place("bibliographicCitation")
        sheet.change(row, "bibliographicCitation", str(int(row["cells"][place]) + 1))
        self.save("sources", sheet, counting=True)
        self.counted += 1

    def save(self, name: str, sheet: Sheet, *, counting: bool = False) -> None:
        self.ask("check", "POST", "/api/check", json={"tables": {name: sheet.edits()}})
        for _ in range(200):
            answer = self.ask("save", "POST", f"/api/tables/{name}", json=sheet.edits())
            if answer.status_code == 200:
                if not sheet.saved(answer.json()):
                    del self.sheets[name]
                return
            self.clashes += 1
            sheet = self.joined(answer.json(), counting=counting)
            self.sheets[name] = sheet
        raise RuntimeError("two hundred clashes in a row")

    def joined(self, clash: dict[str, Any], *, counting: bool) -> Sheet:
        """Take both states as the page does: what is joined, told against what is on disk."""
        sheet = Sheet(clash)
        standing = {row["number"]: row["cells"] for row in clash["standing"]}
        sheet.added = [row["cells"] for row in sheet.rows if row["number"] is None]
        sheet.rows = [row for row in sheet.rows if row["number"] is not None]
        sheet.changed = {row["number"] for row in sheet.rows if row["number"] in standing}
        if counting:
            # Whoever raises the count raises the number that stands there now.
            row = sheet.row(COUNT_ROW)
            place = sheet.place("bibliographicCitation")
            now = standing.get(row["number"], row["cells"])[place]
            sheet.change(row, "bibliographicCitation", str(int(now) + 1))
        return sheet


def lost(clients: list[Client], folder: Path) -> list[str]:
    """Say which acknowledged updates are not in the study's files."""
    from bonewright.study.snapshot import read_snapshot

    raw = read_snapshot(folder).raw
    sources = {row[0]: row[1] for row in raw["sources"].rows}
    header = raw["measurements"].header
    accuracy = header.index("measurementAccuracy")
    cells = {row[header.index("measurementID")]: row[accuracy] for row in raw["measurements"].rows}
    found = [
        f"{row_id}: {cells.get(row_id)}, not {value}"
        for client in clients
        for row_id, value in client.cells.items()
        if cells.get(row_id) != value
    ]
    found += [row for client in clients for row in client.rows if row not in sources]
    counted = sum(client.counted for client in clients)
    if int(sources[COUNT_ROW]) != counted:
        found.append(f"the count is {sources[COUNT_ROW]}, not {counted}")
    return found


def wait_for_results(address: str, token: str) -> None:
    """Wait, as a person does, until the study is opened and computed for the first time."""
    with httpx.Client(base_url=address, timeout=60) as http:
        http.get("/", params={"token": token})
        while http.get("/api/state").json()["computing"]:
            time.sleep(0.2)


def percentile(values: list[float], percent: int) -> float:
    return round(statistics.quantiles(values, n=100)[percent - 1], 1) if len(values) > 1 else 0.0


def main(seconds: int, n_clients: int, seed: int) -> int:
    # Twenty browsers are twenty processes: here their threads must not wait for each other.
    sys.setswitchinterval(0.0005)
    with tempfile.TemporaryDirectory(prefix="bonewright-clients-") as made:
        folder = Path(made) / "study"
        leave_out = shutil.ignore_patterns("results", "history")
        shutil.copytree(ROOT / "demo", folder, ignore=leave_out)
        with (folder / "tables" / "sources.csv").open("a") as file:
            file.write(f"{COUNT_ROW},0,own measuring\n")
        server = subprocess.Popen(
            [sys.executable, "-c", SERVE, "open", str(folder), "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        )
        try:
            assert server.stdout is not None  # noqa: S101 - a pipe was asked for
            match = re.search(r"(http://[^/]+)/\?token=(\S+)", server.stdout.readline())
            assert match is not None  # noqa: S101 - or there is nothing to measure
            wait_for_results(match[1], match[2])
            until = time.monotonic() + seconds
            clients = [
                Client(number, match[1], match[2], until=until, seed=seed)
                for number in range(n_clients)
            ]
            for client in clients:
                client.start()
            for client in clients:
                client.join()
        finally:
            server.terminate()
            server.wait()
        faults = [client.fault for client in clients if client.fault]
        found = [] if faults else lost(clients, folder)
    times = defaultdict(list)
    for client in clients:
        for kind, measured in client.times.items():
            times[kind] += measured
    everything = [one for measured in times.values() for one in measured]
    print(
        json.dumps(
            {
                "seconds": seconds,
                "clients": n_clients,
                "seed": seed,
                "saved": len(times["save"]) - sum(client.clashes for client in clients),
                "clashes settled": sum(client.clashes for client in clients),
                "states streamed": sum(client.states for client in clients),
                "lost": len(found),
                "faults": len(faults),
                "p50": percentile(everything, 50),
                "p99": percentile(everything, 99),
                **{f"{kind} p99": percentile(measured, 99) for kind, measured in times.items()},
                "longest": round(max(everything), 1),
            }
        )
    )
    for line in (*faults[:5], *found[:5]):
        print(line, file=sys.stderr)
    return 1 if found or faults else 0


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(given + [300, 20, 1][len(given) :])))
