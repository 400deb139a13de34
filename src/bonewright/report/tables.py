"""Tables of the report: findings, doubtful rows, decisions, choices, sources."""

from collections.abc import Iterable

from bonewright.findings import Caveat, Doubt, Exact, Finding, RowRef, Statement
from bonewright.literature import PUBLICATIONS
from bonewright.report.blocks import Notice, Paragraph, TableBlock, TableColumn
from bonewright.report.methods import range_choice_words
from bonewright.report.wording import doubt_state, plural, raised, rests_on_words, value_words
from bonewright.study.model import Decision, Source
from bonewright.study.settings import Settings

__all__ = [
    "caveat_words",
    "choices_table",
    "decisions_table",
    "doubts_table",
    "findings_table",
    "grouped_caveats",
    "letter_of",
    "publications_table",
    "rows_words",
    "sources_table",
    "statements",
    "warnings_notice",
]

_MOST_ROWS_NAMED = 3
_AT_MOST = (
    "At most: loose bones that are neither paired nor associated may be of one animal, so the"
    " number of animals lies between the minimum number of individuals and the number given."
)


def rows_words(rows: Iterable[RowRef]) -> str:
    """Name rows, the first few in full."""
    refs = list(dict.fromkeys(rows))
    words = "; ".join(ref.words() for ref in refs[:_MOST_ROWS_NAMED])
    more = len(refs) - _MOST_ROWS_NAMED
    return f"{words} and {more} more (listed in findings.json)" if more > 0 else words


def statements(findings: tuple[Finding, ...]) -> tuple[Paragraph, ...]:
    """Return the findings in words, a paragraph each."""
    return tuple(
        Paragraph(
            lead=f"{finding.title}{'' if finding.title.endswith('?') else '.'}", text=value.text
        )
        for finding in findings
        if isinstance(value := finding.value, Statement)
    )


def letter_of(place: int) -> str:
    """Return the letter of a note: a, b, ... z, aa, ab, ..."""
    letters = ""
    place += 1
    while place:
        place, digit = divmod(place - 1, 26)
        letters = chr(ord("a") + digit) + letters
    return letters


def findings_table(findings: tuple[Finding, ...], *, caption: str) -> TableBlock | None:
    """Set the numbers of a step as a table; ways they were got stand below it by letter."""
    numbers = [finding for finding in findings if not isinstance(finding.value, Statement)]
    if not numbers:
        return None
    ways: dict[tuple[str, tuple[str, ...]], str] = {}
    bare: dict[str, None] = {}
    rows = []
    for finding in numbers:
        way = (finding.how.formula, finding.how.sources)
        letter = ways.setdefault(way, letter_of(len(ways)))
        used = f", {plural(len(set(finding.how.rows)), 'row')}" if finding.how.rows else ""
        n = rests_on_words(finding)
        if isinstance(finding.value, Exact):
            bare.setdefault(finding.value.why_no_interval.rstrip("."))
        rows.append((finding.title, value_words(finding), n, f"{letter}{used}"))
    notes = [
        f"{letter}: {raised(formula).rstrip('.')}."
        + (f" Source: {', '.join(keys)}." if keys else "")
        for (formula, keys), letter in ways.items()
    ]
    if any(n.startswith("at most") for _, _, n, _ in rows):
        notes.append(_AT_MOST)
    if bare:
        notes.append("Why some numbers have no interval: " + "; ".join(bare) + ".")
    return TableBlock(
        caption=caption,
        columns=(
            TableColumn(head="Finding", share=2.2),
            TableColumn(head="Value", share=1.9),
            TableColumn(head="Rests on", share=1.0),
            TableColumn(head="How got", share=0.9),
        ),
        rows=tuple(rows),
        notes=tuple(notes),
    )


def grouped_caveats(caveats: Iterable[Caveat]) -> tuple[Caveat, ...]:
    """Bring caveats of one code together: the words of the first, the rows of all.

    Caveats of one code differ in their counts only, so their number is said instead.
    """
    groups: dict[str, list[Caveat]] = {}
    for caveat in caveats:
        groups.setdefault(caveat.code, []).append(caveat)
    result = []
    for code, members in groups.items():
        texts = dict.fromkeys(member.text for member in members)
        first = next(iter(texts))
        if len(texts) > 1:
            first += (
                f" So too, with other counts or rows, in {plural(len(texts) - 1, 'other case')}."
            )
        rows = dict.fromkeys(row for member in members for row in member.rows)
        result.append(Caveat(code=code, text=first, rows=tuple(rows)))
    return tuple(result)


def warnings_notice(findings: tuple[Finding, ...]) -> Notice | None:
    """Gather the caveats of findings, one item a kind, with what it concerns and its rows."""
    concerned: dict[str, dict[str, None]] = {}
    for finding in findings:
        for caveat in finding.caveats:
            concerned.setdefault(caveat.code, {})[finding.title] = None
    if not concerned:
        return None
    groups = grouped_caveats(caveat for finding in findings for caveat in finding.caveats)
    items = []
    for group in groups:
        titles = list(concerned[group.code])
        concerns = "; ".join(titles[:3])
        if len(titles) > 3:
            concerns += f" and {plural(len(titles) - 3, 'further finding')}"
        item = f"{raised(group.text)} Concerns: {concerns}."
        if group.rows:
            item += f" Rows: {rows_words(group.rows)}."
        items.append(item)
    return Notice(kind="warning", title="Trust these numbers less", items=tuple(items))


def caveat_words(caveat: Caveat) -> str:
    """Write a caveat with the rows it names."""
    text = raised(caveat.text)
    return f"{text} Rows: {rows_words(caveat.rows)}." if caveat.rows else text


def doubts_table(doubts: tuple[Doubt, ...], *, caption: str) -> TableBlock | None:
    """Set the doubtful rows as a table."""
    if not doubts:
        return None
    return TableBlock(
        caption=caption,
        columns=(
            TableColumn(head="Row", share=1.5),
            TableColumn(head="Column", share=1.2),
            TableColumn(head="Doubt", share=1.0),
            TableColumn(head="Found", share=1.3),
            TableColumn(head="Expected", share=1.3),
            TableColumn(head="State", share=1.0),
        ),
        rows=tuple(
            (
                f"{doubt.ref.table}, row {doubt.ref.row} ({doubt.ref.row_id})",
                doubt.column,
                doubt.kind,
                doubt.found,
                doubt.expected,
                doubt_state(doubt),
            )
            for doubt in doubts
        ),
    )


def decisions_table(decisions: tuple[Decision, ...]) -> TableBlock | None:
    """Set the decisions taken on single rows, with their reasons."""
    if not decisions:
        return None
    return TableBlock(
        caption="Decisions taken on single rows.",
        columns=(
            TableColumn(head="Row", share=1.4),
            TableColumn(head="Decision", share=0.7),
            TableColumn(head="Reason", share=3.0),
        ),
        rows=tuple(
            (f"{decision.table}, {decision.row_id}", decision.decision, decision.reason)
            for decision in decisions
        ),
    )


def choices_table(settings: Settings) -> TableBlock:
    """Set the choices a reader could dispute, with their reasons."""
    choices = settings.choices
    rows = [
        (
            "The average",
            f"{choices.average}, sexes {choices.average_sexes}",
            choices.average_reason,
        ),
        (
            "Body density",
            range_choice_words(choices.body_density),
            choices.body_density.reason,
        ),
        (
            "Doubt in the modelled shape",
            range_choice_words(choices.maquette_shape_percent),
            choices.maquette_shape_percent.reason,
        ),
        (
            "Doubt in the grown body's shape",
            range_choice_words(choices.grown_shape_percent),
            choices.grown_shape_percent.reason,
        ),
        (
            "What the body plan was traced from",
            choices.body_plan_traced_from,
            choices.body_plan_reason,
        ),
        *(
            (title, range_choice_words(choice), choice.reason)
            for title, choice in (
                ("Fat when lean", choices.fat_lean_percent),
                ("Fat over the year", choices.fat_mean_percent),
                ("Fat when fat", choices.fat_fat_percent),
                ("Fat in the belly", choices.fat_in_belly_percent),
                ("Skin without fat", choices.skin_thickness),
                ("Depth of the plumage", choices.plumage_depth_percent),
                ("Spent when fasting, over basal", choices.fasting_rate),
            )
        ),
        (
            "Share of weight on the legs",
            range_choice_words(choices.weight_on_legs),
            choices.weight_on_legs.reason,
        ),
        *(
            (title, range_choice_words(choice), choice.reason)
            for title, choice in (
                ("Modulus lost by weathering", choices.weathered_section_percent),
                ("Fat of the average animal", choices.average_fat_percent),
                ("Femur from the vertical", choices.femur_angle),
                ("Tibiotarsus from the vertical", choices.tibiotarsus_angle),
                ("Tarsometatarsus from the vertical", choices.tarsometatarsus_angle),
                ("Duty factor, walking", choices.walking_duty_factor),
                ("Duty factor, running", choices.running_duty_factor),
                ("Arm of twisting, of bone length", choices.twist_arm_percent),
                ("Bow of a shaft, of bone length", choices.shaft_bow_percent),
                ("Bending strength of bone", choices.bone_strength),
            )
        ),
        ("Animals compared with", f"{choices.comparison}s", choices.comparison_reason),
        (
            "Bounds of the comparison",
            choices.comparison_bounds
            + (", published figures counted" if choices.comparison_with_published else ""),
            choices.comparison_bounds_reason,
        ),
        (
            "Correction for the logarithm",
            choices.retransformation,
            choices.retransformation_reason,
        ),
        (
            "Disagreement between lines, scale",
            f"{choices.heterogeneity_scale:g} (natural logarithm)",
            choices.heterogeneity_reason,
        ),
    ]
    if settings.blind_proof is not None:
        rows.append(("Blind proof", settings.blind_proof.species, settings.blind_proof.reason))
    if settings.witness is not None:
        rows.append(
            (
                "Years of witnesses",
                f"{settings.witness.earliest} to {settings.witness.latest}",
                "Pictures and accounts outside these years are problems to mend.",
            )
        )
    if settings.trackway is not None:
        stride = settings.trackway.stride()
        rows.append(("Stride of the trackway", range_choice_words(stride), stride.reason))
    return TableBlock(
        caption="Choices a reader could dispute. Ranges hold 19 times in 20.",
        columns=(
            TableColumn(head="Choice", share=1.5),
            TableColumn(head="Taken", share=1.4),
            TableColumn(head="Reason", share=3.0),
        ),
        rows=tuple(rows),
    )


def publications_table(findings: tuple[Finding, ...]) -> TableBlock | None:
    """Set the publications that findings name, and how far each was checked."""
    keys = dict.fromkeys(key for finding in findings for key in finding.how.sources)
    known = [PUBLICATIONS[key] for key in sorted(keys) if key in PUBLICATIONS]
    if not known:
        return None
    return TableBlock(
        caption="Publications of the methods, and how far each was checked by Bonewright's makers.",
        columns=(
            TableColumn(head="Key", share=1.5),
            TableColumn(head="Publication", share=3.6),
            TableColumn(head="Checked", share=1.2),
        ),
        rows=tuple((entry.key, entry.citation, entry.status) for entry in known),
    )


def sources_table(sources: tuple[Source, ...]) -> TableBlock | None:
    """Set the study's own sources."""
    if not sources:
        return None
    return TableBlock(
        caption="Sources of the study.",
        columns=(
            TableColumn(head="Source", share=1.0),
            TableColumn(head="What it is", share=3.2),
            TableColumn(head="Kind", share=1.0),
            TableColumn(head="Reliability", share=1.8),
        ),
        rows=tuple(
            (
                source.source_id,
                source.citation,
                source.kind,
                ": ".join(part for part in (source.reliability, source.reliability_reason) if part),
            )
            for source in sources
        ),
    )
