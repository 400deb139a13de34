"""The skeleton's findings, with how each was got and the reasons to trust it less."""

from collections.abc import Iterable, Mapping, Sequence

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Quantity
from bonewright.skeleton.averaging import FEW_INDIVIDUALS
from bonewright.skeleton.bone_mean import BoneMean
from bonewright.skeleton.bones import LENGTH_CODES, Bone
from bonewright.skeleton.joint_average import NOT_JOINT, AverageChoice
from bonewright.skeleton.reduction import IndividualValue
from bonewright.skeleton.variation import ASSUMED_VARIATION, PooledVariation

__all__ = [
    "count_finding",
    "left_out_finding",
    "mean_finding",
    "variation_finding",
]

_STEP = "skeleton"
_WANTED = {
    "arithmetic": "arithmetic mean",
    "geometric": "geometric mean",
    "median": "median individual",
    "percentile": "individual larger than {0:g} % of its kind, in average proportions",
    "larger sex": "geometric mean of the larger sex",
    "smaller sex": "geometric mean of the smaller sex",
    "female": "geometric mean of females",
    "male": "geometric mean of males",
}
_JOINT = (
    ", all measurements estimated together: ln length = mean + size of the individual +"
    " deviation of the bone + residual + error of measuring, after repeats, casts and pairs"
    " are reduced; drawn from the sampled model"
)
_PLAIN = (
    ": the plain mean over individuals with its t interval, since the table does not tell"
    " one toe bone from another"
)


def mean_finding(
    *,
    mean: BoneMean,
    code_meaning: str,
    group: Sequence[IndividualValue],
    choice: AverageChoice,
    held_out: tuple[RowRef, ...],
) -> Finding:
    """Describe one average; ``held_out`` are rows that would have fed it."""
    joint = mean.element not in NOT_JOINT
    return Finding(
        key=f"skeleton.mean.{mean.element}.{mean.code}",
        step=_STEP,
        title=f"Average {mean.element}, {code_meaning} ({mean.code})",
        value=Quantity(draws=mean.mean_draws_mm, unit="mm"),
        how=HowGot(
            formula=_WANTED[choice.kind].format(choice.percentile)
            + (" of both sexes alike" if choice.both_sexes_alike else "")
            + (_JOINT if joint else _PLAIN),
            inputs=("choices.average", "choices.average_sexes"),
            rows=tuple(
                ref for value in group for bone_value in value.bones for ref in bone_value.rows
            ),
            sources=("Driesch1976", "DempsterLairdRubin1977", "LiuRubinWu1998")
            if joint
            else ("Driesch1976",),
        ),
        n=len(group),
        n_of="individuals",
        caveats=_mean_caveats(group, code=mean.code, held_out=held_out),
    )


def _mean_caveats(
    group: Sequence[IndividualValue],
    *,
    code: str,
    held_out: tuple[RowRef, ...],
) -> tuple[Caveat, ...]:
    values = [bone_value for individual in group for bone_value in individual.bones]
    specimens = [value.bone.specimen for value in values]
    caveats = []
    if len(group) <= FEW_INDIVIDUALS:
        number = "one individual" if len(group) == 1 else f"only {len(group)} individuals"
        text = (
            f"Known from {number}; the interval rests on how such bones vary, and on what the"
            " rest of the skeleton says of their size."
        )
        rows = tuple(ref for value in values for ref in value.rows)
        kind = "one individual" if len(group) == 1 else "few individuals"
        caveats.append(Caveat(code=kind, text=text, rows=rows))
    loose = sum(value.loose for value in group)
    if loose > 1:
        text = (
            "Loose bones are among them, of which a left and a right may be of one animal: the"
            " individuals are the most that there can be."
        )
        caveats.append(Caveat(code="loose bones", text=text))
    for code_of_caveat, text, chosen in (
        (
            "broken bone",
            "A length on a broken or weathered bone may fall short.",
            [
                item
                for item in specimens
                if code in LENGTH_CODES and item.preservation != "complete"
            ],
        ),
        (
            "cast only",
            "Known from a cast: resin and plaster shrink, commonly by less than 1 %.",
            [
                *(value.bone.specimen for value in values if value.bone.only_a_cast),
                *(cast for value in values if value.from_cast for cast in value.bone.casts),
            ],
        ),
        (
            "life stage unknown",
            "Bones of unknown age are taken for full grown.",
            [item for item in specimens if item.life_stage not in ("adult", "")],
        ),
        (
            "different toe bones",
            "The table does not say which toe bone each is: this mean mixes them.",
            [item for item in specimens if item.element == "phalanx"],
        ),
    ):
        if chosen:
            rows = tuple(dict.fromkeys(item.ref for item in chosen))
            caveats.append(Caveat(code=code_of_caveat, text=text, rows=rows))
    if held_out:
        text = "Not used, since they are probably mistakes or were set aside: " + ", ".join(
            ref.words() for ref in held_out
        )
        caveats.append(Caveat(code="held out", text=text + ".", rows=held_out))
    return tuple(caveats)


def count_finding(bones: Iterable[Bone], minimum: int, held_out: tuple[RowRef, ...]) -> Finding:
    """Describe the minimum number of individuals."""
    counted = tuple(bones)
    caveats = []
    if any(bone.specimen.preservation == "broken" for bone in counted):
        text = "Two pieces of one broken bone, entered as two bones, would count as two animals."
        caveats.append(Caveat(code="broken bone", text=text))
    if held_out:
        text = "Bones not counted, since their element is in doubt or they were set aside."
        caveats.append(Caveat(code="held out", text=text, rows=held_out))
    return Finding(
        key="skeleton.minimum_individuals",
        step=_STEP,
        title="Minimum number of individuals",
        value=Exact(value=float(minimum), unit="1", why_no_interval="It is a count."),
        how=HowGot(
            formula=(
                "over elements, the most that left, right or midline bones demand; grown and"
                " young animals apart; a cast is its original; toe bones not counted"
            ),
            rows=tuple(bone.specimen.ref for bone in counted),
            sources=("White1953",),
        ),
        n=len(counted),
        n_of="bones",
        caveats=tuple(caveats),
    )


def variation_finding(variation: PooledVariation) -> Finding:
    """Describe how much individuals vary, over all measurements together."""
    caveats: tuple[Caveat, ...] = ()
    if variation.assumed:
        text = (
            "Too few individuals share a measurement: missing degrees of freedom are filled"
            f" with {100 * ASSUMED_VARIATION:.0f} % (common practice)."
        )
        caveats = (Caveat(code="assumed variation", text=text),)
    return Finding(
        key="skeleton.variation",
        step=_STEP,
        title="Coefficient of variation between individuals, over all measurements",
        value=Exact(
            value=100 * variation.coefficient,
            unit="%",
            why_no_interval="It describes a spread, and stands in where individuals are few.",
        ),
        how=HowGot(
            formula="squared coefficients of variation averaged by their degrees of freedom"
        ),
        n=variation.degrees_of_freedom,
        n_of="degrees of freedom",
        caveats=caveats,
    )


def left_out_finding(reasons: Mapping[str, tuple[RowRef, ...]]) -> Finding:
    """Say which rows the average does not use; ``reasons`` maps a reason to rows."""
    parts = [f"{reason}: {len(rows)}" for reason, rows in reasons.items() if rows]
    text = "Not used: " + "; ".join(parts) + "." if parts else "Every row was used."
    return Finding(
        key="skeleton.left_out",
        step=_STEP,
        title="What the average skeleton leaves out",
        value=Statement(text=text),
        how=HowGot(
            formula="rows counted by reason",
            rows=tuple(dict.fromkeys(ref for rows in reasons.values() for ref in rows)),
        ),
    )
