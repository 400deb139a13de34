"""Pictures and accounts in order of date, and whether they change."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Doubt, Finding
from bonewright.quantity import Draws
from bonewright.study.model import Account, Claim, DateSpan, MountMeasurement, Picture, PictureMark

__all__ = [
    "ChangePoint",
    "MountCheck",
    "ScoredPicture",
    "TestimonyResult",
    "WeighedClaim",
    "hear_witnesses",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoredPicture:
    """A picture with its mean fatness score over scorers (None if nobody scored it)."""

    picture_id: str
    title: str
    date: DateSpan
    score: float | None
    n_scorers: int
    copy_of: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePoint:
    """Pettitt's test on fatness in order of date (middle of each span).

    ``statistic`` is K; ``p_formula`` the published approximation; ``p_permutation`` the
    share of seeded permutations with a K at least as large; ``last_before`` and
    ``first_after`` the dates (decimal years) on either side of the change.
    ``p_dates`` is (2.5 %, 97.5 %) of p over draws of the uncertain dates.
    """

    with_copies: bool
    n: int
    statistic: float
    p_formula: float
    p_permutation: float
    p_dates: tuple[float, float]
    last_before: float
    first_after: float
    mean_before: float
    mean_after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedClaim:
    """A claim with its account; ``value`` in kg (weight) or m (height), else None."""

    claim_id: str
    account_id: str
    account_title: str
    date: DateSpan
    standing: str
    is_copy: bool
    kind: str
    value: float | None
    statement: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MountCheck:
    """One measure of the old mount against bone plus soft tissue.

    ``expected_mm`` is the 95 % range of one individual's bone plus allowance; ``ratio`` is
    found over the middle of the expected; ``chance_percent`` two-sided chance of so odd a
    measure in a right mount; ``wrong`` where that is below 1 %.
    """

    measurement_id: str
    mount_id: str
    title: str
    element: str
    code: str
    found_mm: float
    expected_mm: tuple[float, float]
    ratio: float
    chance_percent: float
    wrong: bool
    words: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TestimonyResult:
    """What pictures, accounts and the old mount say."""

    __test__ = False

    pictures: tuple[ScoredPicture, ...]
    change_points: tuple[ChangePoint, ...]
    claims: tuple[WeighedClaim, ...]
    mount: tuple[MountCheck, ...]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def hear_witnesses(
    *,
    pictures: tuple[Picture, ...],
    marks: tuple[PictureMark, ...],
    accounts: tuple[Account, ...],
    claims: tuple[Claim, ...],
    mount: tuple[MountMeasurement, ...],
    bone_mean_draws_mm: Mapping[tuple[str, str], Draws],
    bone_between_sd_mm: Mapping[tuple[str, str], float],
    witness_years: tuple[float, float] | None,
    kept: frozenset[tuple[str, str]],
    set_aside: frozenset[tuple[str, str]],
    rng: np.random.Generator,
) -> TestimonyResult:
    """Order the witnesses, test for change with and without copies, audit the mount."""
    raise NotImplementedError
