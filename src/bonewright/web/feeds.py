"""Which findings a row of a table feeds: at once, and by way of other findings."""

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.report.wording import value_words
from bonewright.web.views import VIEWS

if TYPE_CHECKING:
    from bonewright.findings import Finding
    from bonewright.pipeline import Run

__all__ = ["Fed", "Feeds", "feeds_of_row"]

_MOST = 12
# What a person asks first whether a row reaches it.
_CHIEF = ("judgement.mass", "movement.could_run", "body.grown.mass.mean", "relatives.mass.joint")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """A finding that a row feeds."""

    key: str
    title: str
    words: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeds:
    """Findings that name the row, the chief ones reached through them, and how many in all."""

    direct: tuple[Fed, ...]
    n_direct: int
    reached: tuple[Fed, ...]
    n_reached: int
    steps: tuple[str, ...]


def feeds_of_row(run: "Run", table: str, row_id: str) -> Feeds:
    """Return what a row feeds in a run.

    Parameters
    ----------
    run : Run
    table, row_id : str
        The row by its table and its key.
    """
    direct = [
        finding
        for finding in run.findings
        if any(ref.table == table and ref.row_id == row_id for ref in finding.how.rows)
    ]
    users: dict[str, list[Finding]] = defaultdict(list)
    for finding in run.findings:
        for key in finding.how.inputs:
            users[key].append(finding)
    reached: dict[str, Finding] = {}
    waiting = list(direct)
    named = {finding.key for finding in direct}
    while waiting:
        for finding in users[waiting.pop().key]:
            if finding.key not in reached and finding.key not in named:
                reached[finding.key] = finding
                waiting.append(finding)
    chief = [reached[key] for key in _CHIEF if key in reached]
    rest = [finding for finding in reached.values() if finding.key not in _CHIEF]
    titles = {view.key: view.title for view in VIEWS}
    steps = dict.fromkeys(finding.step for finding in (*direct, *reached.values()))
    return Feeds(
        direct=tuple(_fed(finding) for finding in direct[:_MOST]),
        n_direct=len(direct),
        reached=tuple(_fed(finding) for finding in (*chief, *rest)[:_MOST]),
        n_reached=len(reached),
        steps=tuple(titles.get(step, step) for step in steps),
    )


def _fed(finding: "Finding") -> Fed:
    return Fed(
        key=finding.key,
        title=finding.title,
        words=value_words(finding),
        href=f"/{finding.step}#{finding.key}",
    )
