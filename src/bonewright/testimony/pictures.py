"""Pictures with their mean scores, and which pictures are said to be copies."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.study.model import DateSpan, Picture, PictureMark

__all__ = [
    "ScoredPicture",
    "is_copy",
    "score_pictures",
    "scores_by_scorer",
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
    file: str | None = None


def is_copy(picture: Picture) -> bool:
    """Say whether a picture is known to be drawn after another picture."""
    return picture.copy_of is not None or picture.drawn_from == "another picture"


def scores_by_scorer(marks: Sequence[PictureMark]) -> Mapping[str, Mapping[str, float]]:
    """Return each scorer's mean score of each picture: picture, then scorer, to points."""
    all_scores: dict[str, dict[str, list[float]]] = {}
    for mark in marks:
        of_picture = all_scores.setdefault(mark.picture_id, {})
        of_picture.setdefault(mark.scorer, []).append(mark.score)
    return {
        picture: {scorer: float(np.mean(scores)) for scorer, scores in of_picture.items()}
        for picture, of_picture in all_scores.items()
    }


def score_pictures(
    pictures: Sequence[Picture], marks: Sequence[PictureMark]
) -> tuple[ScoredPicture, ...]:
    """Order pictures by the middle of their dates, each with its mean over scorers.

    Repeats by one scorer are averaged first, so that no scorer counts twice.
    """
    scores = scores_by_scorer(marks)
    return tuple(
        ScoredPicture(
            picture_id=picture.picture_id,
            title=picture.title,
            date=picture.date,
            score=float(np.mean(list(of_picture.values()))) if of_picture else None,
            n_scorers=len(of_picture),
            copy_of=picture.copy_of,
            file=picture.file,
        )
        for picture in sorted(pictures, key=lambda one: (one.date.middle, one.picture_id))
        for of_picture in (scores.get(picture.picture_id, {}),)
    )
