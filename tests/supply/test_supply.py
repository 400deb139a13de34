import hashlib
import os
import re
import runpy
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOOLS = ROOT / "tools"


@pytest.fixture
def _tools(monkeypatch) -> None:
    monkeypatch.syspath_prepend(str(TOOLS))


def test_the_licence_list_says_what_the_installed_packages_say() -> None:
    module = runpy.run_path(str(TOOLS / "write_licences.py"))
    assert (ROOT / "docs" / "licences.md").read_text(encoding="utf-8") == module["page"]()


def test_every_requirement_is_pinned_with_hashes_and_names_no_place_to_fetch_from() -> None:
    for name in ("runtime.txt", "test.txt"):
        text = (ROOT / "requirements" / name).read_text(encoding="utf-8")
        entries = re.split(r"\n(?=[a-z0-9])", text)
        assert len(entries) > 50
        for entry in entries:
            assert re.match(r"[A-Za-z0-9._\-\[\]]+==", entry), entry[:80]
            assert "--hash=sha256:" in entry, entry[:80]
        assert "://" not in text
        assert "index-url" not in text


@pytest.mark.usefixtures("_tools")
def test_two_builds_of_the_wheel_are_alike_byte_for_byte(tmp_path) -> None:
    from try_wheel import built

    first = built(tmp_path / "first")
    for path in (tmp_path / "first" / "source").rglob("*"):
        os.utime(path, (1_000_000_000, 1_000_000_000))
    second = built(tmp_path / "second")
    assert (
        hashlib.sha256(first.read_bytes()).digest() == hashlib.sha256(second.read_bytes()).digest()
    )
    names = set(zipfile.ZipFile(first).namelist())
    assert "bonewright/demo/study.toml" in names
    assert not [name for name in names if name.startswith("bonewright/demo/results")]


# Loops are compiled anew in a bare environment, which a busy machine does slowly.
@pytest.mark.slow
@pytest.mark.timeout(1500)
@pytest.mark.usefixtures("_tools")
def test_a_wheel_in_a_bare_environment_runs_the_demo(tmp_path) -> None:
    from try_wheel import built, run_demo_with

    said = run_demo_with(built(tmp_path / "built"), tmp_path)
    assert "invented" in said
    assert re.search(r"about \d+(\.\d)? kg", said)


@pytest.mark.usefixtures("_tools")
def test_an_audit_tells_what_it_could_not_look_up() -> None:
    from audit import words

    answers = [
        {"name": "sound", "version": "1", "vulns": []},
        {"name": "broken", "version": "2", "vulns": [{"id": "GHSA-0"}]},
        {"name": "strange", "version": "3", "skip_reason": "not found"},
    ]
    assert words(answers, "") == [
        "Known vulnerability: broken 2: GHSA-0",
        "Audit of dependencies: 2 looked up, 1 with a known vulnerability,"
        " 1 not known to the registry reached from here.",
    ]
    assert words([], "no network") == [
        "Audit of dependencies: could not be made here (no network)."
    ]
