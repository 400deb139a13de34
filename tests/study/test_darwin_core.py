"""Bones out as a Darwin Core Archive and in again."""

import io
import re
import shutil
import zipfile
from collections import Counter
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study
from bonewright.study.darwin_core import (
    archive_bytes,
    archive_preview,
    export_archive,
    import_archive,
)
from bonewright.study.load import check_folder, load_study

DEMO = Path(__file__).resolve().parents[2] / "demo"


def test_what_goes_out_comes_in_again(tmp_path: Path) -> None:
    demo = load_study(DEMO)
    export_archive(demo, tmp_path / "bones.zip")
    new_study(tmp_path / "study")
    merged = import_archive(tmp_path / "study", tmp_path / "bones.zip")
    assert merged.added["specimens"] == len(demo.specimens)
    assert merged.added["measurements"] == len(demo.measurements)
    assert check_folder(tmp_path / "study") == ()
    again = load_study(tmp_path / "study")
    bones = [
        (b.specimen_id, b.individual_id, b.element, b.side, b.sex, b.preservation, b.cast_of)
        for b in demo.specimens
    ]
    assert bones == [
        (b.specimen_id, b.individual_id, b.element, b.side, b.sex, b.preservation, b.cast_of)
        for b in again.specimens
    ]
    readings = [(m.specimen_id, m.code, m.value_mm, m.observer) for m in demo.measurements]
    assert readings == [(m.specimen_id, m.code, m.value_mm, m.observer) for m in again.measurements]


def test_taking_an_archive_twice_changes_nothing(tmp_path: Path) -> None:
    export_archive(load_study(DEMO), tmp_path / "bones.zip")
    new_study(tmp_path / "study")
    import_archive(tmp_path / "study", tmp_path / "bones.zip")
    merged = import_archive(tmp_path / "study", tmp_path / "bones.zip")
    assert not any(merged.added.values())
    assert merged.differing == []


def test_a_study_that_takes_in_its_own_archive_knows_every_row_of_it(tmp_path: Path) -> None:
    demo = load_study(DEMO)
    copy = tmp_path / "copy"
    shutil.copytree(DEMO, copy, ignore=shutil.ignore_patterns("results", "history"))
    export_archive(demo, tmp_path / "bones.zip")
    before = (copy / "tables" / "specimens.csv").read_bytes()
    merged = import_archive(copy, tmp_path / "bones.zip")
    assert set(merged.added.values()) == {0}
    assert merged.known["specimens"] == len(demo.specimens)
    assert merged.known["measurements"] == len(demo.measurements)
    assert merged.differing == []
    assert (copy / "tables" / "specimens.csv").read_bytes() == before


def test_bones_that_come_back_under_other_names_are_recognised_by_their_catalogue_number(
    tmp_path: Path,
) -> None:
    demo = load_study(DEMO)
    copy = tmp_path / "copy"
    shutil.copytree(DEMO, copy, ignore=shutil.ignore_patterns("results", "history"))
    _renamed(archive_bytes(demo), tmp_path / "back.zip")
    places = Counter(
        (b.institution_code, b.catalog_number, b.element, b.side) for b in demo.specimens
    )
    assert max(places.values()) == 1
    preview = archive_preview(copy, tmp_path / "back.zip")
    assert len(preview.merged.recognised) == len(demo.specimens)
    assert preview.merged.added == {"sources": 0, "specimens": 0, "measurements": 0}
    assert preview.merged.differing == []
    first = demo.specimens[0]
    assert f"is {first.specimen_id} here" in preview.merged.recognised[0]
    # A bone of a number that several like bones share is taken as new.
    path = copy / "tables" / "specimens.csv"
    text = path.read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if line.startswith(f"{first.specimen_id},"))
    path.write_text(text + row.replace(first.specimen_id, "bone-x", 1) + "\n", encoding="utf-8")
    assert archive_preview(copy, tmp_path / "back.zip").merged.added["specimens"] == 1


def _renamed(content: bytes, path: Path) -> None:
    """Write an archive as a collection gives it back: its own names for bones and readings."""
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            text = old.read(name).decode("utf-8")
            if name.endswith(".txt"):
                text = re.sub(r"\bbone-(\d+)", r"urn:occ:\1", text)
                text = re.sub(r"(?m)^(urn:occ:\d+\t)m-", r"\1fact-", text)
            new.writestr(name, text)


def test_the_same_study_gives_the_same_archive_and_every_term_is_darwin_core() -> None:
    demo = load_study(DEMO)
    assert archive_bytes(demo) == archive_bytes(demo)


def test_an_archive_whose_xml_plays_tricks_is_refused(tmp_path: Path) -> None:
    bomb = '<!DOCTYPE a [<!ENTITY b "bbbbbbbb">]><archive>&b;</archive>'
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as archive:
        archive.writestr("meta.xml", bomb)
    new_study(tmp_path / "study")
    with pytest.raises(BonewrightError):
        import_archive(tmp_path / "study", tmp_path / "bad.zip")


def test_an_archive_of_another_hand_is_read_by_its_own_meta_file(tmp_path: Path) -> None:
    meta = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
 <core rowType="http://rs.tdwg.org/dwc/terms/Occurrence" fieldsTerminatedBy="," fieldsEnclosedBy='"'
   ignoreHeaderLines="0"><files><location>a.csv</location></files><id index="1"/>
  <field index="0" term="http://rs.tdwg.org/dwc/terms/catalogNumber"/>
  <field index="2" term="http://rs.tdwg.org/dwc/terms/preparations"/>
  <field index="3" term="http://rs.tdwg.org/dwc/terms/locality"/>
  <field term="http://rs.tdwg.org/dwc/terms/institutionCode" default="HARB"/></core>
 <extension rowType="http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact"
   fieldsTerminatedBy="," ignoreHeaderLines="1"><files><location>m.csv</location></files>
  <coreid index="0"/><field index="1" term="http://rs.tdwg.org/dwc/terms/measurementType"/>
  <field index="2" term="http://rs.tdwg.org/dwc/terms/measurementValue"/>
  <field index="3" term="http://rs.tdwg.org/dwc/terms/measurementUnit"/></extension></archive>"""
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        archive.writestr("meta.xml", meta)
        archive.writestr("a.csv", '7,o-1,left femur,"cave, upper"\n')
        archive.writestr("m.csv", "id,t,v,u\no-1,GL,160.5,mm\n")
    new_study(tmp_path / "study")
    import_archive(tmp_path / "study", tmp_path / "b.zip")
    (bone,) = load_study(tmp_path / "study").specimens
    assert (bone.element, bone.institution_code, bone.catalog_number) == ("femur", "HARB", "7")
    assert "cave, upper" in (tmp_path / "study/tables/specimens.csv").read_text(
        encoding="utf-8-sig"
    )
    (measurement,) = load_study(tmp_path / "study").measurements
    assert measurement.value_mm == 160.5
