"""The commands, thin: each calls the library and turns its errors into words."""

import contextlib
import gc
import os
import re
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer
from typer.core import TyperCommand

from bonewright import __version__
from bonewright.errors import BonewrightError, Problem, StudyProblems

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.report.section_desk import TraceChoices

if TYPE_CHECKING:
    from bonewright.study.history import History, Step
    from bonewright.study.importing import ImportPlan
    from bonewright.study.merging import Merged

__all__ = ["app", "main"]

_Function = TypeVar("_Function", bound=Callable[..., Any])
_LAST_STEPS = 40
_TYPE_NAME = re.compile(r"(--\S+ |[^\s-]\S* )<(str|path|int|float)>")
# What to write after an option, in as many letters as the type's name takes.
_WORDS = {"str": "WORDS", "path": "FILE", "int": "N", "float": "NUMBER"}


class _PlainCommand(TyperCommand):
    """A command whose help says what to type and not of which type it is."""

    def get_help(self, ctx: Any) -> str:
        """Return the help page."""

        def plain(match: re.Match[str]) -> str:
            name, kind = match.groups()
            return name + (_WORDS[kind] if name.startswith("-") else "").ljust(len(kind) + 2)

        return re.sub(r"\{(\w+)\}", r"\1", _TYPE_NAME.sub(plain, super().get_help(ctx)))


class _App(typer.Typer):
    """The commands, each with plain help."""

    def command(self, name: str | None = None, **options: Any) -> Callable[[_Function], _Function]:
        """Make a function a command."""
        return super().command(name, cls=_PlainCommand, **options)


app = _App(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Put an extinct animal back on its feet: from loose bones to a defended report.",
)

Folder = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="The study folder.", show_default=False)
]


@app.command()
def new(
    folder: Folder,
    title: Annotated[str, typer.Option(help="Title of the study.")] = "My study",
    demo: Annotated[
        bool, typer.Option("--demo", help="Copy the invented demo instead, to try and to break.")
    ] = False,
) -> None:
    """Make a blank study to fill in with a spreadsheet."""
    if demo:
        from bonewright.study.demo import copy_demo

        copy_demo(folder)
        _say(f"Copied the invented demo study to {folder}.")
        return
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
    from bonewright.study.remarks import remarks

    result = _computed(folder)
    study = result.study
    doubts = [doubt for doubt in result.doubts if doubt.decided is None]
    _say("No problems found.")
    for remark in remarks(study):
        _say(f"Worth knowing: {remark}")
    if doubts:
        rows = "1 row is" if len(doubts) == 1 else f"{len(doubts)} rows are"
        _say(f"{rows} worth a look (say keep or set aside in decisions.csv):")
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
    cluster: Annotated[
        str, typer.Option(help="Address of a Dask scheduler that shares out work on many trees.")
    ] = "",
) -> None:
    """Compute everything and print the verdict."""
    if cluster:
        from bonewright.cluster import on_cluster
        from bonewright.pipeline import run_study
        from bonewright.study.load import load_study

        study = load_study(folder)
        with on_cluster(cluster) as spread:
            result = run_study(study, spread=spread)
    else:
        result = _computed(folder)
    from bonewright.report.as_json import as_text, findings_json, write_findings
    from bonewright.report.kept_runs import keep_run
    from bonewright.report.still_missing import still_missing
    from bonewright.report.wording import doubt_state

    saved = write_findings(result, folder)
    kept = keep_run(result, folder)
    if as_json:
        sys.stdout.write(as_text(findings_json(result)))
        return
    verdict = result.verdict
    if result.study.settings.study.invented:
        _say("An invented demonstration study: no real animal, place or collection.")
    _say_bone_lengths(result)
    for sentence, answer in (
        (verdict.mass_sentence, result.pooled),
        (verdict.agreement_sentence, result.pooled),
        (verdict.movement_sentence, result.movement),
        (verdict.testimony_sentence, result.testimony),
    ):
        if sentence and answer is not None:
            _say(sentence)
    _say_models(result)
    open_doubts = [doubt for doubt in result.doubts if doubt.decided is None]
    if open_doubts:
        _say(f"Doubtful rows to decide on: {len(open_doubts)}")
        for doubt in open_doubts:
            _say(f"  {doubt.ref.words()}: {doubt.kind} ({doubt_state(doubt)}); {doubt.mend}")
    missing = still_missing(result)
    if missing:
        _say("Not said yet, and what to do next:")
    for one in missing:
        _say(f"  {one.what}: {one.next_step}")
    if saved is None:
        _say("The findings were not saved: the study's results folder cannot be written.")
    else:
        _say(f"All findings: {saved}")
    if kept is not None:
        _say(f"Kept as run {kept}")


@app.command()
def report(folder: Folder) -> None:
    """Write the report as PDF and as one HTML file."""
    from bonewright.report.write import write_report

    result = _computed(folder)
    _say(result.verdict.mass_sentence)
    for path in write_report(result, folder):
        _say(f"Open {path}")


@app.command(name="check-model")
def check_model(
    folder: Folder,
    card: Annotated[
        Path | None,
        typer.Argument(help="The pack's check card, filled in; without it the rows there are."),
    ] = None,
) -> None:
    """Hold a finished model against the bones: take in its check card and say where it is off."""
    if card is not None:
        from bonewright.study.check_cards import take_check_card

        _say_merged(take_check_card(folder, card))
    result = _computed(folder)
    told = _say_models(result)
    if not told:
        _say("No model has been measured: fill in the check card of a workshop pack.")


def _say_models(result: "Run") -> bool:
    """Say for each finished model where it left the bones; whether there was any."""
    from bonewright.findings import Statement

    of_models = [finding for finding in result.findings if finding.key.startswith("body.models.")]
    for finding in of_models:
        if isinstance(finding.value, Statement):
            _say(f"{finding.title}: {finding.value.text}")
    return bool(of_models)


@app.command(name="import")
def import_sheet(
    folder: Folder,
    file: Annotated[Path, typer.Argument(help="Spreadsheet (csv, xlsx, ods) or Darwin Core zip.")],
    column: Annotated[
        list[str] | None,
        typer.Option(help="What a header means, as 'Breite=code Bp' or 'Kiste=organismID'."),
    ] = None,
    mapping: Annotated[
        Path | None,
        typer.Option(help="What headers mean, as in another study's imports.toml."),
    ] = None,
    keep_unknown: Annotated[
        bool, typer.Option(help="Keep columns that nothing explains in the remarks; do not ask.")
    ] = False,
    element: Annotated[str, typer.Option(help="The bone of rows that do not say it.")] = "",
    unit: Annotated[str, typer.Option(help="Unit of lengths where none is given.")] = "",
    institution: Annotated[str, typer.Option(help="Collection of rows that name none.")] = "",
    only_show: Annotated[
        bool, typer.Option(help="Show what would be read; write nothing.")
    ] = False,
) -> None:
    """Take a museum's spreadsheet (a row a bone, a column a measurement) into the study."""
    from bonewright.study.darwin_core import import_archive
    from bonewright.study.importing import import_plan, import_preview, import_rows

    if file.suffix.casefold() == ".zip":
        _say_merged(import_archive(folder, file))
        return
    told = dict(_split_column(entry) for entry in column or [])
    read = partial(import_plan, folder, file, mapping=mapping, unit=unit, institution=institution)
    plan = read(told=told, element=element)
    for line in plan.words():
        _say(line)
    if only_show:
        preview = import_preview(folder, plan)
        for table, count in preview.merged.added.items():
            _say(f"{table}: {count} rows would be added")
        if preview.problems:
            _say("The study would then have these problems:")
            _print_problems(preview.problems)
        return
    ask = sys.stdin.isatty()
    if not keep_unknown:
        told |= _meanings_of_unknown(plan, read, told, element=element, ask=ask)
        plan = read(told=told, element=element)
    if plan.needs_element() and ask:
        element = typer.prompt("Which bone are the rows of?")
        plan = read(told=told, element=element)
    merged, gathered = import_rows(folder, plan)
    _say_merged(merged)
    for title, lines in (
        ("Taken for granted:", sorted(gathered.assumed)),
        (
            "Cells that are no such value, kept in the remarks of their bone:",
            gathered.kept_as_remarks,
        ),
        ("Rows without a bone, not taken:", gathered.without_bone),
    ):
        if lines:
            _say(title)
        for line in lines:
            _say(f"  {line}")


@app.command()
def history(
    folder: Folder,
    step: Annotated[
        int | None, typer.Option(help="Show every cell and row that this step changed.")
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Show every step, not the last 40 only.")
    ] = False,
) -> None:
    """List what was changed in the study, when, and from where; the latest step last."""
    from bonewright.study.disk_faults import NotSaved
    from bonewright.study.history.row_changes import changes_of

    record = _history(folder)
    with contextlib.suppress(NotSaved):  # a folder that can only be read still has its steps
        record.notice()
    steps = record.steps()
    if step is not None:
        chosen = next((one for one in steps if one.number == step), None)
        if chosen is None:
            raise BonewrightError(
                f"There is no step {step}.", remedy="See the steps with: bonewright history FOLDER"
            )
        _say(_step_words(chosen))
        for change in changes_of(record, chosen):
            _say(f"  {change.sentence()}")
        return
    shown = steps if everything else steps[-_LAST_STEPS:]
    if len(shown) < len(steps):
        _say(f"The last {len(shown)} of {len(steps)} steps; --all shows every one.")
    for one in shown:
        _say(_step_words(one))
    for line in record.damaged_lines():
        _say(f"Line {line} of history/journal.jsonl cannot be read and is passed over.")
    _say("Go back with: bonewright restore FOLDER --to 'before 12' (or a day, or a time)")


@app.command()
def restore(
    folder: Folder,
    to: Annotated[
        str,
        typer.Option(
            help="A step (12), 'before 12', a day (2026-05-03, '3 May') or a day and a time.",
            show_default=False,
        ),
    ],
) -> None:
    """Take the study back to an earlier moment; this is a step too and can be taken back."""
    import datetime

    from bonewright.study.history import moment_of

    record = _history(folder)
    record.notice()
    now = datetime.datetime.now().astimezone()
    restored = record.restore(moment_of(to, record.steps(), now=now), by="command line")
    if restored.step is None:
        _say("The study stands as it did then: nothing was changed.")
    else:
        _say(_step_words(restored.step))
        for change in restored.step.changes:
            _say(f"  {change.path}{' taken away' if change.after is None else ''}")
    for path in restored.left:
        _say(f"  {path} was left as it is: of pictures and scans no earlier content is kept.")


def _history(folder: Path) -> "History":
    from bonewright.study.history import History

    if not (folder / "study.toml").is_file() and not (folder / "history").is_dir():
        raise BonewrightError(
            f"{folder} is no study folder.", remedy="Give the folder that holds study.toml."
        )
    return History(folder)


def _step_words(step: "Step") -> str:
    when = step.when.astimezone().strftime("%Y-%m-%d %H:%M:%S")
    return f"{step.number:5d}  {when}  {step.what} ({step.by})"


@app.command()
def export(
    folder: Folder,
    file: Annotated[Path, typer.Argument(help="Zip to write; it must not exist.")],
) -> None:
    """Write the bones and their measurements as a Darwin Core Archive."""
    from bonewright.study.darwin_core import export_archive
    from bonewright.study.load import load_study

    export_archive(load_study(folder), file)
    _say(f"Wrote {file}")


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
        str, typer.Option(help="Keep the contour as the section of this name, once looked at.")
    ] = "",
    element: Annotated[str, typer.Option(help="For a new section: which leg bone it is.")] = "",
    bone: Annotated[str, typer.Option(help="For a new section: materialEntityID.")] = "",
    species: Annotated[str, typer.Option(help="For a new section: or the living species.")] = "",
    position: Annotated[
        str, typer.Option(help="For a new section: percent from the proximal end.")
    ] = "",
    length_mm: Annotated[str, typer.Option(help="For a new section: the bone's length.")] = "",
) -> None:
    """Find the contour of a bone section in a picture and show it for acceptance."""
    from bonewright.report.section_desk import traced
    from bonewright.report.section_kept import accept_trace

    if bar_pixels <= 0 or bar_mm <= 0:
        raise typer.BadParameter("The scale bar's lengths must be above 0.")
    found = traced(
        picture,
        picture.name,
        pixel_mm=bar_mm / bar_pixels,
        choices=_tracing(rule, level=level, dark_bone=dark_bone, anterior=anterior),
    )
    _look_at(folder, f"{picture.stem}-contour.svg", found.sheet_svg)
    for remark in found.remarks:
        _say(remark)
    properties = found.traced.properties
    low, high = found.traced.modulus_range_mm3
    _say(
        f"Area {properties.area_mm2:.4g} mm2, section modulus"
        f" {properties.section_modulus_mediolateral_mm3:.4g} mm3 ({low:.4g} to {high:.4g} with the"
        " threshold a tenth of the contrast either way)."
    )
    if accept:
        cells = {
            "materialEntityID": bone,
            "scientificName": species,
            "element": element,
            "position": position,
            "boneLength": length_mm,
        }
        kept = accept_trace(folder, accept, found.traced, cells=cells)
        _say(
            f"Kept as {kept.file}, in {'a new row' if kept.row_is_new else 'the row'}"
            f" {kept.section_id} of tables/sections.csv."
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
    from bonewright.report.section_desk import cut_scan
    from bonewright.report.section_kept import accept_scan

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
    for remark in found.remarks:
        _say(remark)
    curves = _kept_in_results(folder, f"{stack.stem}-along-bone.csv", found.curves_csv)
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
    _say(f"Look at the contour: {_kept_in_results(folder, name, svg)}")


def _kept_in_results(folder: Path, name: str, text: str) -> Path:
    from bonewright.study.atomic import write_atomically
    from bonewright.study.within import results_place

    place = results_place(folder) / name
    write_atomically(place, text.encode("utf-8"))
    return place


@app.command()
def shape(folder: Folder) -> None:
    """Write the body grown from the skeleton as GLB solids, lean, average, fat and feathered."""
    from bonewright.pipeline import run_study
    from bonewright.report.body_desk import write_solids
    from bonewright.study.load import load_study

    for path in write_solids(run_study(load_study(folder)), folder):
        _say(f"Wrote {path}")


@app.command()
def pack(
    folder: Folder,
    scale: Annotated[str, typer.Option(help="n of the scale 1:n; 1 is life size.")] = "4",
    state: Annotated[str, typer.Option(help="lean, mean or fat.")] = "mean",
    layer: Annotated[str, typer.Option(help="skeleton, naked or feathered.")] = "feathered",
    fill: Annotated[
        str, typer.Option(help="clay, 'clay on foam' or 'cast shell'; else what suits its size.")
    ] = "",
    paper: Annotated[str, typer.Option(help="A4, A3, letter, or a roll, as 'roll 914'.")] = "A4",
    bed: Annotated[
        str, typer.Option(help="The printer's bed: width, depth, height in mm.")
    ] = "220x220x250",
    wall: Annotated[float, typer.Option(help="Wall of prints in mm.")] = 2.0,
    infill: Annotated[float, typer.Option(help="Filling of prints in percent.")] = 10.0,
    hollow: Annotated[bool, typer.Option(help="Make the prints hollow themselves.")] = False,
    covering: Annotated[
        float, typer.Option(help="How far inside the surface hoops end, in mm.")
    ] = 0.0,
    out: Annotated[Path | None, typer.Option(help="Folder to write; a pack there is replaced.")] = (
        None
    ),
) -> None:
    """Write what a workshop needs to build the animal: booklet, drawings, hoops, prints, lists."""
    from bonewright.study.within import results_place
    from bonewright.workshop.pack import write_pack
    from bonewright.workshop.pack_choices import PackChoices, bed_from, paper_from, scale_from

    choices = PackChoices(
        scale_denominator=scale_from(scale),
        state=state,
        layer=layer,
        fill=fill or None,
        paper=paper_from(paper),
        bed=bed_from(bed),
        wall_mm=wall,
        infill_percent=infill,
        hollow=hollow,
        covering_mm=covering,
    )
    target = results_place(folder) / choices.folder_name if out is None else out
    booklet = write_pack(_computed(folder), choices, target)
    _say(f"Wrote the workshop pack to {target}")
    _say(f"Open {booklet}")


@app.command()
def plan(folder: Folder) -> None:
    """Write the body plan of a ground bird into the study's tables, to be edited there."""
    from bonewright.report.body_desk import write_plan

    for path in write_plan(folder):
        _say(f"Wrote {path}")


@app.command()
def hoops(
    folder: Folder,
    segment: Annotated[str, typer.Argument(help="The segment, such as trunk.")],
    side: Annotated[
        Path | None, typer.Option(help="Its outline from the side, SVG or DXF.")
    ] = None,
    top: Annotated[Path | None, typer.Option(help="Its outline from above, SVG or DXF.")] = None,
    scan: Annotated[
        Path | None, typer.Option(help="Or a scan of it, lying along x with its back up (z).")
    ] = None,
    other_percent: Annotated[
        float, typer.Option(help="Share of the traced volume that is fat or plumage.")
    ] = 0.0,
    accept: Annotated[bool, typer.Option(help="Keep the hoops in the study.")] = False,
) -> None:
    """Trace the hoops of a segment from outlines of two sides, or from a scan."""
    from bonewright.report.body_desk import accept_hoops, hoops_of_drawings, hoops_of_scan

    if not 0 <= other_percent < 90:
        raise typer.BadParameter("--other-percent must lie between 0 and 90.")
    if scan is not None and side is None and top is None:
        found, source = hoops_of_scan(scan), scan.name
    elif scan is None and side is not None and top is not None:
        found, source = hoops_of_drawings(side, top), f"{side.name} and {top.name}"
    else:
        raise typer.BadParameter("Give --side and --top, or --scan.")
    _say("station %, half-width, above, below (over the segment's length), shape")
    for hoop in found:
        _say(
            f"{100 * hoop.station:9.0f}  {hoop.half_width:10.3f}  {hoop.dorsal:5.3f}"
            f"  {hoop.ventral:5.3f}  {hoop.exponent:5.2f}"
        )
    if accept:
        accept_hoops(folder, segment, found, source=source, other_percent=other_percent)
        _say(
            "Kept in tables/body_hoops.csv. Say in study.toml (body_plan_traced_from) what they"
            " were traced from."
        )


@app.command()
def methods(folder: Folder) -> None:
    """Try other methods of mass from leg bones on the study's relatives."""
    from bonewright.errors import NotEnoughEvidence
    from bonewright.pipeline import run_study
    from bonewright.relatives.methods_tried import try_methods
    from bonewright.report.methods_tried import methods_page
    from bonewright.study.load import load_study

    study = load_study(folder)
    result = run_study(study)
    if result.relatives is None or result.relatives.joint is None:
        raise NotEnoughEvidence(
            "The methods could not be compared.",
            needed="leg bones fitted together over the relatives",
            found=result.unanswered.get("relatives", "too few relatives with the same bones"),
            would_help="rows in relatives.csv and relative_measurements.csv",
        )
    tried = try_methods(
        study.relatives,
        study.relative_measurements,
        bones=result.relatives.joint.bones,
        trees=study.trees,
        kept=study.kept,
        set_aside=study.set_aside,
    )
    header = study.settings.study
    page = methods_page(tried, title=header.title, invented=header.invented)
    _say(page)
    _say(f"Kept as {_kept_in_results(folder, 'methods.md', page)}")


@app.command()
def compare(
    earlier: Annotated[str, typer.Argument(help="A kept run, a study folder or an archive.")],
    later: Annotated[str, typer.Argument(help="The same: what to compare it with.")],
    study: Annotated[
        Path, typer.Option(metavar="FOLDER", help="The study whose kept runs are meant.")
    ] = Path(),
) -> None:
    """Show which conclusions moved between two runs, how far, and because of which rows."""
    from bonewright.report.compared import compared_words
    from bonewright.report.kept_runs import opened_run

    with opened_run(earlier, folder=study) as before, opened_run(later, folder=study) as after:
        for line in compared_words(before, after):
            _say(line)


@app.command()
def archive(
    folder: Folder,
    to: Annotated[Path | None, typer.Option(help="The file to write.")] = None,
) -> None:
    """Write study, findings and report as one file to deposit (RO-Crate)."""
    import datetime

    from bonewright.pipeline import run_study
    from bonewright.report.archive import archive_name, write_archive
    from bonewright.study.load import load_study

    result = run_study(load_study(folder))
    made = datetime.datetime.now(tz=datetime.UTC).date()
    target = Path(archive_name(result, made)) if to is None else to
    _say(f"Wrote {write_archive(result, folder, target, made=made)}")
    deposit = result.study.settings.deposit
    unsaid = [name for name in ("creators", "publisher") if not getattr(deposit, name)]
    if unsaid:
        _say(
            f"The study names no {' and no '.join(unsaid)}: say them under [deposit] in study.toml"
            " before you deposit it, and see that the licence there"
            f" ({deposit.license}) is the one you mean."
        )


@app.command()
def reopen(
    archive_file: Annotated[Path, typer.Argument(help="An archive, as bonewright archive wrote.")],
    folder: Annotated[Path, typer.Argument(help="A new folder to unpack it in.")],
) -> None:
    """Unpack an archive, check it, run it, and say whether the findings are the same."""
    from bonewright.report.archive import reopen as reopen_archive

    reopened = reopen_archive(archive_file, folder)
    _say(f"Unpacked to {folder}; every file is as it was deposited.")
    if reopened.identical:
        _say("Run again: every finding is identical, bit for bit.")
        return
    count = len(reopened.differing)
    differ = "1 finding differs" if count == 1 else f"{count} findings differ"
    _say(f"Run again: {differ}: {reopened.differing[0]}{', ...' if count > 1 else ''}")
    for words in reopened.versions:
        _say(f"  {words}")
    raise typer.Exit(1)


@app.command()
def label(
    folder: Folder,
) -> None:
    """Print the facts for a gallery label, short, medium and long, with their findings."""
    from bonewright.pipeline import run_study
    from bonewright.report.label import label_words, labels
    from bonewright.study.load import load_study

    for text in labels(run_study(load_study(folder))):
        for line in label_words(text):
            _say(line)


@app.command(name="open")
def open_page(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FOLDER]",
            help="The study folder; left out, a page to choose one.",
            show_default=False,
        ),
    ] = None,
    port: Annotated[int, typer.Option(help="Port on this machine; 0 picks a free one.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
    serve_as: Annotated[
        str | None,
        typer.Option(
            "--serve-as",
            metavar="NAME",
            help="Serve to other machines too, as this name or address of this machine; needs a"
            " certificate, its key and a password.",
            show_default=False,
        ),
    ] = None,
    certificate: Annotated[
        Path | None, typer.Option(help="Certificate for that name (PEM).", show_default=False)
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="The certificate's key (PEM).", show_default=False)
    ] = None,
) -> None:
    """Open a study as a page in your browser, on this machine only unless --serve-as is given."""
    from bonewright.web.serve import ToOtherMachines, serve

    outside = None
    if serve_as is not None:
        if certificate is None or key is None:
            raise BonewrightError(
                "Other machines are served over an encrypted line only.",
                remedy="Give --certificate and --key for the name, from whoever looks after the"
                " network.",
            )
        # Never as an option: those stand in the list of processes.
        password = os.environ.get("BONEWRIGHT_PASSWORD") or typer.prompt(
            "Password for the other machines", hide_input=True, confirmation_prompt=True
        )
        outside = ToOtherMachines(
            name=serve_as, certificate=certificate, key=key, password=password
        )
    serve(folder, port=port, open_browser=browser, outside=outside)


@app.command()
def version() -> None:
    """Print the version."""
    _say(__version__)


def _meanings_of_unknown(
    plan: "ImportPlan",
    read: Callable[..., "ImportPlan"],
    told: dict[str, str],
    *,
    element: str,
    ask: bool,
) -> dict[str, str]:
    """Ask what each header means that nothing explains, or say how to settle it."""
    unknown = plan.unsettled()
    if unknown and not ask:
        lines = "; ".join(f"'{one.header}' ({', '.join(one.samples)})" for one in unknown)
        raise BonewrightError(
            f"Nobody has said what these columns hold: {lines}. Nothing was taken in.",
            remedy=f"Say it once, as --column '{unknown[0].header}=code GL' or"
            f" '{unknown[0].header}=remarks', or in a file for --mapping; or add --keep-unknown.",
        )
    answers: dict[str, str] = {}
    for one in unknown:
        _say(f"'{one.header}' holds {', '.join(one.samples)}.")
        while True:
            words = typer.prompt("  What is it? (code GL, side, ...)", default="remarks")
            try:
                read(told={**told, **answers, one.header: words}, element=element)
            except BonewrightError as error:
                _say(f"  {error}")
                continue
            answers[one.header] = words
            break
    return answers


def _split_column(entry: str) -> tuple[str, str]:
    header, sign, meaning = entry.rpartition("=")
    if not sign:
        raise typer.BadParameter(f"'{entry}' is not of the form header=meaning")
    return header, meaning


def _say_merged(merged: "Merged") -> None:
    for table, count in merged.added.items():
        _say(f"{table}: {count} rows added, {merged.known[table]} were there")
    if merged.recognised:
        _say("Recognised by collection, catalogue number, bone and side:")
        for line in merged.recognised:
            _say(f"  {line}")
    if merged.differing:
        _say("Rows that stand in the study with other values; the study's were left:")
    for line in merged.differing:
        _say(f"  {line}")


def main() -> None:
    """Run the command line; exit 1 on problems or no answer, 2 on wrong usage."""
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show a sign shows a stand-in, never a failure.
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    for library in ("OPENBLAS", "OMP", "MKL"):
        # A study's matrices are small: threads of linear algebra would only wait for each other.
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    try:
        app()
    except StudyProblems as error:
        _print_problems(error.problems)
        sys.exit(1)
    except BonewrightError as error:
        sys.stderr.write(f"{error.message}\n{error.remedy}\n")
        sys.exit(1)


def _say_bone_lengths(result: "Run") -> None:
    from bonewright.quantity import Quantity, format_interval
    from bonewright.report.wording import element_rank

    means = {} if result.skeleton is None else result.skeleton.means
    lengths = sorted((key for key in means if key[1] == "GL"), key=lambda key: element_rank(key[0]))
    if lengths:
        _say("Greatest lengths of the average skeleton's bones:")
    for key in lengths:
        summary = Quantity(draws=means[key].mean_draws_mm, unit="mm").summary()
        _say(f"  {key[0]}: {format_interval(summary, 'mm')}")


def _computed(folder: Path) -> "Run":
    """Run a study with the help of a second process."""
    # One run, then the process ends: looking for garbage would take a tenth of its time.
    gc.disable()
    from bonewright.beside import Beside
    from bonewright.pipeline import run_study
    from bonewright.study.load import load_study

    beside = Beside(_get_ready)
    return run_study(load_study(folder), beside=beside)


def _get_ready() -> None:
    """Load, in the second process, what the steps on relatives and sections need."""
    from bonewright.relatives.warming import warm_up

    warm_up()


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")


def _print_problems(problems: tuple[Problem, ...]) -> None:
    for problem in problems:
        sys.stderr.write(problem.sentence() + "\n")
    count = len(problems)
    sys.stderr.write(f"{count} {'problem' if count == 1 else 'problems'} found.\n")
