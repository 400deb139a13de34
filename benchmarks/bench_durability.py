"""Random edits of a small study under ``kill -9``: what was acknowledged is there, always.

A child, forked from a warm parent, edits the study without end and acknowledges each edit
after it: single cells, whole columns, imports over three tables, decisions, settings, files
written by hand, undo, redo and going back. The parent kills it at a random moment, opens
the study as the next user would, and compares every file and every step of the history with
a second study in which the same edits were made undisturbed. It must stand at the last
acknowledged edit, or at the complete one after it.

    python benchmarks/bench_durability.py [KILLS] [SEED]

Prints one line of JSON with what was counted; exits 1 at the first loss.
"""

import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from bonewright.study.history import History
from bonewright.study.history.going_back import last_undoable, last_undone
from bonewright.study.load import check_folder
from bonewright.study.merging import merge_rows
from bonewright.study.raw import RawTable
from bonewright.study.save import save_table
from bonewright.study.snapshot import read_snapshot

SETTINGS = """[study]
title = "A study that is killed"
question = "Is anything lost?"
invented = true

[animal]
name = "test rail"
"""
TABLES = {
    "sources": "sourceID,bibliographicCitation,sourceKind\nsrc-01,Own measuring,own measuring\n",
    "specimens": "materialEntityID,institutionCode,catalogNumber,element,side,sex,lifeStage,"
    "preparations,preservation\n"
    "bone-1,AAA,1,femur,left,unknown,adult,bone,complete\n"
    "bone-2,AAA,2,femur,left,unknown,adult,bone,complete\n",
    "measurements": "measurementID,materialEntityID,measurementType,measurementValue,"
    "measurementUnit\nm-1,bone-1,GL,171.2,mm\nm-2,bone-2,GL,168.4,mm\n",
}
# A kill comes within the time that so many edits take.
EDITS_A_KILL = 4
KINDS = ("cell", "column", "import", "decision", "settings", "by hand", "undo", "redo", "back")


def make_study(folder: Path) -> None:
    (folder / "tables").mkdir(parents=True)
    (folder / "study.toml").write_text(SETTINGS, encoding="utf-8")
    for name, text in TABLES.items():
        (folder / "tables" / f"{name}.csv").write_text(text, encoding="utf-8")
    History(folder).notice()


def set_values(table: RawTable, value: str, *, first_only: bool) -> RawTable:
    place = table.header.index("measurementValue")
    rows = [list(row) for row in table.rows]
    for row in rows[:1] if first_only else rows:
        row[place] = value
    return table.with_rows(tuple(tuple(row) for row in rows))


def kind_of(seed: int, number: int) -> str:
    """Return which kind of edit ``number`` is."""
    return random.Random(f"{seed}-{number}").choice(KINDS)  # noqa: S311 - no secret


def edit(folder: Path, seed: int, number: int) -> str:
    """Make edit ``number``: the same in every study that stands alike."""
    chance = random.Random(f"{seed}-{number}")  # noqa: S311 - no secret
    kind = chance.choice(KINDS)
    history = History(folder)
    steps = history.steps()
    if kind == "undo" and last_undoable(steps) is not None:
        history.undo(by="page")
    elif kind == "redo" and last_undone(steps) is not None:
        history.redo(by="page")
    elif kind == "back":
        history.restore(chance.choice(steps).number, by="page")
    elif kind == "import":
        merge_rows(
            folder,
            {
                "sources": [
                    {"sourceID": f"src-{number}", "bibliographicCitation": "A sheet"}
                    | {"sourceKind": "collection record"}
                ],
                "specimens": [
                    {"materialEntityID": f"bone-{number}", "institutionCode": "BBB"}
                    | {"catalogNumber": str(number), "element": "femur", "side": "left"}
                    | {"preparations": "bone", "preservation": "complete"}
                ],
                "measurements": [
                    {"measurementID": f"m-{number}", "materialEntityID": f"bone-{number}"}
                    | {"measurementType": "GL", "measurementValue": "170"}
                    | {"measurementUnit": "mm"}
                ],
            },
            what=f"Import {number}",
            beside={"imports.toml": f"# import {number}\n".encode()},
        )
    elif kind == "decision":
        table = read_snapshot(folder).raw["decisions"]
        cells = {
            "decisionID": f"dec-{number}",
            "tableName": "measurements",
            "rowID": "m-1",
            "decision": "keep",
            "reason": f"Looked at, {number}.",
        }
        row = tuple(cells.get(name, "") for name in table.header)
        save_table(folder, table.with_rows((row,)), by="page")
    elif kind == "settings":
        text = SETTINGS.replace("Is anything lost?", f"Is anything lost after {number}?")
        history.commit({"study.toml": text.encode()}, what="Settings", by="page")
    elif kind == "by hand":
        path = folder / "tables" / "sources.csv"
        beside = folder / "by-hand.tmp"
        beside.write_bytes(path.read_bytes().replace(b"Own measuring", f"Own {number}".encode(), 1))
        beside.replace(path)
        history.notice()
    else:
        table = read_snapshot(folder).raw["measurements"]
        value = f"{160 + number % 2000 / 100:.2f}{number}"
        save_table(folder, set_values(table, value, first_only=kind == "cell"), by="page")
    return kind


def stands(folder: Path) -> tuple[dict[str, bytes], list[object]]:
    """Return every file of the study and every step of its history."""
    files = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in (folder / "study.toml", folder / "imports.toml", *folder.glob("tables/*"))
        if path.is_file() and not path.name.startswith(".")
    }
    steps: list[object] = [
        (step.number, step.by, step.undoes, step.redoes, step.changes)
        for step in History(folder).steps()
    ]
    return files, steps


def edit_until_killed(folder: Path, seed: int, number: int, pipe: int) -> None:
    try:
        while True:
            edit(folder, seed, number)
            os.write(pipe, b".")
            number += 1
    except BaseException as error:
        os.write(pipe, f"!{error!r}"[:2000].encode())
    os._exit(1)


def killed_once(folder: Path, seed: int, number: int, wait_s: float) -> tuple[int, str]:
    """Let a child edit, kill it after ``wait_s``; return acknowledged edits and any fault."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        edit_until_killed(folder, seed, number, writing)
    os.close(writing)
    time.sleep(wait_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    said = b""
    while chunk := os.read(reading, 65536):
        said += chunk
    os.close(reading)
    acknowledged, _, fault = said.decode(errors="replace").partition("!")
    return len(acknowledged), fault


def loss(killed: Path, undisturbed: Path) -> str:
    """Say where the killed study differs from the undisturbed one; empty if nowhere."""
    files, steps = stands(killed)
    expected_files, expected_steps = stands(undisturbed)
    for name in {**files, **expected_files}:
        if files.get(name) != expected_files.get(name):
            return f"{name} differs"
    return "" if steps == expected_steps else "the history differs"


def time_of_an_edit(folder: Path, seed: int) -> float:
    make_study(folder)
    start = time.perf_counter()
    for number in range(30):
        edit(folder, seed, number)
    return (time.perf_counter() - start) / 30


def main(kills: int, seed: int) -> int:
    chance = random.Random(seed)  # noqa: S311 - no secret
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="bonewright-killed-") as made:
        killed, undisturbed = Path(made) / "killed", Path(made) / "undisturbed"
        for folder in (killed, undisturbed):
            make_study(folder)
        done = 0
        edit_s = time_of_an_edit(Path(made) / "timed", seed)
        for _ in range(kills):
            wait_s = chance.uniform(0, EDITS_A_KILL * edit_s)
            acknowledged, fault = killed_once(killed, seed, done, wait_s)
            if fault:
                print(f"An edit failed: {fault}", file=sys.stderr)
                return 1
            half_placed = (killed / "history" / "pending.json").exists()
            laid_down = any(killed.glob("tables/.*.part"))
            counts["decided, not finished"] += half_placed
            counts["laid down, not decided"] += laid_down and not half_placed
            History(killed).notice()
            problems = check_folder(killed)
            for _ in range(acknowledged):
                counts[edit(undisturbed, seed, done)] += 1
                done += 1
            found = loss(killed, undisturbed)
            if found:
                counts[edit(undisturbed, seed, done)] += 1
                done += 1
                counts["one complete edit after the last acknowledged"] += 1
                found = loss(killed, undisturbed)
            if found or problems:
                words = found or problems[0].sentence()
                print(f"Lost at edit {done}, seed {seed}: {words}", file=sys.stderr)
                return 1
    print(json.dumps({"kills": kills, "seed": seed, "edits": done, "lost": 0, **counts}))
    return 0


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(given + [2000, 1][len(given) :])))
