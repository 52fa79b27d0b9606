"""What a skilled, patient person would say of the set's faults, seen through these meters."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from ..case import Answer, Truth
from .plan import Episode
from .record import Record, Shown, shown

Cluster = list[Episode]
SWINGS = 0.1
"""Standard deviation, as a part of how far it went, from which on a point does not stand where it went."""


def fault_truths(record: Record) -> list[Truth]:
    """The labels of all acts of the fault."""
    found: list[Truth] = []
    for cluster in _clusters(record):
        if cluster[0].kind == "bleed":
            found += _bleeding(record, cluster[0])
        else:
            found += _act(record, cluster)
    return found


def _clusters(record: Record) -> list[Cluster]:
    """Dropouts so close that no meter can be sure to tell them apart are one act."""
    found: list[Cluster] = []
    apart = 8.0 + 3 * max((k.meter.slack_s for k in record.taken if not k.meter.typed), default=1.0)
    for episode in sorted(record.plan.episodes, key=lambda e: e.start):
        if found and episode.kind == "dropout" and episode.start - found[-1][-1].end < apart:
            found[-1].append(episode)
        else:
            found.append([episode])
    return found


def _act(record: Record, cluster: Cluster) -> list[Truth]:
    kind, start, end = cluster[0].kind, cluster[0].start, cluster[-1].end
    shows = [shown(record, k, start, end) for k in record.taken]
    least = {"dropout": 2, "chatter": 4, "step": 8, "drift": 8, "departs": 8}[kind]
    clear = [s for s in shows if _clear(s, kind, least) and not s.spot.programme]
    once = [s for s in shows if s not in clear and s.most > 0.5 and not s.spot.programme]
    once = [s for s in once if not _explained(record, s, clear)]
    faint = [s for s in shows if s not in clear and (s.most > 0.12 or s.count)]
    named = [s for s in clear if not _explained(record, s, clear)]
    faint = [s for s in faint if not _explained(record, s, clear)]
    named.sort(key=lambda s: (_typed(record, s), -min(abs(s.share), 1.0), s.first))
    slow = max((s.slow_s for s in named), default=0.0)
    kinds = _kinds(kind, end - start, slow, len(cluster))
    accept = _answers(record, [*named, *once], kinds, start) if named else ()
    early = max((s.slack_s for s in shows), default=1.0) + (15.0 if kind == "drift" else 1.0)
    late = _late(record, kind, named or shows, start, end)
    slack = {"start_s": start, "end_s": min(end, record.plan.end_s), "early_s": early, "late_s": late}
    truths: list[Truth] = []
    confused = _like_mains(record, clear, kind == "dropout")
    if accept:
        accept += (("mains", None),) if confused else ()
        must = not _like_power(record, clear) and _sure(record, kind, named)
        truths.append(Truth(kind, accept, must=must, many=True, after_mark=_tapped(cluster, named), **slack))
    lamps = [s for s in clear if s.spot.unit == "state" and s not in named]
    also = _answers(record, [*faint, *named, *lamps], (*kinds, "step", "drift", "creep", "unsettled"), start)
    if _like_power(record, clear):
        also += (("power_off", None), ("power_on", None))
    if confused or not clear:
        also += (("mains", None),)
    also += tuple(("creep", s.spot.name) for s in clear)
    if also:
        slack["late_s"] = max(late, min(end, record.plan.end_s) - start + 60.0)
        truths.append(Truth(f"{kind}, faint", also, must=False, many=True, **slack))
    if kind in ("dropout", "chatter"):
        truths += _returning(cluster, [*faint, *named])
    return truths


def _clear(s: Shown, kind: str, least: int) -> bool:
    if s.spot.unit == "state":
        return s.count >= 1
    return s.count >= least and (kind != "drift" or (s.most > 1.8 and abs(s.share) > 0.05))


def _explained(record: Record, s: Shown, clear: Iterable[Shown]) -> bool:
    """Whether it did no more than its feed, which shows clearly and on a meter as quick, makes it do."""
    above = record.above(s.spot.name)
    for feed in clear:
        if feed.spot.name in above and feed is not s and not _typed(record, feed):
            lamp = s.spot.unit == "state"
            alike = s.share * feed.share > 0 and abs(s.share) < 1.25 * abs(feed.share) + 0.004
            if (alike and not lamp) or (lamp and abs(feed.share) > 0.5):
                return True
    return False


def _typed(record: Record, s: Shown) -> bool:
    return next(k.meter.typed for k in record.taken if k.meter.spot == s.spot)


def _kinds(kind: str, length: float, slow: float, count: int) -> tuple[str, ...]:
    if kind == "chatter":
        return ("chatter", "dropout")
    if kind == "dropout":
        found: tuple[str, ...] = ("dropout",)
        found += ("step",) if length > 4 or slow > 3 else ()
        found += ("chatter",) if count > 2 else ()
        return found + (("drift",) if slow > 15 else ())
    if kind == "drift":
        return ("drift", "creep", "step", "unsettled")
    found = ("departs", "step", "dropout") if kind == "departs" else ("step", "dropout")
    return found + (("drift", "creep") if slow > 10 else ())


def _answers(record: Record, named: list[Shown], kinds: tuple[str, ...], start: float) -> tuple[Answer, ...]:
    found: list[Answer] = []
    for s in named:
        found += [(kind, s.spot.name) for kind in kinds]
        if "chatter" not in kinds and _swings(record, s, start):
            found.append(("chatter", s.spot.name))
        if s.spot.tube:
            found += [("dropout", s.spot.name), ("step", s.spot.name)]
            found += _glowing(record, s, start)
    return tuple(dict.fromkeys(found))


def _swings(record: Record, s: Shown, start: float) -> bool:
    """Whether it goes to and fro from then on, as a regulator tube does that lacks its current."""
    course = record.courses[s.spot.name][:, 0]
    before = course[(record.grid > start - 5.0) & (record.grid < start)]
    after = course[(record.grid > start + 2.0) & (record.grid < start + 60.0)]
    if s.spot.unit != "V" or not len(before) or not len(after):
        return False
    off = np.abs(after - float(np.median(before)))
    return float(np.std(after)) > SWINGS * float(off.max())


def _glowing(record: Record, s: Shown, start: float) -> list[Answer]:
    """A tube that is out had what it needs, or lacked it: told by the volts of its feed, where read."""
    feeds = [f for f in record.above(s.spot.name) if f in record.courses]
    if not feeds or not any(k.meter.spot.name == feeds[0] for k in record.taken):
        return [("starved", s.spot.name), ("fed_but_out", s.spot.name)]
    course = record.courses[feeds[0]]
    here = (record.grid > start) & (record.grid < s.first + 1)
    low = float(np.min(course[here, 0] / np.maximum(course[here, 1], 1))) if here.any() else 1.0
    if s.spot.unit == "V":  # its own volts are read too: risen is fed, fallen is starved
        return [("fed_but_out" if s.share > 0 else "starved", s.spot.name)]
    return [("starved" if low < 0.6 else "fed_but_out", s.spot.name)]


def _late(record: Record, kind: str, shows: list[Shown], start: float, end: float) -> float:
    first = max((s.first - start for s in shows if s.count), default=0.0)
    slack = max((s.slack_s for s in shows), default=1.0)
    late = max(first, 0.0) + 2 * slack + 1.5
    if kind in ("drift", "chatter"):
        return max(late, min(end, record.plan.end_s) - start + (30.0 if kind == "drift" else 2.0))
    if kind == "dropout" and math.isfinite(end):
        return max(late, end - start + slack)
    return late + max((s.slow_s for s in shows), default=0.0)


def _sure(record: Record, kind: str, named: list[Shown]) -> bool:
    """Whether someone patient would surely have said it."""
    quick = [s for s in named if not _typed(record, s)]
    if kind == "drift":
        slow = 0.08 if record.plan.episodes[0].start < 60 else 0.05
        return any(abs(s.share) > slow for s in quick)
    return any(s.most > 1.3 and (s.count > 2 or abs(s.share) > 0.1) for s in quick)


def _like_mains(record: Record, clear: list[Shown], brief: bool) -> bool:
    """Whether all that is measured moved alike, no further than the mains does, with no AC meter to tell."""
    volts = [k for k in record.taken if k.meter.spot.unit == "V" and not k.meter.typed]
    shares = [s.share for s in clear if s.spot.unit == "V"]
    if record.has_ac or not shares or len(shares) < 0.7 * len(volts):
        return False
    middle = float(np.median(shares))
    deepest = 0.35 if brief else 0.13  # a sag can be deep; a rise of the mains, or a lasting fall, is small
    return -deepest < middle < 0.13 and all(0.5 < x / middle < 1.6 for x in shares)


def _like_power(record: Record, clear: list[Shown]) -> bool:
    """Whether everything fell so far that it could have been the switch."""
    volts = [k.meter.spot for k in record.taken if k.meter.spot.unit != "state"]
    fallen = {s.spot.name for s in clear if s.share < -0.6}
    mains = any(spot.node == "~mains" for spot in volts)
    return not mains and len(fallen) >= 0.75 * len(volts)


def _tapped(cluster: Cluster, named: list[Shown]) -> float | None:
    return cluster[0].tapped if named else None


def _returning(cluster: Cluster, named: list[Shown]) -> list[Truth]:
    """The way back can be told as a step of its own, where the fall was one."""
    if cluster[-1].end - cluster[0].start < 4 and all(s.slow_s < 3 for s in named):
        return []
    answers = tuple(("step", s.spot.name) for s in named)
    end = cluster[-1].end
    late = 6.0 + max((s.slack_s for s in named), default=1.0) + 60.0
    return [Truth("returns", answers, end, end, False, 3.0, late, True)] if answers else []


def _bleeding(record: Record, episode: Episode) -> list[Truth]:
    """A point that the chart wants discharged by then, and that is not."""
    found = []
    for taken in record.taken:
        name = taken.meter.spot.name
        limit = record.sheet.bleed_s.get(name)
        if limit is None:
            continue
        by = episode.start + limit
        late = taken.t > by
        still = late & (np.abs(taken.clean[:, 0]) > 30)
        sure = (taken.t > by + 0.15 * limit + 8) & (np.abs(taken.clean[:, 0]) > 34)
        must = int(sure.sum()) >= 5 and not taken.meter.typed
        if still.any() or must:
            rest = record.plan.end_s - episode.start
            found.append(
                Truth("bleed", (("slow_bleed", name),), episode.start, record.plan.end_s, must, 5.0, rest)
            )
    return found
