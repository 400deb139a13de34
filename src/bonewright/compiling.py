"""Loops compiled on their first call and kept on disk, for steps that count in millions.

Importing this module loads numba, which takes the better part of a second, so modules of
compiled loops are imported where they are used. Compiled code is thrown away when the file it
was written in changes, and only then, which is why loops that call each other stay together in
one file.
"""

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["Flags", "Floats", "Integers", "compiled", "compiled_inside"]

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

Parameters = ParamSpec("Parameters")
Result = TypeVar("Result")


def compiled(function: Callable[Parameters, Result]) -> Callable[Parameters, Result]:
    """Compile on first call, keep on disk, and let other threads run meanwhile.

    Where the package's own folder may not be written to, the compiled code is kept in the
    user's cache folder; without one it is compiled anew in every run. Sums stay in the order in
    which they are written, so that the numbers do not depend on the machine's width.
    """
    return _compiled(function, no_cfunc_wrapper=True)


def compiled_inside(function: Callable[Parameters, Result]) -> Callable[Parameters, Result]:
    """Compile what only compiled loops call: the same, in less time."""
    return _compiled(function, no_cfunc_wrapper=True, no_cpython_wrapper=True)


def _compiled(
    function: Callable[Parameters, Result], **wrappers: bool
) -> Callable[Parameters, Result]:
    compiler = cast(Any, njit)  # its stubs do not know of the wrappers
    try:
        kept = compiler(cache=True, nogil=True, **wrappers)(function)
    except RuntimeError:  # no folder to keep it in
        kept = compiler(nogil=True, **wrappers)(function)
    return cast(Callable[Parameters, Result], kept)
