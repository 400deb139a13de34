"""The commands, thin: each calls the library and turns its errors into words."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bonewright import __version__
from bonewright.errors import BonewrightError, Problem, StudyProblems

if TYPE_CHECKING:
    from bonewright.report.section_desk import TraceChoices

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


@app.command()
def trace(
    folder: Folder,
    picture: Annotated[Path, typer.Argument(help="Photograph, scan or CT slice of a section.")],
    bar_mm: Annotated[float, typer.Option(help="Length of the scale bar in mm.")],
    bar_pixels: Annotated[float, typer.Option(help="Its length in pixels.")],
    rule: Annotated[str, typer.Option(help="half-maximum, otsu or fixed.")] = "half-maximum",
    level: Annotated[float | None, typer.Option(help="Grey value of the fixed rule.")] = None,
    dark_bone: Annotated[bool, typer.Option(help="Bone is darker than its surroundings.")] = False,
    anterior: Annotated[
        float, typer.Option(help="Direction of the bone's front: degrees from the right.")
    ] = 90.0,
    accept: Annotated[
        str, typer.Option(help="Keep the contour as an outline of this name, once looked at.")
    ] = "",
) -> None:
    """Find the contour of a bone section in a picture and show it for acceptance."""
    from bonewright.report.section_desk import accept_trace, traced

    if bar_pixels <= 0 or bar_mm <= 0:
        raise typer.BadParameter("The scale bar's lengths must be above 0.")
    found = traced(
        picture,
        picture.name,
        pixel_mm=bar_mm / bar_pixels,
        choices=_tracing(rule, level=level, dark_bone=dark_bone, anterior=anterior),
    )
    _look_at(folder, f"{picture.stem}-contour.svg", found.sheet_svg)
    properties = found.traced.properties
    low, high = found.traced.modulus_range_mm3
    _say(
        f"Area {properties.area_mm2:.4g} mm2, section modulus"
        f" {properties.section_modulus_mediolateral_mm3:.4g} mm3 ({low:.4g} to {high:.4g} with the"
        " threshold a tenth of the contrast either way)."
    )
    if accept:
        file = accept_trace(folder, accept, found.traced)
        _say(
            f"Kept. Write {file} into outlineFile, {found.traced.edge_doubt_mm:.3f} into"
            " measurementAccuracy and mm into measurementUnit of the section's row."
        )


@app.command()
def cut(
    folder: Folder,
    stack: Annotated[Path, typer.Argument(help="Folder or multi-page TIFF of slices.")],
    pixel_mm: Annotated[float | None, typer.Option(help="Side of a pixel in mm.")] = None,
    between_mm: Annotated[float | None, typer.Option(help="Distance of slices in mm.")] = None,
    rule: Annotated[str, typer.Option(help="half-maximum, otsu or fixed.")] = "half-maximum",
    level: Annotated[float | None, typer.Option(help="Grey value of the fixed rule.")] = None,
    dark_bone: Annotated[bool, typer.Option(help="Bone is darker than its surroundings.")] = False,
    anterior: Annotated[
        float, typer.Option(help="Direction of the bone's front: degrees from the right.")
    ] = 90.0,
    proximal_last: Annotated[
        bool, typer.Option(help="The last slice is nearest to the proximal end.")
    ] = False,
    every: Annotated[int, typer.Option(help="Keep a section at every so many percent.")] = 5,
    accept: Annotated[
        str, typer.Option(help="Keep the sections under this name, once looked at.")
    ] = "",
    element: Annotated[str, typer.Option(help="With --accept: which leg bone it is.")] = "femur",
    bone: Annotated[str, typer.Option(help="With --accept: the bone's materialEntityID.")] = "",
    species: Annotated[str, typer.Option(help="With --accept: or the living species.")] = "",
) -> None:
    """Cut a CT stack across its bone's axis, with curves of every property along it."""
    from bonewright.report.section_desk import accept_scan, cut_scan

    if not 1 <= every <= 49:
        raise typer.BadParameter("--every must lie between 1 and 49.")
    if accept and bool(bone) == bool(species):
        raise typer.BadParameter("Say with --bone or --species whose bone it is.")
    found = cut_scan(
        stack,
        stack.name,
        pixel_mm=pixel_mm,
        between_slices_mm=between_mm,
        proximal_first=not proximal_last,
        choices=_tracing(rule, level=level, dark_bone=dark_bone, anterior=anterior),
    )
    _look_at(folder, f"{stack.stem}-contours.svg", found.sheet_svg)
    curves = folder / "results" / f"{stack.stem}-along-bone.csv"
    curves.write_text(found.curves_csv, encoding="utf-8")
    _say(f"Every property at each percent of the length: {curves}")
    if accept:
        owner = {"element": element, "materialEntityID": bone, "scientificName": species}
        added = accept_scan(folder, accept, found, every_percent=every, owner=owner)
        _say(f"Added {added} rows to tables/sections.csv.")


def _tracing(rule: str, *, level: float | None, dark_bone: bool, anterior: float) -> "TraceChoices":
    from bonewright.report.section_desk import TraceChoices

    if rule not in ("half-maximum", "otsu", "fixed"):
        raise typer.BadParameter("--rule must be half-maximum, otsu or fixed.")
    return TraceChoices(rule=rule, level=level, dark_bone=dark_bone, anterior_deg=anterior)  # type: ignore[arg-type]


def _look_at(folder: Path, name: str, svg: str) -> None:
    sheet = folder / "results" / name
    sheet.parent.mkdir(parents=True, exist_ok=True)
    sheet.write_text(svg, encoding="utf-8")
    _say(f"Look at the contour: {sheet}")


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
