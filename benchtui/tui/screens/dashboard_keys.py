"""The keys of the dashboard, in both views and in the near one."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from benchtui.watch.board import Board

    from ..widgets.near_view import NearView
    from .dashboard import Dashboard

_Act: TypeAlias = "Callable[[Dashboard], object]"
_Change: TypeAlias = "Callable[[NearView, Board], None]"
_BOTH: dict[str, _Act] = {
    "space": lambda d: d.hands.mark(),
    "n": lambda d: d.hands.move_lead(),
    "N": lambda d: d.hands.move_lead(choose=True),
    "a": lambda d: d.action_acknowledge(),
    "A": lambda d: d.action_acknowledge(all_of_them=True),
    "f": lambda d: d.action_fault(1),
    "F": lambda d: d.action_fault(-1),
    "p": lambda d: d.action_pause(),
    "v": lambda d: d.action_view(),
    "i": lambda d: d.hands.looked(),
    "question_mark": lambda d: d.action_keys(),
    "enter": lambda d: d.action_open(),
    "q": lambda d: d.ask_quit(),
}
_NEAR: dict[str, _Change] = {
    "j": lambda near, board: near.go_to_point(board, 1),
    "k": lambda near, board: near.go_to_point(board, -1),
    "plus": lambda near, board: near.zoom(board, 0.5),
    "minus": lambda near, board: near.zoom(board, 2.0),
    "h": lambda near, board: near.shift(board, -0.25),
    "l": lambda near, board: near.shift(board, 0.25),
    "0": lambda near, board: near.whole_run(board),
    "z": lambda near, board: near.change_scale(board),
}
_ALSO = {"down": "j", "up": "k", "equals_sign": "plus", "left": "h", "right": "l"}


def _near(change: _Change) -> _Act:
    return lambda dashboard: dashboard.in_near_view(change)


KEYS: dict[str, _Act] = {
    **_BOTH,
    **{key: _near(change) for key, change in _NEAR.items()},
    **{key: _near(_NEAR[like]) for key, like in _ALSO.items()},
}
"""Textual's name of a key -> what it does; those of the near view do nothing in the far view."""
