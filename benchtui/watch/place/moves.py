"""What the excursions of the points mean: moves that began together have one cause and make one finding."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchtui.model.units import Unit
from benchtui.watch.signals import Away, Back, Deeper, Lost, Stayed, Steadied, Swinging

from .answers import answers_to, could_be_mains, meter_is_awaited, others_due, unseen
from .bursts import Bursts
from .cluster import (
    INFERRED,
    KICK_MOST,
    KICK_TIMES,
    LAG_NS,
    MORE,
    SHARED,
    UNSEEN,
    Cluster,
    Move,
    Response,
    alike,
    blame,
    is_mains,
    is_no_kick,
)
from .contrast import SMALL, whose
from .desk import Desk, Track
from .inferred import SWELL_NS, explained_by, may_yet_fall_back, other_story, unloaded_by_lamp
from .lag import learn
from .late import mains_shown_late, shown_apart, shows_it_late, was_it_mains
from .switching import all_are_down, asked_again_ns, may_be_off, power_is_known
from .telling import Telling

WARM_ABRUPT = 0.08
"""While warming up only a sudden fall of at least this part of the level is news."""
WARM_S = 90.0
CAME_BACK_NS = 10_000_000_000
"""But what left a steady level and was back within so long is no warming. Common practice, no source."""
WARM_ALL = 0.85
"""The load that begins to draw takes less than this part: a greater fall need not come back to be told.
Common practice, no source."""
BEGUN_PART = 0.4
"""Until it has come to this part of its chart a point that warms up is not judged. Common practice,
no source."""
SWINGS = 6.0
TURNED = -1.4
"""A supply that seems to fall by more than all it has: the leads are turned."""
ECHO_S = 15.0
"""So long after a move smaller swings of the same point belong to it."""
WAY_BACK = -2
"""The number of a move that no eye has opened: the way back of one that had stayed."""
WANDERS = 0.015
"""The mains may have moved by this much at the same time as anything. Common practice, no source."""
GONE_S = 6.0
"""So long after everything began to fall with the power still there, the supply itself has failed."""


class Moves:
    """Gathers excursions into clusters, decides on each as soon as the meters have told enough."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.bursts = Bursts(desk)
        self._telling = Telling(desk, self.bursts)
        self._open: dict[tuple[int, int], tuple[Move, Cluster]] = {}
        self._begun: dict[tuple[int, int], Away] = {}
        """What was no news while warming up, and will be if it comes back: the load that begins does not."""
        self._clusters: list[Cluster] = []
        self.restless: Callable[[Track], float] = lambda track: 0.0
        """How restless a point is now: swings of that size are no moves."""
        self.on_mains: Callable[[Cluster], None] = lambda cluster: None
        """Told of each cluster that is the mains'."""
        self.on_brought_up: Callable[[Track, Away], None] = lambda track, signal: None
        """Told of what a point does while the set is brought up."""
        self.is_raised: Callable[[Cluster], bool] = lambda cluster: False
        """Whether a cluster that would be a fault is the set being brought up."""
        self.creeps_with_mains: Callable[[Move], bool] = lambda move: False
        """Whether a point moved as the mains creeps."""
        self.on_power_gone: Callable[[int], None] = lambda at_ns: None
        """Told when everything falls and nothing says that the power is there."""
        self.on_fault: Callable[[Cluster], None] = lambda cluster: None
        """Told of each cluster that is a fault, and of each move that joins one."""

    # -- what the eyes say

    def away(self, track: Track, signal: Away, back_ns: int | None = None) -> None:
        """`back_ns`: it is told only now that it has come back."""
        desk = self._desk
        if not desk.running or track.point.moves or not signal.level:
            return
        if not track.is_mains and self._is_no_move(track, signal):
            return
        if not track.is_mains and desk.being_brought_up:
            self.on_brought_up(track, signal)
            if desk.raised_ns is None or signal.peak * signal.level < 0:
                return
        if not track.is_mains and not self._is_news(track, signal, back_ns):
            self._begun[id(track), signal.number] = signal
            return
        move = Move(
            track, signal.number, signal.start_ns, signal.level, signal.peak, signal.noise, signal.steady,
            signal.before_ns,
        )  # fmt: skip
        fault = self._told_as_fault(move) if track.is_mains else None
        if fault is not None:
            self._was_mains(fault, move)
            return
        cluster = self._cluster_of(move)
        known = cluster.of(track)
        if known is not None and known.number == UNSEEN:
            known.number, known.peak, known.level = signal.number, signal.peak, signal.level
            known.noise, known.end_ns = signal.noise, None
            self._open[id(track), signal.number] = (known, cluster)
            return
        cluster.moves.append(move)
        self._open[id(track), signal.number] = (move, cluster)
        if cluster.what:
            self._joined(cluster, move)
        else:
            cluster.start_ns = min(cluster.start_ns, move.start_ns)
            self._decide(cluster)

    def _told_as_fault(self, move: Move) -> Cluster | None:
        """The fault of which a late move of the mains meter says that it was the mains."""
        return next((c for c in reversed(self._clusters[-8:]) if was_it_mains(self._desk, c, move)), None)

    def _was_mains(self, cluster: Cluster, move: Move) -> None:
        """What had been told as a fault goes into the move of the mains that it was."""
        cluster.moves.append(move)
        self._open[id(move.track), move.number] = (move, cluster)
        assert cluster.finding is not None
        cluster.was, cluster.finding, cluster.root = [cluster.finding], None, None
        cluster.what, cluster.why = "mains", "the mains meter moved with it, only later"
        self._telling.changed(cluster, move)
        self.on_mains(cluster)

    def _is_no_move(self, track: Track, signal: Away) -> bool:
        """Next to nothing, turned leads, or a swing of a restless point."""
        if abs(signal.level) <= 2.0 * track.segment.course.cold:
            return True
        if track.unit is Unit.V and signal.peak / signal.level < TURNED:
            return True
        return abs(signal.peak) < SWINGS * self.restless(track)

    def _is_news(self, track: Track, signal: Away, back_ns: int | None) -> bool:
        """Before a point has settled in this run, only sudden falls from what it read in this run count, and
        what left a steady level and came back."""
        on_ns = self._desk.on_ns
        if on_ns is not None and signal.before_ns < on_ns <= signal.start_ns:
            return False
        if track.settled_ns is None and self._has_hardly_begun(track, signal):
            return False
        age = self._desk.age_s(signal.start_ns)
        if track.settled_ns is not None or (age > WARM_S and signal.steady):
            return True
        falls = signal.peak * signal.level < 0
        if back_ns is not None and signal.steady and back_ns - signal.start_ns <= CAME_BACK_NS:
            return signal.abrupt and abs(signal.peak) >= SMALL * abs(signal.level)
        return signal.abrupt and falls and abs(signal.peak) >= WARM_ABRUPT * abs(signal.level)

    @staticmethod
    def _has_hardly_begun(track: Track, signal: Away) -> bool:
        """A point far from its chart has nothing yet to drop from: the inrush of a supply dies away."""
        return abs(signal.level) < BEGUN_PART * abs(track.point.nominal or 0.0)

    def _cluster_of(self, move: Move) -> Cluster:
        waiting = next((c for c in self._clusters[-8:] if self._is_due(c, move)), None)
        if waiting is not None:
            return waiting
        for cluster in reversed(self._clusters[-8:]):
            if cluster.run != self._desk.run:
                break
            if cluster.returns_with(move):
                move.echo = True
                return cluster
            if move.track.is_mains and mains_shown_late(cluster, move):
                return cluster
            if shows_it_late(self._desk, cluster, move):
                return cluster
            before = cluster.of(move.track)
            is_first = before is None or before.number == UNSEEN
            if is_first and cluster.overlaps(move.before_ns, move.start_ns):
                return cluster
            since_s = (move.start_ns - cluster.start_ns) * 1e-9
            stands = before is not None and before.over and before.end_ns is None and 0 < since_s <= ECHO_S
            if before is not None and stands and abs(move.peak) <= 1.05 * abs(before.peak):
                move.echo = True
                return cluster
        cluster = Cluster(move.start_ns, self._desk.run)
        longest = max((t.period_s for t in self._desk.tracks.values()), default=1.0)
        cluster.deadline_ns = move.start_ns + int(min(2.5 * longest + 0.8, 8.0) * 1e9)
        self._clusters.append(cluster)
        self._clusters = self._clusters[-32:]
        return cluster

    def _is_due(self, cluster: Cluster, move: Move) -> bool:
        """Whether a move is that of a feed whose meter had not yet read when the fault was told."""
        if not cluster.feed_due or cluster.root is None or cluster.run != self._desk.run:
            return False
        known = cluster.of(move.track)
        if known is not None and known.number != UNSEEN:
            return False
        feeds = self._desk.chart.feeds(cluster.root.track.name)
        return move.track.name in feeds and cluster.overlaps(move.before_ns, move.start_ns)

    def deeper(self, track: Track, signal: Deeper) -> None:
        move, cluster = self._open.get((id(track), signal.number), (None, None))
        if move is not None and cluster is not None:
            move.peak = signal.peak
            decided = cluster.what
            self._decide(cluster)
            self._grew(cluster)
            if decided == "fault":
                self._telling.deeper(cluster, move)

    def back(self, track: Track, signal: Back) -> None:
        begun = self._begun.pop((id(track), signal.number), None)
        if begun is not None:
            self.away(track, replace(begun, at_ns=signal.at_ns, peak=signal.peak), signal.end_ns)
        move, cluster = self._open.pop((id(track), signal.number), (None, None))
        if move is None or cluster is None:
            return
        move.peak, move.end_ns = signal.peak, signal.end_ns
        self._decide(cluster)
        learn(cluster)
        self._telling.changed(cluster, move)
        self._unseen_is_over(cluster)
        if cluster.what == "mains" and self._telling.stays_as_told(cluster):
            self._way_back(cluster, move, signal)
        if move is cluster.root:
            self._take_back(cluster, signal)
        elif cluster.what == "mains" and (cluster.returned is None or track.is_mains):
            cluster.returned = (signal.away_ns, signal.end_ns)

    def _unseen_is_over(self, cluster: Cluster) -> None:
        """A move that no eye of its own tells is over when all that went with it are back."""
        seen = [m.end_ns for m in cluster.moves if m.number != UNSEEN and not m.echo]
        ends = [end_ns for end_ns in seen if end_ns is not None]
        if not ends or len(ends) < len(seen):
            return
        for move in cluster.moves:
            if move.number == UNSEEN and move.end_ns is None:
                move.end_ns = max(ends)
                self._telling.changed(cluster, move)

    def _way_back(self, cluster: Cluster, move: Move, signal: Back) -> None:
        """A move of the mains that was told as one that stays comes back: that is a move of its own."""
        if cluster.after is None:
            cluster.after = Cluster(signal.end_ns, cluster.run, what="mains", why=cluster.why)
            self._clusters.append(cluster.after)
        back = Move(
            move.track, WAY_BACK, signal.end_ns, move.level + move.peak, -move.peak, move.noise, True,
            signal.away_ns, stands=move.level,
        )  # fmt: skip
        cluster.after.moves.append(back)
        self._telling.changed(cluster.after, back)

    def _take_back(self, cluster: Cluster, signal: Back) -> None:
        """The root is back: what the points of its cluster did at that moment was its return."""
        desk = self._desk
        cluster.returned = (signal.away_ns, signal.end_ns)
        if cluster.what == "fault":
            self.on_fault(cluster)
        for other in self._clusters:
            if other is cluster or other.start_ns <= cluster.start_ns or other.what == "mains":
                continue
            known = all(cluster.of(m.track) is not None for m in other.moves)
            if not known or not other.overlaps(signal.away_ns, signal.end_ns):
                continue
            told = other.finding is not None and cluster.finding is not None
            if told and desk.log.get(other.finding).kind != "chatter":  # type: ignore[arg-type]
                desk.log.merge(desk.now_ns, other.finding, cluster.finding)  # type: ignore[arg-type]
            other.what, other.finding = "return", None

    def steadied(self, track: Track, signal: Steadied) -> None:
        move, cluster = self._open.get((id(track), signal.number), (None, None))
        if move is None or cluster is None:
            return
        move.stands = signal.level
        self._decide(cluster)
        learn(cluster)
        self._grew(cluster)
        self._telling.changed(cluster, move)

    def stayed(self, track: Track, signal: Stayed) -> None:
        move, cluster = self._open.pop((id(track), signal.number), (None, None))
        if move is not None and cluster is not None:
            self._telling.stays(cluster, move)

    def swinging(self, track: Track, signal: Swinging) -> None:
        move, cluster = self._open.get((id(track), signal.number), (None, None))
        if move is not None and cluster is not None and cluster.what == "fault":
            self._telling.swinging(cluster)

    def lost(self, track: Track, signal: Lost) -> None:
        move, cluster = self._open.get((id(track), signal.number), (None, None))
        if move is not None and cluster is not None:
            move.peak, move.lost = signal.peak, True
            self._decide(cluster)

    # -- what they mean

    def _decide(self, cluster: Cluster) -> None:
        """Decides on a cluster as soon as the other meters have told enough."""
        desk = self._desk
        if cluster.feed_due:
            self._ask_feeds(cluster)
        if cluster.what or cluster.run != desk.run or not desk.running:
            return
        reference = cluster.largest
        if not self._sure_enough(cluster, reference):
            return
        last = desk.now_ns >= cluster.deadline_ns
        if not last and meter_is_awaited(desk, cluster, reference):
            self._come_back(cluster)
            return
        answers = answers_to(desk, cluster, reference)
        age_s = (desk.now_ns - reference.start_ns) * 1e-9
        answer, why = is_mains(desk.chart, reference, answers, age_s, last)
        if answer == "no" and abs(reference.relative) < KICK_MOST and cluster.typical is not None:
            typical = cluster.typical
            others = answers_to(desk, cluster, typical)
            if any(a.verdict == "moved" and a.track.shows_mains for a in others):
                reference, answers = typical, others
                answer, why = is_mains(desk.chart, reference, answers, age_s, last)
        due = answer == "no" and others_due(desk, reference, answers, last)
        may_be_told = abs(reference.relative) > SMALL and any(a.verdict == "still" for a in answers)
        off = answer == "no" and may_be_off(desk, cluster, reference, answers)
        if answer == "wait" or off or (due and not may_be_told):
            self._come_back(cluster)
            return
        if answer == "yes" and why in INFERRED:
            story = self._other_story(cluster, reference, answers)
            if story == "wait" or cluster.what:
                return
            answer, why = ("no", story) if story else (answer, why)
        whose_is_it = whose(desk, reference) if answer == "no" else ""
        if whose_is_it in ("shared", "stale", "wait"):
            self._come_back(cluster)
            return
        if answer == "no" and not whose_is_it and could_be_mains(reference, answers):
            return
        cluster.why = why
        twin = next((c for c in reversed(self._clusters[-8:]) if shown_apart(c, cluster)), None)
        if twin is not None:
            self._follows(cluster, twin)
            return
        if answer == "yes":
            self._is_mains(cluster, reference, answers)
            return
        if self.creeps_with_mains(reference):
            cluster.what = "carried"
            return
        carrier = self._carrier(cluster, reference, answers)
        if carrier is not None:
            self._follows(cluster, carrier)
            return
        self._up_the_tree(cluster, reference, answers)
        self._is_fault(cluster)
        cluster.feed_due = due
        if due:
            self._come_back(cluster)

    def _other_story(self, cluster: Cluster, reference: Move, answers: list[Response]) -> str:
        """Why what looks like the mains is none; `wait` where that may yet show. A fault takes its own."""
        desk = self._desk
        if unloaded_by_lamp(desk, reference):
            cluster.what = "carried"
            return ""
        carrier = explained_by(self._clusters, cluster, reference, answers)
        if carrier is not None:
            self._follows(cluster, carrier)
            return ""
        story = other_story(desk, self._clusters, cluster, reference, answers)
        if story:
            return story
        if may_yet_fall_back(desk, reference, answers):
            desk.after(reference.start_ns + SWELL_NS, lambda: self._decide(cluster))
            return "wait"
        often = self.bursts.too_often(cluster, blame(desk.chart, cluster.moves))
        return "too often for the mains" if often else ""

    def _ask_feeds(self, cluster: Cluster) -> None:
        """Told before the meter of a feed had read: it may be the feed that is to blame."""
        desk, root = self._desk, cluster.root
        if root is None or cluster.run != desk.run or not desk.running:
            return
        answers = answers_to(desk, cluster, root)
        known = len(cluster.moves)
        self._up_the_tree(cluster, root, answers)
        if len(cluster.moves) > known:
            self._joined(cluster, cluster.moves[-1])
        cluster.feed_due = others_due(desk, root, answers, desk.now_ns >= cluster.deadline_ns)
        if cluster.feed_due:
            self._come_back(cluster)

    def _carrier(self, cluster: Cluster, reference: Move, answers: list[Response]) -> Cluster | None:
        """The fault of a feed, still lasting or just over, that made the point move, only later."""
        feeds = self._desk.chart.feeds(reference.track.name)
        for a in answers:
            if a.track.name not in feeds or a.verdict != "moved" or cluster.of(a.track) is not None:
                continue
            for other in reversed(self._clusters):
                root = other.root
                if other.what != "fault" or root is None or root.track is not a.track:
                    continue
                lasts = root.end_ns is None or other.start_ns <= cluster.start_ns <= root.end_ns
                if lasts or (other.returned and cluster.overlaps(*other.returned)):
                    return other
        return None

    def _follows(self, cluster: Cluster, carrier: Cluster) -> None:
        """All that a cluster tells belongs to the fault that carries it."""
        cluster.what = "carried"
        for move in cluster.moves:
            carrier.moves.append(move)
            if (id(move.track), move.number) in self._open:
                self._open[id(move.track), move.number] = (move, carrier)
            self._telling.changed(carrier, move)
        self._clusters.remove(cluster)
        self.on_fault(carrier)

    def _up_the_tree(self, cluster: Cluster, reference: Move, answers: list[Response]) -> None:
        """A feed that moved as much counts, even if its own eye has not spoken yet."""
        feeds = self._desk.chart.feeds(reference.track.name)
        for a in answers:
            if a.track.name not in feeds or a.verdict != "moved" or cluster.of(a.track) is not None:
                continue
            if abs(a.relative) < SHARED * min(abs(reference.relative), 1.0):
                continue
            cluster.moves.append(unseen(self._desk, a, reference))

    def _sure_enough(self, cluster: Cluster, move: Move) -> bool:
        """A sudden fall in mid-warm-up may be the load that begins to draw: it must come back."""
        again_ns = asked_again_ns(self._desk, move) if move.end_ns is None else None
        if again_ns is not None:
            self._desk.after(again_ns, lambda: self._decide(cluster))
            return False
        if move.steady or move.end_ns is not None:
            return True
        age = self._desk.age_s(move.start_ns)
        if abs(move.relative) < WARM_ALL or move.track.period_s > 0.7 or age < 8.0:
            return False
        if self._desk.now_ns < cluster.deadline_ns:
            self._come_back(cluster)
            return False
        return True

    def _come_back(self, cluster: Cluster) -> None:
        desk = self._desk
        if desk.now_ns < cluster.deadline_ns:
            shortest = min((t.period_s for t in desk.tracks.values()), default=1.0)
            again = min(desk.now_ns + int(max(shortest, 0.1) * 1e9), cluster.deadline_ns)
            if not desk.now_ns < cluster.again_ns <= again:
                cluster.again_ns = again
                desk.after(again, lambda: self._decide(cluster))

    def _is_mains(self, cluster: Cluster, reference: Move, answers: list[Response]) -> None:
        mains = next((a.relative for a in answers if a.track.is_mains and a.verdict == "moved"), None)
        if mains is None and reference.track.is_mains:
            mains = reference.relative
        cluster.mains = mains
        if mains is not None:
            self._split_off(cluster, mains)
        if all(m.echo for m in cluster.moves):
            self._clusters.remove(cluster)
            return
        cluster.what = "mains"
        shown = next((m for m in cluster.moves if m.track.is_mains), None)
        for fault in [c for c in self._clusters[-8:] if shown and was_it_mains(self._desk, c, shown)]:
            assert fault.finding is not None
            cluster.was.append(fault.finding)
            fault.finding = None
            self._follows(fault, cluster)
        self._telling.changed(cluster, reference)
        self.on_mains(cluster)
        self._watch_fall(cluster)

    def _split_off(self, cluster: Cluster, mains: float) -> None:
        """A point that moved by far more than the mains explains is a case of its own."""
        others = [m for m in cluster.moves if not m.track.is_mains]
        more = [m for m in others if abs(m.relative) > MORE * abs(mains)]
        if any(alike(m.relative, mains) for m in others):
            more = [m for m in more if is_no_kick(m.relative, mains)]
        if not more:
            return
        own = Cluster(min(m.start_ns for m in more), cluster.run, more, deadline_ns=cluster.deadline_ns)
        own.why = "far more than the mains explains"
        cluster.moves = [m for m in cluster.moves if m not in more]
        for m in more:
            if (id(m.track), m.number) in self._open:
                self._open[id(m.track), m.number] = (m, own)
        self._clusters.append(own)
        self._is_fault(own)

    def _is_fault(self, cluster: Cluster) -> None:
        if cluster.finding is None and self.is_raised(cluster):
            cluster.what = "raised"
            return
        cluster.what = "fault"
        cluster.root = blame(self._desk.chart, cluster.moves)
        self._telling.fault(cluster)
        self._take_in(cluster)
        self.on_fault(cluster)

    def _take_in(self, cluster: Cluster) -> None:
        """A fault of a feed takes in what had been told of a point that it feeds, before its meter read."""
        desk, root = self._desk, cluster.root
        assert root is not None
        for other in self._clusters[-8:]:
            theirs = other.root
            if other is cluster or other.what != "fault" or theirs is None or theirs.end_ns is not None:
                continue
            if root.track.name not in desk.chart.feeds(theirs.track.name):
                continue
            if not alike(root.relative, theirs.relative) or not other.overlaps(root.before_ns, root.start_ns):
                continue
            told = None if other.finding is None else desk.log.get(other.finding)
            if told is not None and (told.kind == "chatter" or cluster.finding is None):
                continue
            self._follows(other, cluster)
            if told is not None and cluster.finding is not None and told.state == "open":
                desk.log.merge(desk.now_ns, told.id, cluster.finding)

    def _joined(self, cluster: Cluster, move: Move) -> None:
        """A move that a slow meter shows late: named in the finding, or the better culprit."""
        if move.echo:
            return
        if cluster.what == "fault":
            root = blame(self._desk.chart, cluster.moves)
            if root is not cluster.root and self._is_better(root, cluster.root):
                cluster.root = root
                self._telling.blamed_anew(cluster)
                return
        self._look_at_mains(cluster, move)
        self._telling.changed(cluster, move)
        if cluster.what == "fault":
            self.on_fault(cluster)

    def _look_at_mains(self, cluster: Cluster, move: Move) -> None:
        """Told as the mains', until a late or growing move showed it to be the effect of a fault."""
        if cluster.what != "mains" or not self._was_no_mains(cluster, move):
            return
        cluster.what, cluster.why = "fault", "far more than the mains explains"
        cluster.root = blame(self._desk.chart, cluster.moves)
        self._telling.blamed_anew(cluster)

    def _was_no_mains(self, cluster: Cluster, move: Move) -> bool:
        """Whether a move is so great that the small common one was its effect, or the mains' wandering."""
        ac = [abs(m.relative) for m in cluster.moves if m.track.shows_mains]
        if move.track.shows_mains:
            return False
        if ac or cluster.mains is not None:
            mains = max(*ac, abs(cluster.mains or 0.0), 0.0)
            return mains < WANDERS and abs(move.relative) > KICK_TIMES * mains
        if self._desk.mains() is not None:
            return False
        others = max((abs(m.relative) for m in cluster.moves if m is not move), default=0.0)
        return 0.0 < 2.0 * MORE * others < abs(move.relative)

    def _is_better(self, root: Move, than: Move | None) -> bool:
        """Whether a point is so much more to blame that the finding must change its name."""
        if than is None:
            return True
        chart = self._desk.chart
        if chart.carries(root.track.name) > chart.carries(than.track.name):
            return True
        return abs(root.relative) > 1.5 * abs(than.relative)

    def _grew(self, cluster: Cluster) -> None:
        """A move has grown: a feed whose meter is slow may turn out to be to blame, a tube to be starved."""
        for move in cluster.moves if cluster.what == "mains" else ():
            self._look_at_mains(cluster, move)
        if cluster.what != "fault" or cluster.root is None:
            return
        root = blame(self._desk.chart, cluster.moves)
        if root is not cluster.root and self._is_better(root, cluster.root):
            cluster.root = root
            self._telling.blamed_anew(cluster)
        self.on_fault(cluster)

    def _watch_fall(self, cluster: Cluster) -> None:
        """Everything falls and goes on falling with the power there: the supply has failed."""
        desk = self._desk

        def look() -> None:
            if cluster.run != desk.run or not desk.running or cluster.finding is not None:
                return
            if not all(m.lost or (m.end_ns is None and m.stands is None) for m in cluster.moves):
                return
            if not power_is_known(desk):
                if all_are_down(desk, cluster.start_ns):
                    self.on_power_gone(cluster.start_ns)
                return
            if not all(m.lost for m in cluster.moves) or cluster.largest.relative > 0:
                return
            cluster.why = "everything fell with the power there"
            self._is_fault(cluster)

        for wait in (GONE_S, 12.0, 20.0, 30.0):
            desk.after(cluster.start_ns + int(wait * 1e9), look)

    # -- the run, and what others ask

    def lead_gone(self, track: Track, at_ns: int) -> None:
        """The lead has left a point: nothing more will be told of its moves."""
        log = self._desk.log
        for mine in (self._open, self._begun):
            for key in [k for k in mine if k[0] == id(track)]:
                del mine[key]
        for cluster in self._clusters:
            if cluster.root is not None and cluster.root.track is track and cluster.finding is not None:
                log.close(at_ns, cluster.finding, at_ns, evidence={"ended_by": "the lead was moved"})
        self.bursts.lead_gone(track.name, at_ns)

    def run_begins(self) -> None:
        self._forget()

    def run_ends(self, off_ns: int, unsure_ns: int | None) -> None:
        """What began with the switch-off itself was no fault; it may have been `unsure_ns` earlier."""
        desk = self._desk
        for cluster in self._clusters:
            root = cluster.root
            if cluster.finding is None or root is None or root.end_ns is not None:
                continue
            slack = unsure_ns if unsure_ns is not None else int((2.0 * root.track.period_s + 0.5) * 1e9)
            if cluster.start_ns >= off_ns - slack:
                desk.log.withdraw(desk.now_ns, cluster.finding, "the set was switched off")
        self._forget()

    def _forget(self) -> None:
        self._open.clear()
        self._begun.clear()
        self._clusters.clear()
        self.bursts.forget()

    def mains_moved(self, first_ns: int, until_ns: int) -> bool:
        """Whether a move of the mains began or ended between two instants, or so shortly before that a meter
        may show it only then."""
        for cluster in reversed(self._clusters):
            if cluster.what == "mains":
                edges = [cluster.start_ns, *(m.end_ns for m in cluster.moves if m.end_ns is not None)]
                if any(first_ns - LAG_NS <= edge <= until_ns for edge in edges):
                    return True
        return False

    def newest_mains(self) -> int | None:
        """The finding of the newest move of the mains in this run."""
        told = [c.finding for c in self._clusters if c.what == "mains" and c.finding is not None]
        return told[-1] if told else None

    def explains(self, point: str, at_ns: int) -> int | None:
        """The finding of the move that put a point where it is at an instant, if there is one."""
        for cluster in reversed(self._clusters):
            if cluster.finding is None:
                continue
            for m in cluster.moves:
                lasting = m.end_ns is None or m.end_ns >= at_ns - 5_000_000_000
                if m.track.name == point and m.start_ns <= at_ns and lasting:
                    return cluster.finding
        return None

    def of_point(self, point: str) -> int | None:
        """The newest finding of which a point is the cause."""
        for cluster in reversed(self._clusters):
            if cluster.root is not None and cluster.root.track.name == point:
                return cluster.finding
        return None
