"""What can go wrong, in one tree.

::

    BonewrightError        message fit to show, with a remedy
    ├── StudyProblems      every problem at once: file, row, column, found, expected, mend
    ├── NotEnoughEvidence  needed, found, rows that would help
    ├── OutsideRange       the method is not defined there: no number exists
    └── ChangedOnDisk      a table was changed by someone else since it was read (study.save)

A number that exists but deserves less trust is no error: it carries a
:class:`bonewright.findings.Caveat`.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

__all__ = [
    "BonewrightError",
    "NotEnoughEvidence",
    "OutsideRange",
    "Problem",
    "StudyProblems",
    "keeping_doubts",
]


_LONGEST_PART = 900


class BonewrightError(Exception):
    """Something the person can mend.

    Parameters
    ----------
    message : str
        What is wrong, in words fit to show.
    remedy : str
        What to do about it.
    """

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with one place in a study.

    ``row`` counts as a spreadsheet shows it: the header is row 1. ``row`` and
    ``column`` are None where the problem is with the whole file. ``instead`` are texts that
    would each put the cell right, if one of them is meant. ``keep`` is the row's name, if the
    row may stay as it is once a decision says why. What is longer than anybody reads, for a
    whole file stands in one cell, is cut.
    """

    file: str
    row: int | None
    column: str | None
    found: str
    expected: str
    mend: str
    instead: tuple[str, ...] = ()
    keep: str = ""

    def __post_init__(self) -> None:
        for name in ("found", "expected", "mend"):
            text = getattr(self, name)
            if len(text) > _LONGEST_PART:
                object.__setattr__(self, name, f"{text[:_LONGEST_PART]} ...")

    def sentence(self) -> str:
        """Say the problem in one line."""
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            cut = f"{self.column[:60]} ..." if len(self.column) > 60 else self.column
            place += f", column {cut}"
        return f"{place}: found {self.found}; expected {self.expected}. {self.mend}"


class StudyProblems(BonewrightError):
    """Every problem found in a study, all at once."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        count = len(problems)
        noun = "problem" if count == 1 else "problems"
        lines = "\n".join(problem.sentence() for problem in problems)
        super().__init__(
            f"The study has {count} {noun}.\n{lines}\n", remedy="Mend them and try again."
        )
        self.problems = problems


@contextmanager
def keeping_doubts(doubts: tuple[object, ...]) -> Iterator[None]:
    """Hand doubts on with whatever lack of evidence is told of inside."""
    try:
        yield
    except NotEnoughEvidence as error:
        error.doubts = (*doubts, *(doubt for doubt in error.doubts if doubt not in doubts))
        raise


class NotEnoughEvidence(BonewrightError):
    """No number exists yet because rows are missing.

    Parameters
    ----------
    message : str
        What could not be computed.
    needed, found : str
        What the method needs and what the study holds, in words.
    would_help : str
        Which rows would suffice.
    doubts : tuple of bonewright.findings.Doubt, optional
        Rows held out on the way, for the person to decide on: often they are why too
        little is left. Typed loosely, since errors stand before findings.
    """

    def __init__(
        self,
        message: str,
        *,
        needed: str,
        found: str,
        would_help: str,
        doubts: tuple[object, ...] = (),
    ) -> None:
        super().__init__(
            f"{message} Needed: {needed}. Found: {found}.", remedy=f"What would help: {would_help}."
        )
        self.needed = needed
        self.found = found
        self.would_help = would_help
        self.doubts = doubts


class OutsideRange(BonewrightError):
    """The method is not defined for this input, so no number exists."""
