from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.pipeline import Run
from bonewright.report.write import write_report


def test_pdf_and_html_are_written_whole_and_nothing_else_is_left(
    full_run: Run, tmp_path: Path
) -> None:
    pdf, html = write_report(full_run, tmp_path)
    assert pdf.read_bytes().startswith(b"%PDF")
    assert html.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert {path.name for path in (tmp_path / "results").iterdir()} == {
        "report.pdf",
        "report.html",
    }


def test_a_folder_that_cannot_be_written_is_named_with_what_to_do(
    full_run: Run, tmp_path: Path
) -> None:
    (tmp_path / "results").write_text("a file stands where the folder should be")
    with pytest.raises(BonewrightError) as caught:
        write_report(full_run, tmp_path)
    assert "results" in caught.value.message
    assert caught.value.remedy
