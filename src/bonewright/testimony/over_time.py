"""Fatness over time: one change, a trend, a season; with all pictures and with witnesses only."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Caveat, Finding, RowRef
from bonewright.study.model import DateSpan, Picture, PictureMark
from bonewright.testimony.change_point import ChangePoint, find_change, share_found
from bonewright.testimony.change_probability import ChangeProbability, change_probability
from bonewright.testimony.pictures import score_pictures
from bonewright.testimony.season import Season, compare_season
from bonewright.testimony.time_wording import (
    probability_finding,
    season_finding,
    trend_findings,
    untested_finding,
)
from bonewright.testimony.trend import Trend, find_trend
from bonewright.testimony.wording import change_findings, no_change_finding

__all__ = ["OverTime", "fatness_over_time"]

_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class OverTime:
    """Every test on fatness over time, with all pictures and with independent ones."""

    changes: tuple[ChangePoint, ...]
    trends: tuple[Trend, ...]
    probabilities: tuple[ChangeProbability, ...]
    seasons: tuple[Season, ...]
    findings: tuple[Finding, ...]


def fatness_over_time(
    pictures: Sequence[Picture],
    marks: Sequence[PictureMark],
    *,
    independent: frozenset[str],
    caveats: tuple[Caveat, ...],
    rng: np.random.Generator,
) -> OverTime:
    """Run every test twice; pictures nobody scored are left out.

    Parameters
    ----------
    marks : sequence of PictureMark
        Scores of fatness only.
    independent : set of str
        The pictures heard as witnesses of their own.
    """
    changes: list[ChangePoint] = []
    trends: list[Trend] = []
    probabilities: list[ChangeProbability] = []
    seasons: list[Season] = []
    findings: dict[bool, list[Finding]] = {}
    streams = rng.spawn(2)
    # All pictures first: the sentence on independent ones compares with them.
    for with_copies, stream in zip((True, False), streams, strict=True):
        chosen = [one for one in pictures if with_copies or one.picture_id in independent]
        scored = [one for one in score_pictures(chosen, marks) if one.score is not None]
        scores = np.array([one.score for one in scored], dtype=np.float64)
        dates = tuple(one.date for one in scored)
        refs = {picture.picture_id: picture.ref for picture in chosen}
        rows = tuple(refs[one.picture_id] for one in scored)
        told = findings.setdefault(with_copies, [])
        set_aside = len(pictures) - sum(one.picture_id in independent for one in pictures)
        change = _change(
            scores, dates, with_copies=with_copies, stream=stream, told=told, caveats=caveats
        )
        if change is not None:
            told += change_findings(
                change,
                n_copies=set_aside if with_copies else 0,
                other=changes[0] if changes and not with_copies else None,
                rows=rows,
                caveats=caveats,
                found=None
                if with_copies
                else share_found(change, step=1.0, rng=stream.spawn(1)[0]),
            )
            changes.append(change)
            of_trend, of_probability = stream.spawn(2)
            trend = find_trend(scores, dates, with_copies=with_copies, rng=of_trend)
            trends.append(trend)
            told += trend_findings(trend, rows=rows, caveats=caveats)
            probability = change_probability(
                scores, dates, with_copies=with_copies, rng=of_probability
            )
            probabilities.append(probability)
            told.append(probability_finding(probability, rows=rows, caveats=caveats))
        season = _season(
            scores, dates, rows, with_copies=with_copies, stream=stream, told=told, caveats=caveats
        )
        if season is not None:
            seasons.append(season)
    return OverTime(
        changes=tuple(changes),
        trends=tuple(trends),
        probabilities=tuple(probabilities),
        seasons=tuple(seasons),
        findings=(*findings[False], *findings[True]),
    )


def _change(
    scores: np.ndarray,
    dates: tuple[DateSpan, ...],
    *,
    with_copies: bool,
    stream: np.random.Generator,
    told: list[Finding],
    caveats: tuple[Caveat, ...],
) -> ChangePoint | None:
    return _or_told(
        lambda: find_change(scores, dates, with_copies=with_copies, rng=stream),
        told,
        lambda reason: no_change_finding(with_copies=with_copies, reason=reason, caveats=caveats),
    )


def _season(
    scores: np.ndarray,
    dates: tuple[DateSpan, ...],
    rows: tuple[RowRef, ...],
    *,
    with_copies: bool,
    stream: np.random.Generator,
    told: list[Finding],
    caveats: tuple[Caveat, ...],
) -> Season | None:
    season = _or_told(
        lambda: compare_season(scores, dates, with_copies=with_copies, rng=stream.spawn(1)[0]),
        told,
        lambda reason: untested_finding(with_copies=with_copies, reason=reason, caveats=caveats),
    )
    if season is not None:
        told.append(season_finding(season, rows=rows, caveats=caveats))
    return season


def _or_told(
    test: Callable[[], _Result], told: list[Finding], open_finding: Callable[[str], Finding]
) -> _Result | None:
    """Run a test; where it cannot be run, say so as a finding."""
    try:
        return test()
    except NotEnoughEvidence as too_few:
        told.append(open_finding(str(too_few)))
        return None
