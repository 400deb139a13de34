"""The commands, thin: each calls the library and turns its errors into words."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from bonewright import __version__
from bonewright.errors import BonewrightError, Problem, StudyProblems

__all__ = ["app", "main"]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Put an extinct animal back on its feet: from loose bones to a defended report.",
)

Folder = Annotated[Path, typer.Argument(help="The study folder.", show_default=False)]


@app.command()
def new(
    folder: Folder,
    title: Annotated[str, typer.Option(help="Title of the study.")] = "My study",
) -> None:
    """Make a blank study to fill in with a spreadsheet."""
    from bonewright.study.blank import new_study

    new_study(folder, title=title)
    _say(f"Made a blank study in {folder}.")
    _say(f"Open {folder / 'guide.html'} to see what goes where.")


@app.command()
def check(folder: Folder) -> None:
    """Print every problem in the study at once; exit 1 if there is any."""
    from bonewright.study.load import check_folder

    problems = check_folder(folder)
    if problems:
        _print_problems(problems)
        raise typer.Exit(1)
    from bonewright.pipeline import run_study
    from bonewright.study.load import load_study

    doubts = [doubt for doubt in run_study(load_study(folder)).doubts if doubt.decided is None]
    _say("No problems found.")
    if doubts:
        _say(f"{len(doubts)} rows are worth a look (say keep or set aside in decisions.csv):")
        for doubt in doubts:
            _say(
                f"  {doubt.ref.words()}, column {doubt.column}: {doubt.kind}: found"
                f" {doubt.found}; expected {doubt.expected}. {doubt.mend}"
            )


@app.command()
def run(
    folder: Folder,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print all findings as JSON instead of words.")
    ] = False,
) -> None:
    """Compute everything and print the verdict."""
    from bonewright.pipeline import run_study
    from bonewright.report.as_json import findings_json, write_findings
    from bonewright.study.load import load_study

    result = run_study(load_study(folder))
    saved = write_findings(result, folder)
    if as_json:
        sys.stdout.write(json.dumps(findings_json(result), indent=2, ensure_ascii=False) + "\n")
        return
    verdict = result.verdict
    if result.study.settings.study.invented:
        _say("An invented demonstration study: no real animal, place or collection.")
    for sentence in (
        verdict.mass_sentence,
        verdict.agreement_sentence,
        verdict.movement_sentence,
        verdict.testimony_sentence,
    ):
        if sentence:
            _say(sentence)
    open_doubts = [doubt for doubt in result.doubts if doubt.decided is None]
    if open_doubts:
        _say(f"Doubtful rows to decide on: {len(open_doubts)}")
        for doubt in open_doubts:
            held = "held out" if doubt.held_out else "used"
            _say(f"  {doubt.ref.words()}: {doubt.kind} ({held}); {doubt.mend}")
    for step, why in result.unanswered.items():
        _say(f"No answer on {step}: {why}")
    if saved is None:
        _say("The findings were not saved: the study's results folder cannot be written.")
    else:
        _say(f"All findings: {saved}")


@app.command()
def report(folder: Folder) -> None:
    """Write the report as PDF and as one HTML file."""
    from bonewright.pipeline import run_study
    from bonewright.report.write import write_report
    from bonewright.study.load import load_study

    result = run_study(load_study(folder))
    _say(result.verdict.mass_sentence)
    for path in write_report(result, folder):
        _say(f"Open {path}")


@app.command(name="open")
def open_page(
    folder: Folder,
    port: Annotated[int, typer.Option(help="Port on this machine; 0 picks a free one.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
) -> None:
    """Open the study as a page in your browser, on this machine only."""
    from bonewright.web.serve import serve

    serve(folder, port=port, open_browser=browser)


@app.command()
def version() -> None:
    """Print the version."""
    _say(__version__)


def main() -> None:
    """Run the command line; exit 1 on problems or no answer, 2 on wrong usage."""
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show a sign shows a stand-in, never a failure.
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        app()
    except StudyProblems as error:
        _print_problems(error.problems)
        sys.exit(1)
    except BonewrightError as error:
        sys.stderr.write(f"{error.message}\n{error.remedy}\n")
        sys.exit(1)


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")


def _print_problems(problems: tuple[Problem, ...]) -> None:
    for problem in problems:
        sys.stderr.write(problem.sentence() + "\n")
    count = len(problems)
    sys.stderr.write(f"{count} {'problem' if count == 1 else 'problems'} found.\n")
