"""How the run and its recording stand, in the bar's words."""

from __future__ import annotations

from benchtui.watch.board import Board

from .. import format as fmt
from .glance import NS, Glance, this_run
from .text import clip, width

LEAST_NAME = 6
"""Cells of a set's name below which it is of no use."""
LOST = "FILE LOST: recording goes on in another"


def wrong(glance: Glance) -> str:
    """What is wrong with the recording; empty while nothing is."""
    if glance.trouble:
        return f"NOT RECORDED: {glance.trouble}"
    return LOST if glance.mishap else ""


def recording(glance: Glance) -> str:
    """What is wrong with it, or how it goes."""
    return wrong(glance) or status(glance.board, glance.ended)


def status(board: Board, ended: bool = False) -> str:
    """Whether it is being recorded, and at what speed it runs."""
    if board.replaying and ended:
        return "end of recording"
    if board.replaying:
        what = "replay, paused" if board.paused else "replay"
    else:
        what = "recording" if board.recording else "not recording"
        what += ", chart held" if board.paused else ""
    return what if board.fast == 1.0 else f"{what}, {board.fast:g} x"


def set_and_run(board: Board, most: int) -> str:
    """Set and run; the set's name is cut where the state of the run has no shorter words, which never is."""
    whole = width(board.set_name)
    said_so, briefly = run(board), run(board, brief=True)
    for least, said in ((whole, said_so), (whole, briefly), (LEAST_NAME, said_so), (LEAST_NAME, briefly)):
        room = most - width(said) - 2
        if room >= min(whole, least):
            name = clip(board.set_name, room)
            return f"{name}, {said}" if name else said
    return said


def run(board: Board, brief: bool = False) -> str:
    """`run 2, on 4:10`; where nobody saw the power come on, that, and since when it is watched."""
    if board.hazard.phase == "on" and (board.on_ns is None or not board.on_seen):
        since = board.run_since_ns if board.run_since_ns is not None else board.on_ns
        watched = "" if since is None else f"watched {fmt.clock((board.at_ns - since) / NS)}"
        return ", ".join(t for t in ("on unseen" if brief else "power-on not seen", watched) if t)
    if board.run == 0:
        return "no run yet"
    since, word = (board.on_ns, "on") if board.on_ns is not None else (board.off_ns, "off")
    start = since if since is not None else this_run(board)
    return f"run {board.run}, {word} {fmt.clock((board.at_ns - start) / NS)}"


def supply(glance: Glance) -> str:
    """What the mains is, where it is known, and how the recording goes; or what is wrong with that."""
    mains = fmt.finite(glance.board.mains)
    known = "" if mains is None else f"mains {mains:.0f} Vac, "
    return wrong(glance) or known + status(glance.board, glance.ended)
