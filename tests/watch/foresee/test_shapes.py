"""When valves have how much of the way left."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.watch.foresee.prior import shapes_of
from benchtui.watch.foresee.shapes import Courses, conduction, reaches

SHAPES = shapes_of(1e9, None).draw(300)


@pytest.mark.parametrize("left", [0.9, 0.5, 0.3, 0.1, 0.02, 0.01])
def test_when_so_much_is_left_so_much_is_left(left: float) -> None:
    """A tenth of a second later less is left, sooner more; never sooner than the quick answer has it.

    In one shape of a hundred, whose second valves wake very late, it is up to half a second.
    """
    at = Courses(SHAPES).reaches(np.arange(len(SHAPES)), np.full(len(SHAPES), left))
    for near_s, part in ((0.1, 0.99), (0.5, 1.0)):
        around = at[:, None] + np.array([-near_s, near_s])
        more, less = (1.0 - conduction(SHAPES, around)).T
        assert ((more >= left) & (less <= left)).mean() >= part
    assert (at >= reaches(SHAPES, np.full(len(SHAPES), left)) - 0.5).all()
