"""Facts for a gallery label: short, medium and long, each sentence tied to its finding.

The reading level is measured, not promised: Flesch's reading ease ([Flesch1948]_) and the
grade of Kincaid and others ([Kincaid1975]_), counted by plain rules, so that the writer sees
where a sentence grew too hard.
"""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.findings import Finding
from bonewright.quantity import Quantity, Summary, format_amount

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["Label", "LabelSentence", "ReadingLevel", "label_words", "labels", "reading_level"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSentence:
    """One sentence and the keys of the findings it says."""

    text: str
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLevel:
    """How hard a text reads: ease from 0 to 100 (higher is easier), and years of school."""

    ease: float
    grade: float
    words: int

    def sentence(self) -> str:
        """Say the level in words."""
        age = max(6, round(self.grade) + 6)
        return (
            f"{self.words} words; reading ease {self.ease:.0f} of 100; for readers of about"
            f" {age} years and up"
        )


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
    medium = [*short, *mass[1:], *_legs(run)]
    long = [*medium, *_how_known(run), *_witnesses(run, told), *_unsure(run)]
    return tuple(
        Label(
            length=length,
            sentences=tuple(sentences),
            level=reading_level(" ".join(sentence.text for sentence in sentences)),
        )
        for length, sentences in (("short", short), ("medium", medium), ("long", long))
        if sentences
    )


def label_words(label: Label) -> tuple[str, ...]:
    """Write a label line by line, each sentence with its findings."""
    lines = [f"{label.length.capitalize()} label ({label.level.sentence()})"]
    for sentence in label.sentences:
        source = f"  [{', '.join(sentence.findings)}]" if sentence.findings else ""
        lines.append(f"  {sentence.text}{source}")
    return tuple(lines)


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


def _how_known(run: "Run") -> list[LabelSentence]:
    found = []
    if run.skeleton is not None:
        count = run.skeleton.minimum_number_of_individuals
        found.append(
            LabelSentence(
                text=f"We measured loose bones of at least {count} birds to find the size of an"
                " average one.",
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


_WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*|\d[\d.,\u202f]*")
_VOWELS = re.compile(r"[aeiouy]+")


def reading_level(text: str) -> ReadingLevel:
    """Measure how hard an English text reads.

    Notes
    -----
    Reading ease = 206.835 - 1.015 words a sentence - 84.6 syllables a word ([Flesch1948]_);
    grade = 0.39 words a sentence + 11.8 syllables a word - 15.59 ([Kincaid1975]_). Syllables
    are counted as groups of vowels, a silent e at the end not counted; a number counts as two.

    Examples
    --------
    >>> round(reading_level("The cat sat on the mat.").ease, 1)
    116.1
    """
    sentences = max(1, len(re.findall(r"[.!?](?=\s|$)", text)))
    words = _WORD.findall(text)
    if not words:
        return ReadingLevel(ease=100.0, grade=0.0, words=0)
    length = len(words) / sentences
    syllables = sum(map(_syllables, words)) / len(words)
    return ReadingLevel(
        ease=206.835 - 1.015 * length - 84.6 * syllables,
        grade=max(0.0, 0.39 * length + 11.8 * syllables - 15.59),
        words=len(words),
    )


def _syllables(word: str) -> int:
    if word[0].isdigit():
        return 2
    lower = word.lower()
    count = len(_VOWELS.findall(lower))
    if lower.endswith("e") and not lower.endswith(("le", "ee")) and count > 1:
        count -= 1
    return max(1, count)
