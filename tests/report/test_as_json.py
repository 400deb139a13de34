import json
from pathlib import Path

import jsonschema
import pytest

from bonewright.pipeline import Run
from bonewright.quantity import Quantity
from bonewright.report.as_json import findings_json, findings_schema, write_findings


def test_the_schema_is_sound_and_the_published_copy_is_the_same() -> None:
    schema = findings_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    published = Path(__file__).parents[2] / "docs" / "findings.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == schema


@pytest.mark.parametrize("which", ["full_run", "hostile_run", "empty_run"])
def test_findings_keep_to_the_schema(which: str, request: pytest.FixtureRequest) -> None:
    document = findings_json(request.getfixturevalue(which))
    jsonschema.Draft202012Validator(findings_schema()).validate(document)
    json.dumps(document, allow_nan=False)


def test_the_schema_refuses_a_quantity_without_its_interval(full_run: Run) -> None:
    document = findings_json(full_run)
    document["findings"][0]["interval95"] = None
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(findings_schema()).validate(document)


def test_a_quantity_is_given_by_its_median_mean_and_intervals_to_twelve_digits(
    full_run: Run,
) -> None:
    finding = full_run.findings[0]
    assert isinstance(finding.value, Quantity)
    summary = finding.value.summary()
    told = findings_json(full_run)["findings"][0]
    assert told["value"] == pytest.approx(summary.median, rel=1e-11)
    assert told["interval95"] == pytest.approx(list(summary.interval95), rel=1e-11)
    assert told["value"] == float(f"{summary.median:.12g}")
    assert told["how"]["rows"] == [{"table": "measurements", "row": 7, "id": "m-006"}]
    assert told["warnings"][0]["code"] == "held-out-row"


def test_findings_are_written_into_results(full_run: Run, tmp_path: Path) -> None:
    path = write_findings(full_run, tmp_path)
    assert path == tmp_path / "results" / "findings.json"
    assert json.loads(path.read_text(encoding="utf-8")) == findings_json(full_run)
    assert [p.name for p in path.parent.iterdir()] == ["findings.json"]


def test_a_folder_that_cannot_be_written_gives_none(full_run: Run, tmp_path: Path) -> None:
    (tmp_path / "results").write_text("a file stands where the folder should be")
    assert write_findings(full_run, tmp_path) is None
