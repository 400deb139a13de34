"""A number of the workshop: how much, between what, in which unit, and how it was got."""

from dataclasses import dataclass

from bonewright.quantity import Summary, format_interval

__all__ = ["Amount", "joined_sources"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """An amount with the ends of the range that holds it 19 times in 20.

    ``how`` says in words how it was got, ``source`` whose value or formula it rests on.
    """

    value: float
    low: float
    high: float
    unit: str
    how: str
    source: str = ""

    def times(self, factor: float, *, unit: str | None = None, how: str | None = None) -> "Amount":
        """Return the amount multiplied by a certain number."""
        return Amount(
            value=self.value * factor,
            low=self.low * factor,
            high=self.high * factor,
            unit=self.unit if unit is None else unit,
            how=self.how if how is None else how,
            source=self.source,
        )

    def words(self) -> str:
        """Write 'about 21 kg (17 to 26)'."""
        return format_interval(
            Summary(
                median=self.value,
                mean=self.value,
                sd=(self.high - self.low) / 4,
                interval50=(self.value, self.value),
                interval95=(self.low, self.high),
            ),
            self.unit,
        )


def joined_sources(*sources: str) -> str:
    """Join sources, each said once."""
    each = [part for source in sources for part in source.split("; ") if part]
    return "; ".join(dict.fromkeys(each))
