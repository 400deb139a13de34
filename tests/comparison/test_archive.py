import datetime
import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.pipeline import run_study
from bonewright.remembering import StepMemory
from bonewright.report.archive import reopen, study_files, write_archive
from bonewright.report.kept_runs import keep_run, kept_runs, opened_run
from bonewright.report.label import labels
from bonewright.study.crate import open_crate
from bonewright.study.load import load_study
from bonewright.web.label_shown import labels_shown

Copy = Callable[[str], Path]
DAY = datetime.date(2026, 11, 25)


def test_an_archive_reopens_with_nothing_lost_and_gives_identical_findings(
    few_draws: Copy, memory: StepMemory, tmp_path: Path
) -> None:
    folder = few_draws("one")
    files = {
        name: path.read_bytes()
        for name, path in study_files(folder)
        # Made anew from the tables, so that it describes them as they are.
        if name != "datapackage.json"
    }
    run = run_study(load_study(folder), memory=memory)
    archive = write_archive(run, folder, tmp_path / "deposit.zip", made=DAY)
    shutil.rmtree(folder)
    reopened = reopen(archive, tmp_path / "again")
    assert reopened.identical
    assert reopened.differing == ()
    kept = {name: path.read_bytes() for name, path in study_files(tmp_path / "again")}
    assert {name: kept.get(name) for name in files} == files

    described = json.loads(open_crate(archive)["ro-crate-metadata.json"])
    graph = {entity["@id"]: entity for entity in described["@graph"]}
    assert graph["ro-crate-metadata.json"]["about"] == {"@id": "./"}
    assert graph["ro-crate-metadata.json"]["conformsTo"]["@id"].startswith(
        "https://w3id.org/ro/crate/1."
    )
    root = graph["./"]
    assert {"name", "description", "datePublished", "license"} <= set(root)
    assert {part["@id"] for part in root["hasPart"]} == {
        key for key, entity in graph.items() if entity["@type"] == "File"
    }
    datacite = json.loads(open_crate(archive)["datacite.json"])
    assert datacite["publicationYear"] == "2026"
    assert datacite["types"]["resourceTypeGeneral"] == "Dataset"

    broken = tmp_path / "broken.zip"
    with zipfile.ZipFile(archive) as whole, zipfile.ZipFile(broken, "w") as other:
        for name in whole.namelist():
            content = whole.read(name)
            other.writestr(name, content + b"x" if name == "study.toml" else content)
    with pytest.raises(BonewrightError, match=r"changed: study\.toml"):
        open_crate(broken)


@pytest.mark.parametrize("name", ["../outside", "/outside", "a\\b"])
def test_a_path_that_leads_outside_is_refused(tmp_path: Path, name: str) -> None:
    archive = tmp_path / "odd.zip"
    with zipfile.ZipFile(archive, "w") as packed:
        packed.writestr(name, "x")
    with pytest.raises(BonewrightError):
        open_crate(archive)


def test_what_is_no_archive_is_refused_in_words(tmp_path: Path) -> None:
    path = tmp_path / "none.zip"
    path.write_bytes(b"no zip")
    with pytest.raises(BonewrightError):
        open_crate(path)


def test_a_kept_run_is_kept_once_and_opens_as_it_was(few_draws: Copy, memory: StepMemory) -> None:
    folder = few_draws("one")
    run = run_study(load_study(folder), memory=memory)
    name = keep_run(run, folder)
    assert name is not None
    assert keep_run(run, folder) == name
    (kept,) = kept_runs(folder)
    claims = folder / "tables" / "claims.csv"
    before = claims.read_text(encoding="utf-8")
    claims.write_text(before.replace("runs over stones", "runs"), encoding="utf-8")
    with opened_run(name, folder=folder) as inputs:
        again = inputs.run(memory)
    assert kept["run"] == name
    assert [finding.key for finding in again.findings] == [f.key for f in run.findings]
    assert again.study.claims[0].statement == "runs over stones"
    with pytest.raises(BonewrightError), opened_run("nothing", folder=folder):
        pass


def test_every_sentence_of_a_label_names_findings_of_the_run(
    few_draws: Copy, memory: StepMemory
) -> None:
    run = run_study(load_study(few_draws("one")), memory=memory)
    known = {finding.key for finding in run.findings}
    short, medium, long = labels(run)
    assert short.level.words < medium.level.words < long.level.words
    for label in (short, medium, long):
        assert label.sentences[0].text == "This animal is invented."
        for sentence in label.sentences[1:]:
            assert sentence.findings
            assert set(sentence.findings) <= known
    assert long.level.grade < 10
    for shown in labels_shown(run):
        for _, grounds in shown.sentences[1:]:
            assert grounds
            for ground in grounds:
                step, _, key = ground.href.removeprefix("/").partition("#")
                assert key in known
                assert step == key.partition(".")[0]
