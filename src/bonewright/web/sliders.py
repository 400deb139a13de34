"""The sliders of the what-if desk: what can be moved on a page, and what a moved one asks."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict

from bonewright.study.model import Tissue
from bonewright.study.settings import RangeChoice
from bonewright.web.failures import Refusal

if TYPE_CHECKING:
    from bonewright.what_if import Asked, Bench

__all__ = ["ControlMessage", "asked_of", "controls_on", "moved"]

_STEM = "stem_age"
_TISSUE = "tissue."
# A density farther off than a sixth would be doubted as a slip once it is written.
_TISSUE_AWAY = 1.16
_KG_M3_PER_KG_L = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Movable:
    """A choice that can be moved: its slider's ends (None: given by other choices)."""

    title: str
    least: float | None
    most: float | None
    step: float


_MOVABLE = {
    "fat_mean_percent": _Movable(title="Fat over the year", least=None, most=None, step=0.5),
    "body_density": _Movable(title="Density of the body", least=0.6, most=1.2, step=0.01),
    "femur_angle": _Movable(title="Femur from the vertical", least=0, most=89, step=1),
    "tibiotarsus_angle": _Movable(title="Tibiotarsus from the vertical", least=0, most=89, step=1),
    "tarsometatarsus_angle": _Movable(
        title="Tarsometatarsus from the vertical", least=0, most=89, step=1
    ),
}
_ON_VIEW = {
    "relatives": (_STEM,),
    "body": ("fat_mean_percent", "body_density"),
    "movement": ("femur_angle", "tibiotarsus_angle", "tarsometatarsus_angle", "fat_mean_percent"),
    "judgement": ("fat_mean_percent", "body_density", _STEM),
}


class ControlMessage(BaseModel):
    """One slider: its ends, and the range that is written in the study.

    ``kind`` says where it is written: a choice or the stem's age in study.toml, or a row of
    the table of tissues.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str
    kind: Literal["choice", "stem_age", "tissue"]
    title: str
    unit: str
    least: float
    most: float
    step: float
    low: float
    value: float
    high: float
    reason: str


def controls_on(view: str, bench: "Bench") -> list[ControlMessage]:
    """Return the sliders of a view.

    Raises
    ------
    Refusal
        If nothing can be moved there.
    """
    names = _ON_VIEW.get(view)
    if names is None:
        raise Refusal(404, "Nothing can be moved on this page.", remedy="Reload the page.")
    controls = [
        _stem_control(bench) if name == _STEM else _choice_control(name, bench) for name in names
    ]
    found = [control for control in controls if control is not None]
    return [*found, *_tissue_controls(bench)] if view == "body" else found


def moved(control: ControlMessage, value: float) -> tuple[float, float, float]:
    """Return low, best and high with the best value moved: the range moves along.

    It is cut off where the slider ends, so that no part of it is impossible.
    """
    by = value - control.value
    low, high = control.low + by, control.high + by
    return (
        min(value, max(control.least, low)) if low < control.low else low,
        value,
        max(value, min(control.most, high)) if high > control.high else high,
    )


def asked_of(
    view: str, values: Mapping[str, float], controls: list[ControlMessage], bench: "Bench"
) -> "Asked":
    """Turn moved sliders into a question.

    Raises
    ------
    Refusal
        If one of them is not among ``controls``.
    """
    from bonewright.other_body import tissues_used
    from bonewright.what_if import Asked

    known = {control.name: control for control in controls}
    ranges: dict[str, RangeChoice] = {}
    tissues: list[Tissue] = []
    stem_age = None
    for name, value in values.items():
        if name not in known:
            raise Refusal(422, f"{name[:60]} cannot be moved here.", remedy="Reload the page.")
        if value == known[name].value:
            continue
        low, best, high = moved(known[name], value)
        if name == _STEM:
            stem_age = (low, high)
        elif name.startswith(_TISSUE):
            used = tissues_used(bench.run.study)[name.removeprefix(_TISSUE)]
            low, best, high = (one * _KG_M3_PER_KG_L for one in (low, best, high))
            tissues.append(replace(used, density_kg_m3=best, low_kg_m3=low, high_kg_m3=high))
        else:
            present = getattr(bench.run.study.settings.choices, name)
            update = {"low": low, "value": best, "high": high}
            ranges[name] = present.model_copy(update=update)
    return Asked(
        ranges=ranges,
        tissues=tuple(tissues),
        stem_age=stem_age,
        about=frozenset({view, "judgement"}),
    )


def _stem_control(bench: "Bench") -> ControlMessage | None:
    settings = bench.run.study.settings
    limits = bench.stem_limits()
    if limits is None or settings.tree is None:
        return None
    low, high = settings.tree.stem_age or limits
    return ControlMessage(
        name=_STEM,
        kind="stem_age",
        title="When its line left theirs",
        unit="before the present, in the tree's unit",
        least=limits[0],
        most=limits[1],
        step=(limits[1] - limits[0]) / 200 or 1.0,
        low=low,
        value=(low + high) / 2,
        high=high,
        reason=settings.tree.stem_age_reason,
    )


def _choice_control(name: str, bench: "Bench") -> ControlMessage:
    choices, movable = bench.run.study.settings.choices, _MOVABLE[name]
    present: RangeChoice = getattr(choices, name)
    least, most = movable.least, movable.most
    if name == "fat_mean_percent":
        least, most = choices.fat_lean_percent.value, choices.fat_fat_percent.value
    if least is None or most is None:
        raise TypeError(f"the slider of {name} has no ends")
    return ControlMessage(
        name=name,
        kind="choice",
        title=movable.title,
        unit={"deg": "°", "1": ""}.get(present.unit, present.unit),
        least=min(least, present.value),
        most=max(most, present.value),
        step=movable.step,
        low=present.low,
        value=present.value,
        high=present.high,
        reason=present.reason,
    )


def _tissue_controls(bench: "Bench") -> Iterator[ControlMessage]:
    """Yield a slider for the density of each tissue, if a body was grown of them."""
    from bonewright.other_body import tissues_used
    from bonewright.study.ground_bird import TISSUES

    body = bench.run.body
    if body is None or body.grown is None:
        return
    used = tissues_used(bench.run.study)
    for usual in TISSUES:
        present = used[usual.tissue]
        # Whole bone differs more between birds than the other tissues do.
        away = _TISSUE_AWAY**2 if usual.tissue == "bone" else _TISSUE_AWAY
        least, most = usual.density_kg_m3 / away, usual.density_kg_m3 * away
        yield ControlMessage(
            name=f"{_TISSUE}{usual.tissue}",
            kind="tissue",
            title=f"Density of {usual.tissue}",
            unit="kg/L",
            least=min(_rounded(least), present.low_kg_m3 / _KG_M3_PER_KG_L),
            most=max(_rounded(most), present.high_kg_m3 / _KG_M3_PER_KG_L),
            step=0.005,
            low=present.low_kg_m3 / _KG_M3_PER_KG_L,
            value=present.density_kg_m3 / _KG_M3_PER_KG_L,
            high=present.high_kg_m3 / _KG_M3_PER_KG_L,
            reason="Row of the study's table of tissues."
            if present.ref
            else "Comes with the program.",
        )


def _rounded(kg_m3: float) -> float:
    return float(np.round(kg_m3 / _KG_M3_PER_KG_L, 2))
