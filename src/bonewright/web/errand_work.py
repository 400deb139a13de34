"""What errands do: the report, the archive, the workshop pack, two runs compared."""

import datetime
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright.study.within import results_place
from bonewright.web.changes_shown import changes_shown
from bonewright.web.errands import Made, Outcome, Tell

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.workshop.pack_choices import PackChoices

__all__ = ["compare_runs", "make_archive", "make_pack", "make_report"]


def make_report(folder: Path, run: "Run", place: Path, tell: Tell) -> Outcome:
    """Write the report and keep the run."""
    from bonewright.report.kept_runs import keep_run
    from bonewright.report.write import write_report

    del place
    tell("writing and drawing", 0, 2)
    pdf, html = write_report(run, folder)
    tell("keeping the run", 1, 2)
    keep_run(run, folder)
    return Outcome(
        files=(
            Made(name=pdf.name, path=pdf, media_type="application/pdf"),
            Made(name=html.name, path=html, media_type="text/html"),
        )
    )


def make_archive(folder: Path, run: "Run", place: Path, tell: Tell) -> Outcome:
    """Write study, findings and report as one file."""
    from bonewright.report.archive import archive_name, write_archive

    tell("gathering the study, its findings and its report", 0, 1)
    made = datetime.datetime.now(tz=datetime.UTC).date()
    target = place / archive_name(run, made)
    write_archive(run, folder, target, made=made)
    return Outcome(files=(Made(name=target.name, path=target, media_type="application/zip"),))


def compare_runs(folder: Path, earlier: str, later: str, place: Path, tell: Tell) -> Outcome:
    """Say what moved between two runs; an empty name is the study as it stands."""
    from bonewright.remembering import StepMemory
    from bonewright.report.compared import compare_inputs
    from bonewright.report.kept_runs import opened_run

    del place
    tell("opening both", 0, 2)
    memory = StepMemory(answers_a_step=16)
    memory.watcher = lambda _step, _done, _of: tell("computing both", 1, 2)
    with (
        opened_run(earlier or str(folder), folder=folder) as before,
        opened_run(later or str(folder), folder=folder) as after,
    ):
        shown = changes_shown(compare_inputs(before, after, memory=memory))
    if shown is None:
        return Outcome(lines=("Nothing differs between the two: not a row, choice or file.",))
    return Outcome(shown=shown)


def make_pack(choices: "PackChoices", folder: Path, run: "Run", place: Path, tell: Tell) -> Outcome:
    """Write the workshop pack, and zip it to be carried to the workshop."""
    from bonewright.workshop.pack import write_pack

    parts = 100
    pack = results_place(folder) / choices.folder_name
    booklet = write_pack(
        run,
        choices,
        pack,
        progress=lambda words, share: tell(words.lower(), round(share * (parts - 5)), parts),
    )
    tell("packing it into one file", parts - 5, parts)
    zipped = place / f"{choices.folder_name}.zip"
    with zipfile.ZipFile(zipped, "w", zipfile.ZIP_DEFLATED) as file:
        for path in sorted(pack.rglob("*")):
            if path.is_file():
                file.write(path, f"{choices.folder_name}/{path.relative_to(pack).as_posix()}")
    return Outcome(
        files=(
            Made(name="booklet.pdf", path=booklet, media_type="application/pdf"),
            Made(name=zipped.name, path=zipped, media_type="application/zip"),
        ),
        lines=(f"Kept in the study's results/{choices.folder_name} too.",),
    )
