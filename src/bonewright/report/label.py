"""Facts for a gallery label: short, medium and long, each sentence tied to its finding."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.findings import Finding
from bonewright.quantity import Quantity, Summary, format_amount
from bonewright.report.blocks import Block, Paragraph, TableBlock, TableColumn
from bonewright.report.reading_level import ReadingLevel, reading_level
from bonewright.report.wording import plural

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["Label", "LabelSentence", "label_blocks", "label_words", "labels"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSentence:
    """One sentence and the keys of the findings it says."""

    text: str
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label: its length's name, its sentences and how hard they read."""

    length: str
    sentences: tuple[LabelSentence, ...]
    level: ReadingLevel


def labels(run: "Run") -> tuple[Label, ...]:
    """Return the short, the medium and the long label that a run's answers allow."""
    animal = run.study.settings.animal
    told = {finding.key: finding for finding in run.findings}
    name = f"the {animal.name}" if animal.name[:1].islower() else animal.name
    mass = _mass(run, name)
    short = [*_invented(run), *mass[:1]]
    # Without a mass the height is what the animal is named by.
    height = _height(run, "It" if mass else _upper(name))
    medium = [*short, *mass[1:], *height, *_legs(run)]
    long = [*medium, *_seasons(run), *_how_known(run), *_witnesses(run, told), *_unsure(run)]
    return tuple(
        Label(
            length=length,
            sentences=tuple(sentences),
            level=reading_level(" ".join(sentence.text for sentence in sentences)),
        )
        for length, sentences in (("short", short), ("medium", medium), ("long", long))
        if any(sentence.findings for sentence in sentences)
    )


def label_words(label: Label) -> tuple[str, ...]:
    """Write a label line by line, each sentence with its findings."""
    lines = [f"{label.length.capitalize()} label ({label.level.sentence()})"]
    for sentence in label.sentences:
        source = f"  [{', '.join(sentence.findings)}]" if sentence.findings else ""
        lines.append(f"  {sentence.text}{source}")
    return tuple(lines)


def label_blocks(run: "Run") -> tuple[Block, ...]:
    """Set the labels for the report: each as one text, then what each sentence stands on."""
    made = labels(run)
    if not made:
        return ()
    titles = {finding.key: finding.title for finding in run.findings}
    longest = made[-1]
    lengths = {
        sentence.text: ", ".join(label.length for label in made if sentence in label.sentences)
        for sentence in longest.sentences
    }
    texts = tuple(
        Paragraph(
            lead=f"Words for a {label.length} label ({label.level.sentence()}).",
            text=" ".join(sentence.text for sentence in label.sentences),
        )
        for label in made
    )
    table = TableBlock(
        caption="What each sentence of the labels stands on.",
        columns=(
            TableColumn(head="Sentence", share=2.4),
            TableColumn(head="In the label", share=0.9),
            TableColumn(head="Stands on", share=2.4),
        ),
        rows=tuple(
            (
                sentence.text,
                lengths[sentence.text],
                "; ".join(titles.get(key, key) for key in sentence.findings)
                or "what the study says of itself",
            )
            for sentence in longest.sentences
        ),
        notes=(
            "The interval that a label gives holds the truth 19 times in 20 if the study's rows and"
            " choices are right. Reading ease: Flesch 1948, Journal of Applied"
            " Psychology 32: 221-233. Grade: Kincaid and others 1975, Research Branch Report 8-75."
            " Both are counted by plain rules for English; a short text sways with single words.",
        ),
    )
    return (*texts, table)


def _invented(run: "Run") -> list[LabelSentence]:
    if not run.study.settings.study.invented:
        return []
    return [LabelSentence(text="This animal is invented.", findings=())]


def _rounded(value: float, summary: Summary) -> str:
    low, high = summary.interval95
    return format_amount(value, spread=high - low)


def _mass(run: "Run", name: str) -> list[LabelSentence]:
    if run.pooled is None:
        return []
    summary = Quantity(draws=run.pooled.mass_draws_kg, unit="kg").summary()
    middle = _rounded(summary.median, summary)
    low, high = (_rounded(end, summary) for end in summary.interval95)
    keys = ("judgement.mass",)
    return [
        LabelSentence(text=f"{_upper(name)} weighed about {middle} kg.", findings=keys),
        LabelSentence(
            text=f"We cannot be sure to the kilo: it may have been as light as {low} kg or as"
            f" heavy as {high} kg.",
            findings=keys,
        ),
    ]


# A spread that makes :func:`format_amount` keep whole numbers.
_WHOLE_CM = 4.0


def _height(run: "Run", who: str) -> list[LabelSentence]:
    if run.body is None or run.body.grown is None:
        return []
    summary = Quantity(draws=100 * run.body.grown.height_m, unit="cm").summary()
    # Whole centimetres: a visitor has no use for more.
    spread = max(summary.interval95[1] - summary.interval95[0], _WHOLE_CM)
    middle, low, high = (
        format_amount(value, spread=spread) for value in (summary.median, *summary.interval95)
    )
    return [
        LabelSentence(
            text=f"{who} stood about {middle} cm high, or somewhere between {low} and {high} cm.",
            findings=("body.grown.height",),
        )
    ]


_VERBS = {"runner": "run", "walker": "walk", "wader": "wade"}


def _legs(run: "Run") -> list[LabelSentence]:
    if run.movement is None:
        return []
    verb = _VERBS[run.study.settings.choices.comparison]
    share = run.movement.share_inside
    if share >= 0.8:
        sure = "almost surely" if share >= 0.95 else "probably"
        text = f"Its leg bones were strong enough to {verb}, {sure}."
    elif share <= 0.2:
        text = f"Its leg bones are unlike those of living birds that {verb}."
    else:
        text = f"Its leg bones do not tell us whether it could {verb}."
    return [LabelSentence(text=text, findings=("movement.could_run",))]


def _seasons(run: "Run") -> list[LabelSentence]:
    """Name the hypothesis of its condition that the witnesses favour by far, if any."""
    judged = () if run.case is None else run.case.hypotheses
    likely = [item for item in judged if item.posterior is not None and item.posterior >= 0.8]
    return [
        LabelSentence(
            text=f"Of {len(judged)} ideas about how fat it was, one fits the old pictures and"
            f" accounts best: {item.title}.",
            findings=(f"judgement.hypothesis.{item.key}",),
        )
        for item in likely
    ]


def _how_known(run: "Run") -> list[LabelSentence]:
    found = []
    if run.skeleton is not None:
        count = run.skeleton.minimum_number_of_individuals
        found.append(
            LabelSentence(
                text=f"We measured loose bones of at least {plural(count, 'bird')} to find the size"
                " of an average one.",
                findings=("skeleton.minimum_individuals",),
            )
        )
    if run.pooled is not None:
        lines = [line for line in run.pooled.lines if line.pooled]
        if len(lines) > 1:
            found.append(
                LabelSentence(
                    text=f"Its weight was worked out in {len(lines)} separate ways, and we"
                    " compared the answers.",
                    findings=("judgement.agreement", *(line.key for line in lines)),
                )
            )
    return found


def _witnesses(run: "Run", told: dict[str, Finding]) -> list[LabelSentence]:
    if run.testimony is None or run.testimony.copying is None:
        return []
    pictures = len(run.testimony.pictures)
    own = len(run.testimony.copying.independent)
    if not pictures or own >= pictures:
        return []
    key = "testimony.witnesses"
    return [
        LabelSentence(
            text=f"Of {pictures} old pictures of it, {pictures - own} only copy another picture.",
            findings=(key,) if key in told else (),
        )
    ]


def _unsure(run: "Run") -> list[LabelSentence]:
    if run.case is None:
        return []
    return [
        LabelSentence(text="A new find could change these numbers.", findings=("judgement.next",))
    ]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
