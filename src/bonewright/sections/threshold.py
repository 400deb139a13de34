"""What counts as bone in a grey picture: three named rules for the threshold."""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange

__all__ = ["Threshold", "ThresholdRule", "background_is_bright", "choose_threshold"]

ThresholdRule = Literal["fixed", "otsu", "half-maximum"]

_FEWEST_VALUES = 64
# Between background and bone there must be this many times the noise of either; a single
# kind of grey, parted at its middle, shows about three.
_LEAST_CONTRAST = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """The least grey value of bone, and what it rests on.

    ``background`` and ``bone`` are typical grey values on either side; ``noise`` is the
    larger standard deviation of the two, by the median absolute deviation.
    """

    rule: ThresholdRule
    level: float
    background: float
    bone: float
    noise: float

    @property
    def within_voxels(self) -> bool:
        """Whether edges are placed within voxels, which half-maximum does."""
        return self.rule == "half-maximum"

    def shifted(self, share: float) -> "Threshold":
        """Return the rule with its level moved by a share of the contrast."""
        return Threshold(
            rule=self.rule,
            level=self.level + share * (self.bone - self.background),
            background=self.background,
            bone=self.bone,
            noise=self.noise,
        )


def choose_threshold(
    grey: NDArray[np.generic], rule: ThresholdRule, *, level: float | None = None
) -> Threshold:
    """Choose the threshold of a picture or stack in which bone is bright.

    Parameters
    ----------
    grey : array of any shape
        Grey values, or a sample of them.
    rule : {"fixed", "otsu", "half-maximum"}
        ``fixed`` takes ``level``; ``otsu`` parts the grey values into the two most compact
        classes [Otsu1979]_; ``half-maximum`` lies halfway between background and bone, where
        the edge of a blurred step truly is.

    Raises
    ------
    NotEnoughEvidence
        If there are not two kinds of grey to tell apart.
    OutsideRange
        If ``fixed`` has no level, or one outside the picture's grey values.

    Notes
    -----
    A wall thinner than the scanner's blur does not reach the grey of bone, and every rule
    makes it too thin without a warning.
    """
    import skimage.filters

    otsu_level: Any = skimage.filters.threshold_otsu
    values = np.asarray(grey).ravel()
    if values.dtype == np.bool_:
        values = values.astype(np.uint8)
    values = values[np.isfinite(values)]
    if len(values) < _FEWEST_VALUES or values.min() == values.max():
        raise NotEnoughEvidence(
            "The picture cannot be parted into bone and background.",
            needed="two kinds of grey",
            found="one grey value throughout" if len(values) else "no pixels",
            would_help="a picture of the section with more contrast",
        )
    start = float(otsu_level(values))
    if rule == "fixed":
        if level is None or not values.min() < level <= values.max():
            raise OutsideRange(
                "The fixed threshold lies outside the picture's grey values.",
                remedy=f"Give one above {values.min():g} and at most {values.max():g}.",
            )
        start = level
    # Otsu's level is the greatest of the lower class.
    is_bone = values > start if rule != "fixed" else values >= start
    low, high = values[~is_bone].astype(np.float64), values[is_bone].astype(np.float64)
    background, bone = float(np.median(low)), float(np.median(high))
    # Voxels at edges belong to neither; what is well inside a class says what its grey is.
    margin = 0.25 * (bone - background)
    background = float(np.median(low[low <= background + margin]))
    bone = float(np.median(high[high >= bone - margin]))
    noise = 1.4826 * max(
        float(np.median(np.abs(low - background))), float(np.median(np.abs(high - bone)))
    )
    if bone - background < _LEAST_CONTRAST * noise:
        raise NotEnoughEvidence(
            "Bone and background are too alike to be told apart.",
            needed=f"a contrast of at least {_LEAST_CONTRAST:g} times the noise",
            found=f"{(bone - background) / noise:.2g} times",
            would_help="a sharper or less noisy picture, or an outline traced by hand",
        )
    chosen = {
        "fixed": start,
        "otsu": float(np.nextafter(start, np.inf)),
        "half-maximum": (background + bone) / 2,
    }[rule]
    return Threshold(rule=rule, level=chosen, background=background, bone=bone, noise=noise)


def background_is_bright(slice_grey: NDArray[np.generic], level: float) -> bool:
    """Say whether the rim of a picture is brighter than the threshold: grey is inverted.

    The rim of a picture of a bone is background unless the bone is cut off by the frame.
    """
    rim = np.concatenate([slice_grey[0], slice_grey[-1], slice_grey[:, 0], slice_grey[:, -1]])
    return bool(np.mean(rim >= level) > 0.5)
