"""What a study cannot say yet, each thing once, with the table to fill in next."""

from dataclasses import dataclass

from bonewright.pipeline import Run

__all__ = ["Missing", "still_missing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """One thing without an answer: of which step, what it is, and what would give one."""

    step: str
    what: str
    next_step: str


def still_missing(run: Run) -> tuple[Missing, ...]:
    """Say what has no answer and what to fill in next.

    What lacks an answer only because something before it does is not told again: without
    a mass the legs cannot be judged, and the mass is what to see to first.

    Parameters
    ----------
    run : Run
    """
    study = run.study
    has_relatives = bool(study.relatives and study.relative_measurements)
    found: list[Missing] = []

    def tell(what: str, step: str, *, filled: bool, tables: str) -> None:
        reason = run.unanswered.get(step, "")
        found.append(
            Missing(
                step=step, what=what, next_step=reason if filled and reason else f"fill in {tables}"
            )
        )

    if run.skeleton is None:
        tell(
            "The average skeleton",
            "skeleton",
            filled=bool(study.specimens and study.measurements),
            tables="specimens.csv and measurements.csv",
        )
    if run.pooled is None and not has_relatives and not study.bodies:
        tell(
            "What the average animal weighed",
            "relatives",
            filled=False,
            tables="relatives.csv and relative_measurements.csv; or bodies.csv, for a maquette",
        )
    else:
        if run.relatives is None:
            tell(
                "What it weighed by its leg bones",
                "relatives",
                filled=has_relatives,
                tables="relatives.csv and relative_measurements.csv",
            )
        if run.body is None:
            tell(
                "What it weighed by a modelled body",
                "body",
                filled=bool(study.bodies or study.body_scans),
                tables="bodies.csv, for a maquette",
            )
    if run.pooled is None and (run.relatives is not None or run.body is not None):
        tell(
            "What the average animal weighed",
            "judgement",
            filled=True,
            tables="relatives.csv and relative_measurements.csv; or bodies.csv, for a maquette",
        )
    if run.sections is None:
        tell(
            "What its legs could bear",
            "sections",
            filled=bool(study.sections),
            tables="sections.csv",
        )
    elif run.movement is None and run.pooled is not None:
        tell("What its legs could bear", "movement", filled=True, tables="sections.csv")
    if run.testimony is None:
        tell(
            "What pictures, accounts and the earlier mount say",
            "testimony",
            filled=bool(study.pictures or study.accounts or study.mount_measurements),
            tables="pictures.csv, accounts.csv or mount_measurements.csv",
        )
    return tuple(found)
