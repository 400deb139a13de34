"""A full disk, a folder that can only be read, a hiccup, a file held open: nothing is lost."""

import errno
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.disk_faults import NotSaved
from bonewright.study.history import History
from bonewright.study.load import check_folder, load_study
from bonewright.study.raw import RawTable
from bonewright.study.read import read_tables
from bonewright.study.save import save_table, save_tables
from bonewright.web.workroom import Workroom

SRC = Path(__file__).parents[2] / "src"


def files_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for place in ("tables", "files")
        for path in sorted((folder / place).rglob("*"))
        if path.is_file()
    }


def with_remark(table: RawTable, words: str) -> RawTable:
    column = "measurementRemarks"
    header = table.header if column in table.header else (*table.header, column)
    rows = [row + ("",) * (len(header) - len(row)) for row in table.rows]
    changed = tuple((*row[:-1], words) for row in rows)
    return RawTable(
        name=table.name,
        file=table.file,
        header=header,
        rows=changed,
        row_numbers=table.row_numbers,
        dialect=table.dialect,
        content_hash=table.content_hash,
    )


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real disk of 1 MB."""
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(  # noqa: S603
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)],  # noqa: S607
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("this user may not make a small disk")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)  # noqa: S603, S607


def copy(source: Path, target: Path) -> Path:
    for path in source.rglob("*"):
        if path.is_file():
            beneath = target / path.relative_to(source)
            beneath.parent.mkdir(parents=True, exist_ok=True)
            beneath.write_bytes(path.read_bytes())
    return target


def fill(disk: Path, *, but_bytes: int) -> Path:
    """Fill a disk up to ``but_bytes``."""
    status = os.statvfs(disk)
    ballast = disk / "ballast"
    ballast.write_bytes(b"0" * max(0, status.f_bavail * status.f_frsize - but_bytes))
    return ballast


def test_however_full_the_disk_a_save_is_whole_or_not_at_all(
    study_folder: Path, small_disk: Path
) -> None:
    folder = copy(study_folder, small_disk / "study")
    history = History(folder)
    history.notice()
    refused: list[str] = []
    saved = 0
    # The disk fills at another of the files that a save writes each time.
    for free_pages in range(24):
        ballast = fill(small_disk, but_bytes=4096 * free_pages)
        tables = read_tables(folder)
        before = files_of(folder)
        changed = [
            with_remark(tables[name], f"round {free_pages} ".ljust(3000, "x"))
            for name in ("measurements", "relative_measurements")
        ]
        try:
            save_tables(folder, changed, what="A long remark", by="page")
        except NotSaved as error:
            refused.append(error.message)
            assert files_of(folder) == before
        else:
            saved += 1
        after = files_of(folder)
        ballast.unlink()
        history.notice()  # as the next one who opens it does
        assert files_of(folder) == after
        assert not list(folder.rglob(".*.part"))
    assert len(refused) > 5
    assert all("full" in message for message in refused)
    assert saved > 2
    assert check_folder(folder) == ()
    # Every state that was saved is in the history, and only those.
    assert [step.what for step in history.steps()[1:]] == ["A long remark"] * saved


def test_a_disk_that_can_only_be_read_opens_and_says_why_nothing_is_saved(
    study_folder: Path, small_disk: Path
) -> None:
    folder = copy(study_folder, small_disk / "study")
    subprocess.run(  # noqa: S603
        ["mount", "-o", "remount,ro", str(small_disk)],  # noqa: S607
        check=True,
    )
    assert load_study(folder).specimens
    with pytest.raises(NotSaved) as caught:
        save_table(folder, with_remark(read_tables(folder)["measurements"], "x"))
    assert "read" in str(caught.value)
    room = Workroom(folder)
    try:
        assert room.cannot_save
        assert room.look().raw["measurements"].rows
    finally:
        room.close()


UNPRIVILEGED = """
import os, sys
from pathlib import Path
from bonewright.study.disk_faults import NotSaved
from bonewright.study.load import load_study
from bonewright.study.read import read_tables
from bonewright.study.save import save_table

folder = Path(sys.argv[1])
load_study(folder)
if os.getuid() == 0:
    os.setuid(65534)
table = read_tables(folder)["measurements"]
try:
    save_table(folder, table.with_rows(table.rows[:1]))
except NotSaved as error:
    print(error)
"""


def test_a_folder_that_may_not_be_written_is_left_as_it_is(study_folder: Path) -> None:
    # In a folder of its own: those that tests are given may be read by their owner alone.
    with tempfile.TemporaryDirectory() as open_to_all:
        Path(open_to_all).chmod(0o755)
        folder = Path(open_to_all) / "study"
        shutil.copytree(study_folder, folder)
        before = files_of(folder)
        folder.chmod(0o555)
        (folder / "tables").chmod(0o555)
        try:
            said = subprocess.run(  # noqa: S603
                [sys.executable, "-c", UNPRIVILEGED, str(folder)],
                capture_output=True,
                text=True,
                check=True,
                env={**os.environ, "PYTHONPATH": str(SRC)},
            ).stdout
        finally:
            folder.chmod(0o755)
            (folder / "tables").chmod(0o755)
        assert "may not be written" in said
        assert files_of(folder) == before


TOO_LARGE = """
import resource, signal, sys
from pathlib import Path
from bonewright.study.disk_faults import NotSaved
from bonewright.study.history import History

folder = Path(sys.argv[1])
History(folder).notice()
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, resource.RLIM_INFINITY))
try:
    History(folder).commit(
        {"tables/sources.csv": b"x" * 70_000, "imports.toml": b"#"}, what="Too large", by="page"
    )
except NotSaved as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sets no limits of this kind")
def test_a_quota_met_in_the_middle_of_a_file_leaves_every_file_as_it_was(
    study_folder: Path,
) -> None:
    before = files_of(study_folder)
    said = subprocess.run(  # noqa: S603
        [sys.executable, "-c", TOO_LARGE, str(study_folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(SRC)},
    ).stdout
    assert "full" in said
    assert files_of(study_folder) == before
    assert not (study_folder / "imports.toml").exists()
    assert not list(study_folder.rglob(".*.part"))


def failing(
    monkeypatch: pytest.MonkeyPatch, code: int, *, times: int, wanted: str = "", of: object = os
) -> None:
    """Let the system's fsync (or a path's replace) fail so many times."""
    left = [times]
    name = "fsync" if of is os else "replace"
    real: Callable[..., object] = getattr(of, name)

    def call(*words: object) -> object:
        if left[0] and (not wanted or str(words[-1]).endswith(wanted)):
            left[0] -= 1
            raise OSError(code, os.strerror(code))
        return real(*words)

    monkeypatch.setattr(of, name, call)


@pytest.mark.parametrize("code", [errno.EIO, errno.ESTALE, errno.ETIMEDOUT])
def test_one_hiccup_of_a_network_share_is_outlasted(
    study_folder: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    table = with_remark(read_tables(study_folder)["measurements"], "new")
    History(study_folder).notice()
    failing(monkeypatch, code, times=1)
    save_table(study_folder, table)
    assert read_tables(study_folder)["measurements"].rows == table.rows


def test_a_share_that_stays_away_loses_nothing_and_the_same_save_works_later(
    study_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = with_remark(read_tables(study_folder)["measurements"], "new")
    History(study_folder).notice()
    before = files_of(study_folder)
    with monkeypatch.context() as patch:
        failing(patch, errno.EIO, times=99)
        with pytest.raises(NotSaved):
            save_table(study_folder, table)
    assert files_of(study_folder) == before
    save_table(study_folder, table)
    assert read_tables(study_folder)["measurements"].rows == table.rows


def test_a_file_held_open_for_a_moment_is_waited_for(
    study_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = with_remark(read_tables(study_folder)["measurements"], "new")
    failing(monkeypatch, errno.EACCES, times=2, wanted="measurements.csv", of=Path)
    save_table(study_folder, table)
    assert read_tables(study_folder)["measurements"].rows == table.rows


def test_if_one_of_two_files_stays_held_open_the_other_is_put_back(
    study_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables = read_tables(study_folder)
    history = History(study_folder)
    history.notice()
    before = files_of(study_folder)
    changed = [
        with_remark(tables[name], "new") for name in ("relative_measurements", "measurements")
    ]
    mark = study_folder / "tables" / ".~lock.measurements.csv#"
    mark.write_text("open")
    with monkeypatch.context() as patch:
        failing(patch, errno.EACCES, times=99, wanted="/measurements.csv", of=Path)
        with pytest.raises(NotSaved) as caught:
            save_tables(study_folder, changed, what="Both", by="page")
    assert "spreadsheet" in caught.value.remedy
    mark.unlink()
    assert files_of(study_folder) == before
    History(study_folder).settle()
    assert files_of(study_folder) == before
    assert [step.by for step in history.steps()] == ["as found"]


def test_a_step_that_could_be_neither_finished_nor_put_back_is_finished_later(
    study_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables = read_tables(study_folder)
    History(study_folder).notice()
    changed = [
        with_remark(tables[name], "new") for name in ("relative_measurements", "measurements")
    ]
    real = Path.replace
    after_decision = [False]

    def gone(path: Path, target: Path) -> Path:
        # The share goes away for good after the first of the two files was replaced.
        if after_decision[0]:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        after_decision[0] = str(target).endswith("relative_measurements.csv")
        return real(path, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", gone)
        with pytest.raises(NotSaved):
            save_tables(study_folder, changed, what="Both", by="page")
        problems = check_folder(study_folder)
    assert [problem.file for problem in problems] == ["history/pending.json"]
    assert check_folder(study_folder) == ()
    for table in changed:
        assert read_tables(study_folder)[table.name].rows == table.rows
    assert History(study_folder).steps()[-1].what == "Both"


def test_a_history_folder_that_is_no_folder_is_told(study_folder: Path) -> None:
    (study_folder / "history").write_text("in the way")
    with pytest.raises(BonewrightError):
        History(study_folder).notice()
