"""What the excursions of the points mean: a dropout, a step, the mains, a feed, restlessness."""

from __future__ import annotations

from dataclasses import dataclass, field

from benchtui.watch.signals import Away, Back, Deeper, Lost, Stayed, Steadied

from .desk import Desk, Track
from .responses import response
from .verdict import Verdict, judge

WARM_ABRUPT = 0.08
"""While warming up only a sudden fall of at least this part of the level is news."""
WARM_S = 90.0
DEEP = 0.5
"""A fall of more than half is a dropout that has not come back yet, however long it lasts."""
RESTLESS, RESTLESS_S, CALM_S = 5, 20.0, 10.0
"""So many excursions within so many seconds are chatter, which ends after so many calm ones."""


@dataclass(slots=True, eq=False)
class Move:
    """One excursion of one point."""

    track: Track
    number: int
    start_ns: int
    level: float
    peak: float
    noise: float
    steady: bool
    abrupt: bool
    run: int
    announced_after_ns: int = 0
    end_ns: int | None = None
    stands: float | None = None
    """The level at which it steadied elsewhere."""
    lost: bool = False
    verdict: Verdict | None = None
    finding: int | None = None
    mains: MainsMove | None = None
    feed: Move | None = None

    @property
    def relative(self) -> float:
        return self.peak / self.level if self.level else 0.0

    @property
    def over(self) -> bool:
        return self.end_ns is not None or self.stands is not None or self.lost


@dataclass(slots=True, eq=False)
class MainsMove:
    """One move of the mains, with the points that showed it."""

    start_ns: int
    members: list[Move] = field(default_factory=list)
    finding: int | None = None
    closed: bool = False

    def covers(self, move: Move, slack_ns: int) -> bool:
        ends = [m.end_ns for m in self.members if m.end_ns is not None]
        open_still = not all(m.over for m in self.members)
        end = max(ends) if ends else max(m.start_ns for m in self.members)
        return self.start_ns - slack_ns <= move.start_ns and (open_still or move.start_ns <= end + slack_ns)


class Moves:
    """Turns excursions into findings, one cause one finding."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._moves: dict[tuple[int, int], Move] = {}
        self._recent: list[Move] = []
        self._mains: list[MainsMove] = []
        self._chatter: dict[str, int] = {}
        self._bursts: dict[str, list[Move]] = {}
        self._counts: dict[str, int] = {}

    # -- what the eyes say

    def away(self, track: Track, signal: Away) -> None:
        desk = self._desk
        if not desk.running or track.point.moves or not signal.level:
            return
        if not track.is_mains and not self._is_news(track, signal):
            return
        move = Move(
            track, signal.number, signal.start_ns, signal.level, signal.peak, signal.noise, signal.steady,
            signal.abrupt, desk.run,
        )  # fmt: skip
        self._moves[id(track), signal.number] = move
        self._recent.append(move)
        self._recent = self._recent[-64:]
        self._consider(move)

    def _is_news(self, track: Track, signal: Away) -> bool:
        """Before a point has settled in this run, only sudden falls count."""
        age = self._desk.age_s(signal.start_ns)
        if track.settled_ns is not None or (age > WARM_S and signal.steady):
            return True
        falls = signal.peak * signal.level < 0
        return signal.abrupt and falls and abs(signal.peak) >= WARM_ABRUPT * abs(signal.level)

    def deeper(self, track: Track, signal: Deeper) -> None:
        move = self._moves.get((id(track), signal.number))
        if move is not None:
            move.peak = signal.peak
            self._consider(move)

    def back(self, track: Track, signal: Back) -> None:
        move = self._moves.pop((id(track), signal.number), None)
        if move is None:
            return
        move.peak, move.end_ns = signal.peak, signal.end_ns
        if move.finding is None:
            self._consider(move)
        if move.finding is not None:
            self._tell_end(move)
        if move.mains is not None:
            self._mains_news(move.mains)

    def steadied(self, track: Track, signal: Steadied) -> None:
        move = self._moves.get((id(track), signal.number))
        if move is None:
            return
        move.stands = signal.level
        self._consider(move)
        if move.mains is not None:
            self._mains_news(move.mains)
        elif move.finding is not None:
            stands = {"stands_at": signal.level, "stands_since_s": signal.since_ns / 1e9}
            self._desk.log.amend(signal.at_ns, move.finding, evidence=stands)

    def stayed(self, track: Track, signal: Stayed) -> None:
        move = self._moves.pop((id(track), signal.number), None)
        if move is None or move.finding is None or move.mains is not None:
            return
        found = self._desk.log.get(move.finding)
        if found.kind == "dropout" and abs(move.relative) < DEEP:
            self._desk.log.amend(signal.at_ns, move.finding, kind="step")

    def lost(self, track: Track, signal: Lost) -> None:
        move = self._moves.get((id(track), signal.number))
        if move is None:
            return
        move.peak, move.lost = signal.peak, True
        self._consider(move)

    # -- what they mean

    def _consider(self, move: Move) -> None:
        """Decides on a move as soon as the other meters have told enough."""
        desk = self._desk
        if move.verdict is not None or move.run != desk.run or not desk.running:
            return
        longest = max((t.period_s for t in desk.tracks.values() if t.fresh(desk.now_ns)), default=1.0)
        deadline = move.start_ns + int(min(2.0 * longest + 0.4, 8.0) * 1e9)
        if not self._sure_enough(move, deadline):
            return
        answers = [
            response(desk, other, move.start_ns, move.end_ns, move.relative)
            for other in desk.tracks.values()
            if other is not move.track and not other.point.moves and other.unit.is_voltage
        ]
        verdict = judge(desk.chart, move.track, move.relative, answers, desk.now_ns >= deadline)
        if verdict.what == "wait":
            self._come_back(move, deadline)
            return
        if verdict.what in ("feed", "load") and not self._blame(move, verdict, deadline):
            return
        move.verdict = verdict
        if verdict.what == "mains":
            self._join_mains(move)
        elif verdict.what == "here":
            self._announce(move)

    def _sure_enough(self, move: Move, deadline: int) -> bool:
        """A slow meter's sudden fall in mid-warm-up could be the warm-up itself: it must come back first."""
        desk = self._desk
        if move.steady or move.end_ns is not None:
            return True
        age = desk.age_s(move.start_ns)
        if abs(move.relative) < 0.25 or move.track.period_s > 0.7 or age < 8.0:
            return False
        if desk.now_ns < deadline:
            self._come_back(move, deadline)
            return False
        return True

    def _come_back(self, move: Move, deadline: int) -> None:
        shortest = min((t.period_s for t in self._desk.tracks.values()), default=1.0)
        again = min(self._desk.now_ns + int(max(shortest, 0.05) * 1e9), deadline)
        if self._desk.now_ns < deadline:
            self._desk.after(again, lambda: self._consider(move))

    def _blame(self, move: Move, verdict: Verdict, deadline: int) -> bool:
        """Puts the move under the finding of the point to blame; False while that has not spoken."""
        desk = self._desk
        for other in reversed(self._recent):
            near = abs(other.start_ns - move.start_ns) <= int((other.track.period_s * 2 + 1.0) * 1e9)
            if other.track.name == verdict.root and near and other.run == move.run:
                move.feed = other
                if other.finding is not None:
                    self._name_also(other, move)
                if other.verdict is not None and other.verdict.what in ("feed", "load"):
                    break
                return True
        if desk.now_ns < deadline:
            self._come_back(move, deadline)
            return False
        move.verdict = Verdict("here", why="its feed's meter did not see it in time")
        self._announce(move)
        return False

    def _name_also(self, root: Move, move: Move) -> None:
        assert root.finding is not None
        also = list(self._desk.log.get(root.finding).evidence.get("also", ()))
        if move.track.name not in also:
            also.append(move.track.name)
            self._desk.log.amend(self._desk.now_ns, root.finding, evidence={"also": also})

    def _announce(self, move: Move) -> None:
        desk, track = self._desk, move.track
        if self._restless(move):
            return
        shallow = abs(move.relative) < 0.1 and move.end_ns is None and move.steady
        kind = "step" if shallow else "dropout"
        self._counts[track.name] = self._counts.get(track.name, 0) + 1
        move.finding = desk.log.open(desk.now_ns, kind, track.name, move.start_ns, None, self._evidence(move))
        if move.end_ns is not None:
            self._tell_end(move)

    def _evidence(self, move: Move) -> dict[str, object]:
        desk, track = self._desk, move.track
        assert move.verdict is not None
        feed = track.point.fed_from
        before = desk.value(feed, move.start_ns) if feed else None
        also = list(move.verdict.also)
        also += [m.track.name for m in self._recent if m.feed is move and m.track.name not in also]
        return {
            "depth": move.peak,
            "level": move.level,
            "relative": move.relative,
            "noise": move.noise,
            "count": self._counts.get(track.name, 0),
            "after_mark": desk.after_mark(move.start_ns),
            "feed": feed,
            "feed_value": before,
            "also": also,
            "why": move.verdict.why,
            "age_s": desk.age_s(move.start_ns) if desk.on_ns is not None else None,
            "mains": desk.mains_factor(),
        }

    def _tell_end(self, move: Move) -> None:
        desk = self._desk
        assert move.finding is not None
        assert move.end_ns is not None
        found = desk.log.get(move.finding)
        if found.state != "open" or found.kind == "chatter":
            return
        duration = (move.end_ns - move.start_ns) / 1e9
        changes = {"depth": move.peak, "relative": move.relative, "duration_s": duration}
        desk.log.close(desk.now_ns, move.finding, move.end_ns, kind="dropout", evidence=changes)

    # -- bursts

    def _restless(self, move: Move) -> bool:
        """Counts excursions of one point; many in a short time are one finding, chatter."""
        desk, name = self._desk, move.track.name
        burst = self._bursts.setdefault(name, [])
        burst.append(move)
        burst[:] = [m for m in burst if move.start_ns - m.start_ns <= RESTLESS_S * 1e9]
        if name in self._chatter:
            move.finding = self._chatter[name]
            changes = {"count": desk.log.get(move.finding).evidence["count"] + 1}
            desk.log.amend(desk.now_ns, move.finding, evidence=changes)
            return True
        if len(burst) < RESTLESS:
            return False
        deepest = max(burst, key=lambda m: abs(m.peak))
        evidence = {**self._evidence(deepest), "count": len(burst)}
        number = desk.log.open(desk.now_ns, "chatter", name, burst[0].start_ns, None, evidence)
        for m in burst:
            if m.finding is not None:
                desk.log.merge(desk.now_ns, m.finding, number)
            m.finding = number
        self._chatter[name] = number
        self._calm_later(name, number)
        return True

    def _calm_later(self, name: str, number: int) -> None:
        def look() -> None:
            burst = self._bursts[name]
            last = max(m.end_ns if m.end_ns is not None else m.start_ns for m in burst)
            if any(not m.over for m in burst) or self._desk.now_ns - last < CALM_S * 1e9:
                if self._desk.log.get(number).state == "open":
                    self._desk.after(self._desk.now_ns + 1_000_000_000, look)
                return
            self._chatter.pop(name, None)
            self._bursts.pop(name, None)
            self._desk.log.close(self._desk.now_ns, number, last)

        self._desk.after(self._desk.now_ns + int(CALM_S * 1e9), look)

    # -- the mains

    def _join_mains(self, move: Move) -> None:
        slack = int((2.0 * move.track.period_s + 1.0) * 1e9)
        for mains in reversed(self._mains[-8:]):
            if mains.covers(move, slack):
                mains.members.append(move)
                move.mains = mains
                mains.start_ns = min(mains.start_ns, move.start_ns)
                break
        else:
            move.mains = MainsMove(move.start_ns, [move])
            self._mains.append(move.mains)
        self._mains_news(move.mains)

    def _mains_news(self, mains: MainsMove) -> None:
        """Tells a move of the mains once a point is back or stands steady: a switch-off never is."""
        desk = self._desk
        done = [m for m in mains.members if m.end_ns is not None or m.stands is not None]
        if not done or mains.closed:
            return
        largest = max(mains.members, key=lambda m: (m.track.is_mains, abs(m.relative)))
        also = sorted({m.track.name for m in mains.members if not m.track.is_mains})
        evidence = {
            "relative": largest.relative,
            "shown_by": largest.track.name,
            "also": also,
            "stays": all(m.end_ns is None for m in done),
            "why": mains.members[0].verdict.why if mains.members[0].verdict else "",
        }
        if mains.finding is None:
            mains.finding = desk.log.open(desk.now_ns, "mains", None, mains.start_ns, None, evidence)
        else:
            desk.log.amend(desk.now_ns, mains.finding, start_ns=mains.start_ns, evidence=evidence)
        if len(done) == len(mains.members):
            ends = [m.end_ns for m in done if m.end_ns is not None]
            end = max(ends) if ends else desk.now_ns
            mains.closed = True
            desk.log.close(desk.now_ns, mains.finding, max(end, mains.start_ns))

    # -- the run

    def run_begins(self) -> None:
        self._forget()

    def run_ends(self, off_ns: int) -> None:
        """What began with the switch-off itself was no fault."""
        desk = self._desk
        for move in self._recent:
            if move.finding is None or move.end_ns is not None:
                continue
            if move.start_ns >= off_ns - int(2.0 * move.track.period_s * 1e9):
                desk.log.withdraw(desk.now_ns, move.finding, "the set was switched off")
        self._forget()

    def _forget(self) -> None:
        self._moves.clear()
        self._recent.clear()
        self._mains.clear()
        self._chatter.clear()
        self._bursts.clear()
        self._counts.clear()

    def explains(self, point: str, at_ns: int) -> int | None:
        """The open or just ended finding of a move that put this point where it is, if there is one."""
        for move in reversed(self._recent):
            if move.track.name != point or (move.end_ns is not None and move.end_ns < at_ns - 5_000_000_000):
                continue
            if move.finding is not None:
                return move.finding
            if move.feed is not None and move.feed.finding is not None:
                return move.feed.finding
            if move.mains is not None and move.mains.finding is not None:
                return move.mains.finding
        return None

    def of_point(self, point: str, since_ns: int) -> int | None:
        """The newest dropout, step or chatter of a point that began at or after an instant."""
        for move in reversed(self._recent):
            if move.track.name == point and move.start_ns >= since_ns and move.finding is not None:
                return move.finding
        return None
