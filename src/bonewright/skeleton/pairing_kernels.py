"""Compiled loop: chains that walk through the ways of pairing two heaps of bones.

Only arrays and numbers here; nothing checks its input.
"""

import numpy as np

from bonewright.compiling import Floats, Integers, compiled

__all__ = ["count_pairings"]


@compiled
def count_pairings(
    weight: Floats,
    first: Integers,
    rng: np.random.Generator,
    chains: int,
    sweeps: int,
) -> Floats:
    """Count how often each left bone is paired with each right one, (n, m + 1), once a sweep.

    ``weight`` (n + 1, m + 1) are the ln odds of each pair against two lone bones, the last row
    and column of 0; ``first`` (n,) the right bone of each left one to begin with, m where it is
    alone. A sweep is as many steps as there are bones of the commoner side; the first quarter
    of the sweeps is left out.
    """
    n, m = weight.shape[0] - 1, weight.shape[1] - 1
    count = np.zeros((n, m + 1))
    of_left, of_right = np.empty(n, np.int64), np.empty(m, np.int64)
    for _ in range(chains):
        of_right[:] = n
        for left in range(n):
            of_left[left] = first[left]
            if first[left] < m:
                of_right[first[left]] = left
        for sweep in range(sweeps):
            for _ in range(max(n, m)):
                left, right = int(n * rng.random()), int(m * rng.random())
                old_right, old_left = of_left[left], of_right[right]
                parted = old_right == right  # they are a pair: propose to part them
                if parted:
                    gain = -weight[left, right]
                else:
                    gain = weight[left, right] + weight[old_left, old_right]
                    gain -= weight[left, old_right] + weight[old_left, right]
                if np.log(1.0 - rng.random()) >= gain:
                    continue
                if parted:
                    of_left[left], of_right[right] = m, n
                    continue
                if old_left < n:
                    of_left[old_left] = old_right
                if old_right < m:
                    of_right[old_right] = old_left
                of_left[left], of_right[right] = right, left
            if sweep >= sweeps // 4:
                for left in range(n):
                    count[left, of_left[left]] += 1.0
    return count
