"""The joint model of several leg bones: mass as an ordinary member of its kin, and as a giant.

Two questions look alike and are not. *What does a bird weigh that is like its kin?* Its kin
say what to expect, and its bones move that expectation: mass and bones are fitted together
(the kin model), which is the most accurate answer for the run of species. *What does a
giant weigh?* It is asked about because it is large; its kin then say nothing fair of its
mass, and drawing it towards them makes every giant too light, and surely so. For it the bones
are fitted on mass (the size model), with a gentle curve, and read back with every mass taken
for as likely beforehand.

The heaviest tenth of the relatives is where the second question begins: the two answers are
mixed by how probably, by its bones alone, the animal is heavier than nine in ten of them.
Tried on birds, the rule was chosen on some orders and tested on others:
``docs/proof-of-mass-from-relatives.md``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.relatives.mass_posterior import MassPosterior, mixed, on_grid_of, read_back
from bonewright.relatives.places import (
    Place,
    at_new_tip,
    places_of_all,
    taken,
    without_each,
)
from bonewright.relatives.tree_algebra import Traversal
from bonewright.relatives.two_covariances import TwoCovariances, fit_two_covariances

__all__ = ["RECIPE", "BonesAndMass", "KinAndSize", "Recipe", "fit_kin_and_size"]

Array = NDArray[np.float64]

_NO_CURVE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The model's fixed choices, made on the proof table.

    ``tail_freedom``: degrees of freedom of species' own deviations (None: normal); from 4 to 15
    little changes. ``curvature_sd``: how far the line of a bone may curve per squared unit of
    ln mass, in own deviations; 0 for a straight line. ``interaction_sd``: how far a group's
    slope may differ, in own deviations per unit of ln mass. ``heavy_share``: share of the
    relatives that an animal must outweigh to be no ordinary member; 0 asks every animal as a
    giant, 1 none.
    """

    tail_freedom: float | None = 10.0
    curvature_sd: float = 0.05
    interaction_sd: float = 0.3
    heavy_share: float = 0.9


RECIPE = Recipe()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BonesAndMass:
    """Relatives with several bones, in the order of the tree's tips.

    ``mass_ln`` (n_tips,) of kg, ``bones_ln`` (n_tips, n_bones) of mm, ``groups`` (n_tips,
    n_groups) of 0 and 1, with ``interaction`` if a group's slope may differ.
    """

    traversal: Traversal
    mass_ln: Array
    bones_ln: Array
    groups: Array
    interaction: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KinAndSize:
    """Both models fitted to the ``observed`` relatives of ``table``.

    ``heavy_ln`` is the ln mass that nine in ten of them do not reach.
    """

    table: BonesAndMass
    observed: NDArray[np.bool_]
    kin: TwoCovariances
    size: TwoCovariances
    centre_ln: float
    heavy_ln: float

    def terms(self, mass_ln: Array, groups: Array) -> Array:
        """Return the size model's predictors at masses (n, n_grid) of animals of ``groups``."""
        return _terms(mass_ln - self.centre_ln, groups[:, None], self.table.interaction)

    def of_each_left_out(self) -> MassPosterior:
        """Predict each observed relative from all others, lines refitted, covariances kept."""
        rows = np.flatnonzero(self.observed)
        return self._read(
            taken(without_each(self.kin), rows),
            taken(without_each(self.size), rows),
            self.table.bones_ln[rows],
            groups=self.table.groups[rows],
        )

    def of_left_out(self, rows: NDArray[np.int64]) -> MassPosterior:
        """Predict relatives that took no part in the fit."""
        return self._read(
            taken(places_of_all(self.kin), rows),
            taken(places_of_all(self.size), rows),
            self.table.bones_ln[rows],
            groups=self.table.groups[rows],
        )

    def of_new_tip(
        self, traversal: Traversal, tip: str, *, bones_ln: Array, groups: Array
    ) -> tuple[MassPosterior, Array]:
        """Predict one animal hung in the tree as ``tip``, for several readings of its bones.

        ``bones_ln`` (n_readings, n_bones), ``groups`` (n_groups,). Returns the masses, and
        how probably the animal is no ordinary member of its kin, for each reading.
        """
        rows = np.zeros(len(bones_ln), dtype=np.int64)
        kin = taken(at_new_tip(self.kin, traversal, tip), rows)
        size = taken(at_new_tip(self.size, traversal, tip), rows)
        all_groups = np.broadcast_to(groups, (len(rows), len(groups)))
        by_size = self._by_size(size, bones_ln, all_groups)
        return self._mixed(kin, by_size, bones_ln, all_groups), self._heavy(by_size)

    def _read(self, kin: Place, size: Place, bones_ln: Array, *, groups: Array) -> MassPosterior:
        return self._mixed(kin, self._by_size(size, bones_ln, groups), bones_ln, groups)

    def _by_size(self, size: Place, bones_ln: Array, groups: Array) -> MassPosterior:
        turned = bones_ln @ self.size.rotation.T
        return read_back(
            self.size,
            size,
            turned - size.measurements,
            n_bones=bones_ln.shape[1],
            terms=lambda mass_ln: self.terms(mass_ln, groups),
        )

    def _heavy(self, by_size: MassPosterior) -> Array:
        return by_size.above(np.full(len(by_size.grid_ln), self.heavy_ln))

    def _mixed(
        self, kin: Place, by_size: MassPosterior, bones_ln: Array, groups: Array
    ) -> MassPosterior:
        """Read the kin model as bones given mass, and mix the two answers."""
        rotation = self.kin.rotation
        expected = kin.measurements + np.einsum(
            "akq,akq->ak", groups[:, None] - kin.predictors, kin.coefficients
        )
        gap = bones_ln @ rotation[:, 1:].T - expected
        away = groups[:, None] - kin.predictors
        lines = np.einsum("akq,akqr,akr->ak", away, kin.covariance, away)
        n, n_traits = gap.shape
        as_line = Place(
            predictors=np.zeros((n, n_traits, 1)),
            measurements=expected,
            variance=kin.variance + lines,
            coefficients=np.broadcast_to(-rotation[:, :1], (n, n_traits, 1)),
            covariance=np.zeros((n, n_traits, 1, 1)),
        )
        by_kin = read_back(
            self.kin,
            as_line,
            gap,
            n_bones=bones_ln.shape[1],
            terms=lambda mass_ln: mass_ln[..., None],
        )
        return mixed(by_size, on_grid_of(by_kin, by_size), share_of_first=self._heavy(by_size))


def _terms(size_ln: Array, groups: Array, interaction: bool) -> Array:
    """Return predictors of the size model: ln mass, its square, groups, their slopes."""
    shape = (*size_ln.shape, groups.shape[-1])
    spread = np.broadcast_to(groups, shape)
    parts = [size_ln[..., None], size_ln[..., None] ** 2, spread]
    if interaction:
        parts.append(spread * size_ln[..., None])
    return np.concatenate(parts, axis=-1)


def fit_kin_and_size(
    table: BonesAndMass,
    *,
    observed: NDArray[np.bool_] | None = None,
    start: KinAndSize | None = None,
    recipe: Recipe = RECIPE,
) -> KinAndSize:
    """Fit both models.

    Parameters
    ----------
    table : BonesAndMass
    observed : (n_tips,) bool, optional
        False where a relative is left out.
    start : KinAndSize, optional
        A fit of the same bones to other relatives, to start from.
    recipe : Recipe, optional

    Raises
    ------
    NotEnoughEvidence, OutsideRange
        See :func:`bonewright.relatives.two_covariances.fit_two_covariances`.
    """
    seen = np.ones(len(table.mass_ln), bool) if observed is None else observed
    centre = float(np.mean(table.mass_ln[seen])) if start is None else start.centre_ln
    n_groups = table.groups.shape[1]
    kin = fit_two_covariances(
        table.traversal,
        table.groups,
        np.column_stack([table.mass_ln, table.bones_ln]),
        tail_freedom=recipe.tail_freedom,
        observed=seen,
        start=None if start is None else start.kin,
    )
    prior_sd = [np.inf, max(recipe.curvature_sd, _NO_CURVE), *[np.inf] * n_groups]
    if table.interaction:
        prior_sd += [recipe.interaction_sd] * n_groups
    size = fit_two_covariances(
        table.traversal,
        _terms(table.mass_ln - centre, table.groups, table.interaction),
        table.bones_ln,
        prior_sd=np.array(prior_sd),
        tail_freedom=recipe.tail_freedom,
        observed=seen,
        start=None if start is None else start.size,
    )
    return KinAndSize(
        table=table,
        observed=seen,
        kin=kin,
        size=size,
        centre_ln=centre,
        heavy_ln=_heavy_from(table.mass_ln[seen], recipe.heavy_share),
    )


def _heavy_from(mass_ln: Array, share: float) -> float:
    """Return the ln mass below which ``share`` of the relatives lie; 0 and 1 are no bound."""
    if share in (0.0, 1.0):
        return -np.inf if share == 0.0 else np.inf
    return float(np.quantile(mass_ln, share))
