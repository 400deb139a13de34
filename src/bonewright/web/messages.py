"""What the page and its server say to each other."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from bonewright.errors import Problem
from bonewright.study.columns import Column
from bonewright.web.feeds import Fed

__all__ = [
    "CheckAnswer",
    "CheckRequest",
    "ClashMessage",
    "ColumnMessage",
    "DecisionRequest",
    "Difference",
    "DoubtMessage",
    "DoubtsMessage",
    "ErrandMessage",
    "FailureMessage",
    "FedMessage",
    "FeedsMessage",
    "GlossaryMessage",
    "ProblemMessage",
    "ProgressMessage",
    "RowMessage",
    "SaveRequest",
    "SavedMessage",
    "SheetEdits",
    "SheetState",
    "StateMessage",
    "TableMessage",
    "TermMessage",
    "WorkRequest",
]

Cell = Annotated[str, Field(max_length=100_000)]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class RowMessage(_Message):
    """One row: its number as a spreadsheet shows it (None for a new row), and its cells."""

    number: Annotated[int, Field(ge=2)] | None = None
    cells: list[Cell]


class ProblemMessage(_Message):
    """A problem, placed for the grid: ``index`` counts the rows sent, from 0."""

    file: str
    table: str | None
    row: int | None
    index: int | None = None
    column: str | None
    found: str
    expected: str
    mend: str
    instead: list[str] = []
    """Texts that would each put the cell right, if one of them is meant."""
    keep: str = ""
    """The row's name, if it may stay as it is once a decision says why."""
    sentence: str

    @classmethod
    def of(
        cls, problem: Problem, *, table: str | None = None, index: int | None = None
    ) -> "ProblemMessage":
        """Carry a study's problem to the page."""
        return cls(
            file=problem.file,
            table=table,
            row=problem.row,
            index=index,
            column=problem.column,
            found=problem.found,
            expected=problem.expected,
            mend=problem.mend,
            instead=list(problem.instead),
            keep=problem.keep,
            sentence=problem.sentence(),
        )


class FailureMessage(_Message):
    """The one shape of every error."""

    error: str
    remedy: str
    problems: list[ProblemMessage] = []


class ColumnMessage(_Message):
    """What the grid needs to know of a column."""

    name: str
    title: str
    description: str
    kind: str
    required: bool
    example: str
    choices: list[str]
    refers_to: str | None

    @classmethod
    def of(cls, column: Column, added: tuple[str, ...] = ()) -> "ColumnMessage":
        """Carry a column of the schema to the page; ``added`` are choices of the study's own."""
        return cls(
            name=column.name,
            title=column.title,
            description=column.description,
            kind=column.kind,
            required=column.required,
            example=column.example,
            choices=[*column.choices, *added],
            refers_to=column.refers_to,
        )

    @classmethod
    def unknown(cls, name: str) -> "ColumnMessage":
        """Show a column the schema does not know, so that nothing is lost."""
        return cls(
            name=name,
            title=name or "(no name)",
            description="This column is not part of the table as described.",
            kind="text",
            required=False,
            example="",
            choices=[],
            refers_to=None,
        )


class TableMessage(_Message):
    """A table as it stands on disk. ``version`` names exactly this state of it."""

    name: str
    title: str
    description: str
    key: str
    version: str
    header: list[str]
    columns: list[ColumnMessage]
    rows: list[RowMessage]
    suggestions: dict[str, list[str]]
    """For each column that refers to another table: the names standing there."""
    locked: str
    """Why the page cannot save this table; empty if it can."""
    decimal_mark: Literal[".", ","] | None
    """How the file writes decimals; None if it does not tell."""
    problems: list[ProblemMessage]
    """Every problem of the study as it stands on disk, those of this table placed."""
    doubts: list["DoubtMessage"]


class DoubtMessage(_Message):
    """A doubtful row of one table."""

    row: int
    row_id: str
    column: str
    kind: str
    found: str
    expected: str
    mend: str
    held_out: bool
    decided: str | None


class DoubtsMessage(_Message):
    """The doubtful rows of one table, as the last run saw them."""

    doubts: list[DoubtMessage]


class FedMessage(_Message):
    """A finding that a row feeds, and where the page shows it."""

    key: str
    title: str
    words: str
    href: str

    @classmethod
    def of(cls, fed: Fed) -> "FedMessage":
        """Carry it to the page."""
        return cls(key=fed.key, title=fed.title, words=fed.words, href=fed.href)


class FeedsMessage(_Message):
    """Findings that a row feeds: some of those that name it, and of those reached by them."""

    direct: list[FedMessage]
    n_direct: int
    reached: list[FedMessage]
    n_reached: int
    steps: list[str]


class SavedMessage(_Message):
    """A table was saved; this is its version now, and the columns it is shown with.

    ``note`` is worth telling the person.
    """

    version: str
    header: list[str] = []
    note: str = ""


class SheetState(_Message):
    """A table as it stands in the page, saved or not."""

    header: Annotated[list[Cell], Field(max_length=200)]
    rows: Annotated[list[RowMessage], Field(max_length=200_000)]


class ChangedRow(_Message):
    """A row whose cells were changed, by its number in the version read."""

    number: Annotated[int, Field(ge=2)]
    cells: list[Cell]


class AddedRow(_Message):
    """A new row; it follows the row of that number in the version read, 1 being the header."""

    after: Annotated[int, Field(ge=1)]
    cells: list[Cell]


class SheetEdits(_Message):
    """A table as it stands in the page, told by what differs from the version it read."""

    version: str
    header: Annotated[list[Cell], Field(max_length=200)]
    changed: list[ChangedRow]
    added: Annotated[list[AddedRow], Field(max_length=200_000)]
    removed: list[int]


class CheckRequest(_Message):
    """The tables being edited; all others are taken as they stand on disk."""

    tables: dict[str, SheetEdits | SheetState]


class CheckAnswer(_Message):
    """Every problem of the study as it would be if the page were saved."""

    problems: list[ProblemMessage]


class SaveRequest(SheetState):
    """A table to save. ``version`` is the state it was edited from."""

    version: str


class Difference(_Message):
    """A cell (or whole row) changed both in the page and on disk."""

    row_id: str
    index: int
    column: str | None
    before: str
    yours: str
    on_disk: str


class ClashMessage(FailureMessage):
    """Someone else changed the file: both states joined, and where they contradict."""

    version: str
    header: list[str]
    columns: list[ColumnMessage]
    rows: list[RowMessage]
    standing: list[RowMessage]
    """The rows on disk in that version that are other in ``rows``, or gone there."""
    differences: list[Difference]


class DecisionRequest(_Message):
    """A doubtful row, decided."""

    table: str
    row_id: str
    decision: Literal["keep", "set aside"]
    reason: Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]


class ProgressMessage(_Message):
    """The step being computed, by its title, and how many of its parts are done."""

    title: str
    done: int
    of: int


class TermMessage(_Message):
    """A trade term: the words it is met in, and what it means."""

    words: list[str]
    meaning: str


class GlossaryMessage(_Message):
    """All trade terms."""

    terms: list[TermMessage]


class ErrandMessage(_Message):
    """How an errand stands: what is being done, and how many parts of how many are done."""

    number: int
    state: str
    doing: str
    done: int
    of: int


class StateMessage(_Message):
    """Where the results stand. ``number`` rises whenever something to show changed."""

    study: str
    """A mark of the study that is open: a new one each time one is opened."""
    number: int
    computing: bool
    stale: bool
    headline: str
    problems: int
    doubts: int
    versions: dict[str, str]
    cannot_save: str = ""
    """Why nothing can be saved in this folder; empty if it can."""
    stopped: bool
    """Somebody stopped the computing, and nothing changed since."""
    progress: ProgressMessage
    arrived: list[str]
    """What of the run under way has its answer."""
    views: dict[str, str]
    """For each view, a name of what it shows: it changes when the view does."""
    errands: list[ErrandMessage]


class WorkRequest(_Message):
    """Stop the computing, or take it up again."""

    wanted: Literal["stop", "compute"]
