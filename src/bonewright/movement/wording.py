"""What the comparison of strength amounts to, in plain words."""

from collections.abc import Sequence

import numpy as np

from bonewright.findings import Caveat
from bonewright.movement.bounds import BoundsRule
from bonewright.movement.comparison import ComparisonAnimal

__all__ = ["comparison_caveats", "could_move_sentence", "no_window_caveats"]

_BOUNDS = {
    "range": "A range depends on which and how many {comparison}s were measured.",
    "t-interval": "The bounds are where one more {comparison} would lie 19 times in 20, taking"
    " logarithms as normal.",
    "kernel density": "The bounds hold the middle 95 % of a kernel density of the {comparison}s.",
}
_VERB = {"runner": ("run", "running"), "walker": ("walk", "walking"), "wader": ("wade", "wading")}


def could_move_sentence(
    *,
    comparison: str,
    n_species: int,
    share_inside: float,
    share_too_weak: float,
    bounds: BoundsRule = "range",
    n_published: int = 0,
) -> str:
    """Say whether the animal could move like the comparison animals, by this test.

    ``share_inside`` is the share of draws in which every leg bone lies within the range of
    the comparison animals, ``share_too_weak`` the share in which some bone is weaker than
    that of every one of them; in the rest some bone is stronger. ``n_published`` counts the
    animals of publications among those compared.
    """
    verb, gerund = _VERB[comparison]
    inside, too_weak = _percent(share_inside), _percent(share_too_weak)
    stronger = _percent(max(0.0, 1 - share_inside - share_too_weak))
    group = f"the {n_species} living {comparison} species measured"
    if n_published:
        group += f" and {n_published} published"
    # 'The range' is of those measured; other bounds reach beyond or fall short of them.
    range_words = f"the {bounds} of {group}"
    than_any = f"than in any of {group}" if bounds == "range" else f"than {range_words} allows"
    than_them = "than in any of them" if bounds == "range" else "than it allows"
    if share_inside >= 0.5:
        return (
            f"The average animal {_could(share_inside, verb)}, by this test: in {inside} of the"
            f" imagined worlds every leg bone lies within {range_words}, for the weight it carried."
        )
    if share_too_weak >= 0.5:
        return (
            f"The average animal {_could_not(share_too_weak, verb)} as living {comparison}s do, by"
            f" this test: in {too_weak} of the imagined worlds some leg bone is weaker, for the"
            f" weight it carried, {than_any}."
        )
    if share_too_weak < 0.2:
        return (
            f"By this test, want of strength did not keep the average animal from {gerund}, but it"
            f" lies outside {range_words}: in {stronger} of the imagined worlds some leg bone is"
            f" stronger {than_them}, in {too_weak} some is weaker."
        )
    return (
        f"Whether the average animal could {verb} stays open by this test: in {inside} of the"
        f" imagined worlds every leg bone lies within {range_words}, in {too_weak} some is weaker,"
        f" in {stronger} some is stronger."
    )


def _could(share: float, verb: str) -> str:
    if share >= 0.95:
        return f"could very likely {verb}"
    return f"could probably {verb}" if share >= 0.8 else f"may have been able to {verb}"


def _could_not(share: float, verb: str) -> str:
    if share >= 0.95:
        return f"very likely could not {verb}"
    return f"probably could not {verb}" if share >= 0.8 else f"may not have been able to {verb}"


def comparison_caveats(
    animals: Sequence[ComparisonAnimal], *, comparison: str, mass_kg: float, bounds: BoundsRule
) -> tuple[Caveat, ...]:
    """Say what a range of comparison animals cannot tell."""
    caveats = [
        Caveat(
            code="range of those measured",
            text=(
                f"{_BOUNDS[bounds].format(comparison=comparison)} Strength"
                " indicators fall with size: geometrically similar animals have them in"
                " proportion to mass^(-1/3)."
            ),
        )
    ]
    lightest = min((animal.body_mass_kg for animal in animals), default=0.0)
    heaviest = max((animal.body_mass_kg for animal in animals), default=np.inf)
    if not lightest <= mass_kg <= heaviest:
        caveats.append(
            Caveat(
                code="outside comparison sizes",
                text=(
                    f"The {comparison}s compared weigh {lightest:.3g} to {heaviest:.3g} kg; the"
                    " lost animal lies outside, and size alone changes the indicator."
                ),
            )
        )
    return tuple(caveats)


def no_window_caveats(share_without_window: float) -> tuple[Caveat, ...]:
    """Say in what share of draws the leg bones contradict each other."""
    # Leg bones always differ a little in a few draws; that alone is no contradiction.
    if share_without_window < 0.01:
        return ()
    return (
        Caveat(
            code="no common window",
            text=(
                f"In {_percent(share_without_window)} of the imagined worlds no mass puts every leg"
                " bone within the range: the leg bones contradict each other there, and the lower"
                " end of the window lies above the upper."
            ),
        ),
    )


def _percent(share: float) -> str:
    if 0 < share < 0.01:
        return "less than 1 %"
    if 0.99 < share < 1:
        return "more than 99 %"
    return f"{100 * share:.0f} %"
