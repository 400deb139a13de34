"""One number of the body as a finding."""

from bonewright.findings import Caveat, Finding, HowGot, RowRef
from bonewright.quantity import Draws, Quantity

__all__ = ["body_finding"]


def body_finding(
    key: str,
    title: str,
    draws: Draws,
    unit: str,
    *,
    formula: str,
    inputs: tuple[str, ...] = (),
    rows: tuple[RowRef, ...] = (),
    sources: tuple[str, ...] = (),
    caveats: tuple[Caveat, ...] = (),
) -> Finding:
    """Return a finding of this step; ``key`` is what follows ``body.``."""
    return Finding(
        key=f"body.{key}",
        step="body",
        title=title,
        value=Quantity(draws=draws, unit=unit),
        how=HowGot(formula=formula, inputs=inputs, rows=rows, sources=sources),
        caveats=caveats,
    )
