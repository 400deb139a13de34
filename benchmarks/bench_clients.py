"""Twenty browsers' worth of clients edit one study at once: no update is lost.

The real server serves a copy of the demo on loopback; once it has computed it, each client
talks to it as the page does: it follows the stream of states, loads tables, has what is typed
checked, saves with the version it started from, and on a clash takes the joined rows, settles
what contradicts and saves again. Three kinds of edit are made: a cell of the client's own, a row of
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
                self.states += line.startswith("data:")
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

    def own_cell(self) -> None:
        value = f"{self.chance.uniform(0.01, 0.09):.4f}"

        def edit(table: dict[str, Any]) -> str:
            row = table["rows"][self.number]["cells"]
            row[table["header"].index("measurementAccuracy")] = value
            return str(row[table["header"].index("measurementID")])

        row_id = self.save("measurements", edit)
        self.cells[row_id] = value

    def own_row(self) -> None:
        name = f"src-{self.number}-{len(self.rows)}"

        def edit(table: dict[str, Any]) -> str:
            cells = {
                "sourceID": name,
                "bibliographicCitation": "A note",
                "sourceKind": "own measuring",
            }
            row = [cells.get(column, "") for column in table["header"]]
            table["rows"].append({"number": None, "cells": row})
            return name

        self.rows.add(self.save("sources", edit))

    def count(self) -> None:
        def edit(table: dict[str, Any]) -> str:
            place = table["header"].index("bibliographicCitation")
            row = next(r["cells"] for r in table["rows"] if r["cells"][0] == COUNT_ROW)
            row[place] = str(int(row[place]) + 1)
            return COUNT_ROW

        self.save("sources", edit)
        self.counted += 1

    def save(self, name: str, edit: Any) -> str:
        table = self.ask("load", "GET", f"/api/tables/{name}").json()
        self.ask("doubts", "GET", f"/api/tables/{name}/doubts")
        made: str = edit(table)
        state = {"header": table["header"], "rows": table["rows"]}
        self.ask("check", "POST", "/api/check", json={"tables": {name: state}})
        version = table["version"]
        for _ in range(200):
            sent = {"version": version, **state}
            answer = self.ask("save", "POST", f"/api/tables/{name}", json=sent)
            if answer.status_code == 200:
                return made
            self.clashes += 1
            clash = answer.json()
            version = clash["version"]
            state = {"header": clash["header"], "rows": clash["rows"]}
            place = clash["header"].index("bibliographicCitation") if name == "sources" else 0
            for found in clash["differences"]:
                # Two raised the count: the one who looks chooses the other's, raised once more.
                cells = state["rows"][found["index"]]["cells"]
                if cells[0] == COUNT_ROW:
                    cells[place] = str(int(found["on_disk"]) + 1)
            same = [f for f in clash["differences"] if f["row_id"] == COUNT_ROW]
            if made == COUNT_ROW and not same:
                # Both wrote the same number, which is no contradiction in words but one here.
                row = next(r["cells"] for r in state["rows"] if r["cells"][0] == COUNT_ROW)
                row[place] = str(self.count_now() + 1)
        raise RuntimeError("two hundred clashes in a row")

    def count_now(self) -> int:
        table = self.ask("load", "GET", "/api/tables/sources").json()
        place = table["header"].index("bibliographicCitation")
        return int(next(r["cells"][place] for r in table["rows"] if r["cells"][0] == COUNT_ROW))


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
