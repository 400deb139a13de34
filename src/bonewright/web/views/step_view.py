"""What a view is: the part of the page that belongs to one step."""

from dataclasses import dataclass

from bonewright.study.schemas import TABLES

__all__ = ["Caution", "StepView"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A danger of the work, shown where it arises, and to whom to defer."""

    title: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """One view of the page.

    ``key`` is its address and the step whose findings and figures it shows. ``lead`` says
    in a sentence or two what is done here. ``template`` may name a template of the step's
    own, which extends ``step.html`` and fills its ``workplace`` block.
    """

    key: str
    title: str
    lead: str
    cautions: tuple[Caution, ...] = ()
    template: str = "step.html"

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of the tables that feed this step, in the order of the schema."""
        return tuple(table.name for table in TABLES if table.step == self.key)
