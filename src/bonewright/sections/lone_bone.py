"""Whether a picture shows one bone, whole: not cut off by the frame, no second piece beside it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["BoneInFrame", "bone_in_frame"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneInFrame:
    """The largest piece of bone of a picture.

    ``touches_frame`` says whether it reaches the picture's edge, ``second_share`` is the
    area of the next largest piece over its own.
    """

    touches_frame: bool
    second_share: float


def bone_in_frame(grey: NDArray[np.generic], level: float) -> BoneInFrame:
    """Look at the pieces of bone in a picture in which bone is bright.

    Parameters
    ----------
    grey : (n_rows, n_columns)
        Grey values.
    level : float
        Least grey value of bone.

    Notes
    -----
    Pixels that touch at a corner hang together, as in
    :func:`bonewright.sections.whole_bone.keep_bone`.
    """
    from scipy.ndimage import label

    labels, _ = label(np.asarray(grey) >= level, structure=np.ones((3, 3)))
    areas = np.bincount(labels.ravel())
    areas[0] = 0
    order = np.argsort(areas)
    largest = int(areas[order[-1]])
    if not largest:
        return BoneInFrame(touches_frame=False, second_share=0.0)
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    second = int(areas[order[-2]]) if len(areas) > 2 else 0
    return BoneInFrame(touches_frame=bool(np.any(rim == order[-1])), second_share=second / largest)
