"""The deposited file, read by others and damaged."""

import datetime
import io
import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from datacite import schema45
from rocrate.rocrate import ROCrate

from bonewright.errors import BonewrightError
from bonewright.study.crate import CrateFacts, crate_bytes, open_crate
from bonewright.study.settings_file import read_settings

DEMO = Path(__file__).parent.parent.parent / "demo"
DAY = datetime.date(2026, 11, 25)
FACTS = CrateFacts(made=DAY, software={"Bonewright": "0", "numpy": "2"})
CONTENTS = {
    "study.toml": (DEMO / "study.toml").read_bytes(),
    "tables/claims.csv": (DEMO / "tables" / "claims.csv").read_bytes(),
    "files/a scan, né 1902 (50 %20).txt": b"a path with all that an address cannot hold",
    "results/findings.json": b"{}\n",
}


def packed(deposit: dict[str, object] | None = None) -> bytes:
    settings, _ = read_settings(DEMO)
    assert settings is not None
    given = settings.deposit.model_copy(update=deposit or {})
    return crate_bytes(CONTENTS, settings.model_copy(update={"deposit": given}), FACTS)


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    path = tmp_path / "deposit.zip"
    path.write_bytes(
        packed(
            {
                "creators": ("Invented collection of Merrowend",),
                "license": "Creative Commons Attribution 4.0",
                "license_url": "https://creativecommons.org/licenses/by/4.0/",
            }
        )
    )
    return path


def test_the_reader_of_the_standards_own_library_finds_every_file_and_who_made_it(
    archive: Path,
) -> None:
    crate = ROCrate(archive)
    with zipfile.ZipFile(archive) as unpacked:
        sizes = {entry.filename: entry.file_size for entry in unpacked.infolist()}
    del sizes["ro-crate-metadata.json"]
    assert len(crate.data_entities) == len(sizes)
    assert {int(entity["contentSize"]) for entity in crate.data_entities} == set(sizes.values())
    assert crate.name.startswith("The great rail of Merrowend")
    assert crate.description.startswith("Invented")
    assert crate.datePublished.date() == DAY
    assert crate.license.id == "https://creativecommons.org/licenses/by/4.0/"
    assert [maker["name"] for maker in crate.root_dataset["creator"]] == [
        "Invented collection of Merrowend"
    ]
    run = crate.dereference("#run")
    assert {program["softwareVersion"] for program in run["instrument"]} == {"0", "2"}
    assert [made.id for made in run["result"]] == ["results/findings.json"]


def test_what_the_reader_writes_anew_holds_the_same_bytes(archive: Path, tmp_path: Path) -> None:
    ROCrate(archive).write(tmp_path / "again")
    for name, content in CONTENTS.items():
        assert (tmp_path / "again" / name).read_bytes() == content


@pytest.mark.parametrize("named", [True, False])
def test_the_deposits_metadata_pass_the_schema_of_datacite(named: bool) -> None:
    deposit = {"creators": ("A collection",), "publisher": "A museum", "keywords": ("rail",)}
    with zipfile.ZipFile(io.BytesIO(packed(deposit if named else None))) as unpacked:
        described = json.loads(unpacked.read("datacite.json"))
    assert list(schema45.validator.iter_errors(described)) == []


def test_the_same_contents_make_the_same_bytes() -> None:
    assert packed() == packed()


def test_whatever_is_done_to_an_archive_it_opens_as_it_was_or_is_refused(tmp_path: Path) -> None:
    whole, rng = packed(), np.random.default_rng(5)
    path = tmp_path / "damaged.zip"
    refused = 0
    for trial in range(300):
        damaged = bytearray(whole)
        if trial % 3:
            for _ in range(trial % 4 + 1):
                damaged[int(rng.integers(len(damaged)))] ^= 1 << int(rng.integers(8))
        else:
            damaged = damaged[: int(rng.integers(len(damaged)))]
        path.write_bytes(damaged)
        try:
            opened = open_crate(path)
        except BonewrightError:
            refused += 1
        else:
            assert {name: opened[name] for name in CONTENTS} == CONTENTS
    assert refused > 250


def test_a_file_that_is_not_there_is_said_to_be_missing_not_broken(tmp_path: Path) -> None:
    with pytest.raises(BonewrightError, match="There is no file"):
        open_crate(tmp_path / "none.zip")
