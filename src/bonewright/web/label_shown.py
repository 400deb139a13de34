"""Words for a gallery label, each sentence with a link to what it stands on."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.report.label import labels

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["LabelShown", "labels_shown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A finding that a sentence stands on: its title and where the page shows it."""

    title: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelShown:
    """A label: its length's name, how hard it reads, and its sentences with their grounds."""

    length: str
    level: str
    sentences: tuple[tuple[str, tuple[Ground, ...]], ...]


def labels_shown(run: "Run | None") -> tuple[LabelShown, ...]:
    """Write the labels of a run."""
    if run is None:
        return ()
    by_key = {finding.key: finding for finding in run.findings}
    return tuple(
        LabelShown(
            length=label.length,
            level=label.level.sentence(),
            sentences=tuple(
                (
                    sentence.text,
                    tuple(
                        Ground(title=by_key[key].title, href=f"/{by_key[key].step}#{key}")
                        for key in sentence.findings
                        if key in by_key
                    ),
                )
                for sentence in label.sentences
            ),
        )
        for label in labels(run)
    )
