"""What the excursions of the points say: each joins the cluster of those that began with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchtui.watch.signals import Away, Back, Deeper, Lost, Stayed, Steadied, Swinging

from .bursts import Bursts
from .cluster import UNSEEN, Cluster, Move
from .deciding import Deciding
from .depth import falls_at_once
from .desk import Desk
from .gathered import Gathered
from .lag import learn
from .late import was_it_mains
from .news import are_leads_turned, is_news, is_no_move
from .switching import OFF_PART
from .tails import Tails
from .telling import Telling
from .track import Track

SHOWN_LATE_NS = 1_500_000_000
"""What fell so shortly before the power is seen to have gone, and has not come back, fell with it."""
WAY_BACK = -2
"""The number of a move that no eye has opened: the way back of one that had stayed."""


class Moves:
    """Gathers excursions into clusters: moves that began together have one cause and make one finding."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.bursts = Bursts(desk)
        self.gathered = Gathered(desk)
        self._telling = Telling(desk, self.bursts)
        self.deciding = Deciding(desk, self.gathered, self._telling, self.bursts)
        self._begun: dict[tuple[int, int], Away] = {}
        """What was no news while warming up, and will be if it comes back: the load that begins does not."""
        self._raised: dict[tuple[int, int], Away] = {}
        """The same, while the set was brought up."""
        self._tails = Tails(desk, self.gathered, lambda track, signal: self.away(track, signal, certain=True))
        self.restless: Callable[[Track], float] = lambda track: 0.0
        """How restless a point is now: swings of that size are no moves."""
        self.on_brought_up: Callable[[Track, Away], None] = lambda track, signal: None
        """Told of what a point does while the set is brought up."""
        self.is_its_own: Callable[[Track, Away], bool] = lambda track, signal: False
        """Whether what a point did while the set is brought up, and has undone, was no turn's doing."""
        self.shows_turn_ns: Callable[[int], int] = lambda at_ns: at_ns
        """From when on what turn there was by an instant shows."""

    # -- what the eyes say

    def away(self, track: Track, signal: Away, back_ns: int | None = None, *, certain: bool = False) -> None:
        """`back_ns`: it is told only now that it has come back. `certain`: it is no tail of another."""
        desk = self._desk
        if not desk.running or track.point.moves or not signal.level or are_leads_turned(track, signal):
            return
        if not track.is_mains and is_no_move(track, signal, self.restless(track)):
            return
        if not track.is_mains and desk.being_brought_up and back_ns is None:
            self.on_brought_up(track, signal)
            if not self._is_told_while_raised(track, signal):
                self._raised[id(track), signal.number] = signal
                return
        if not track.is_mains and not is_news(desk, track, signal, back_ns):
            self._begun[id(track), signal.number] = signal
            return
        if not certain and self._tails.holds(track, signal):
            return
        move = Move(
            track, signal.number, signal.start_ns, signal.level, signal.peak, signal.noise, signal.steady,
            track.taken_ns(signal.before_ns), abrupt=signal.abrupt,
        )  # fmt: skip
        heater_tells = track.is_heater and not desk.has_mains_meter
        fault = self._told_as_fault(move) if track.is_mains or heater_tells else None
        if fault is not None:
            self.deciding.was_mains(fault, move)
            return
        cluster = self.gathered.cluster_of(move)
        known = cluster.of(track)
        if known is not None and known.number == UNSEEN:
            known.number, known.peak, known.level = signal.number, signal.peak, signal.level
            known.noise, known.end_ns = signal.noise, None
            self.gathered.put(known, cluster)
            return
        cluster.moves.append(move)
        self.gathered.put(move, cluster)
        if cluster.what:
            self.deciding.revising.joined(cluster, move)
        else:
            cluster.start_ns = min(cluster.start_ns, move.start_ns)
            self.deciding.decide(cluster)

    def _is_told_while_raised(self, track: Track, signal: Away) -> bool:
        """Whether a move is asked about at once though the set is being brought up, with no AC meter to tell
        by how much: what rises, or falls as no valve makes it fall. All else is, once it comes back."""
        if self._desk.raised_ns is None:
            return False
        rises = signal.peak * signal.level > 0
        return rises or (not self._desk.ac_meters() and falls_at_once(track, signal))

    def _told_as_fault(self, move: Move) -> Cluster | None:
        """The fault of which a late move of the mains meter, or of a heater's, says that it was the mains."""
        return next((c for c in reversed(self.gathered.lately) if was_it_mains(self._desk, c, move)), None)

    def deeper(self, track: Track, signal: Deeper) -> None:
        tail = self._tails.drop(track, signal.number)
        if tail is not None:
            self.away(track, replace(tail, at_ns=signal.at_ns, peak=signal.peak))
            return
        move, cluster = self.gathered.find(track, signal.number) or (None, None)
        if move is not None and cluster is not None:
            move.peak = signal.peak
            if cluster.what == "carried":
                cluster.what = ""
            decided = cluster.what
            self.deciding.decide(cluster)
            self.deciding.revising.grew(cluster)
            if decided == "fault":
                self._telling.deeper(cluster, move)

    def back(self, track: Track, signal: Back) -> None:
        self._tails.back(track, signal)
        begun = self._begun.pop((id(track), signal.number), None)
        if begun is not None:
            self.away(track, replace(begun, at_ns=signal.at_ns, peak=signal.peak), signal.end_ns)
        raised = self._raised.pop((id(track), signal.number), None)
        if raised is not None:
            self._raised_back(track, replace(raised, peak=signal.peak), signal)
        self._is_back(track, signal)

    def _raised_back(self, track: Track, raised: Away, signal: Back) -> None:
        """What went away and came back while the set was brought up is asked about once a turn would show."""
        desk, run = self._desk, self._desk.run

        def ask() -> None:
            here = desk.tracks.get(track.name) is track and desk.run == run and desk.running
            if here and self.is_its_own(track, raised):
                self.away(track, replace(raised, at_ns=desk.now_ns), signal.end_ns)
                self._is_back(track, signal)

        at_ns = self.shows_turn_ns(signal.at_ns)
        if at_ns > desk.now_ns:
            desk.after(at_ns, ask)
        else:
            ask()

    def _is_back(self, track: Track, signal: Back) -> None:
        move, cluster = self.gathered.close(track, signal.number) or (None, None)
        if move is None or cluster is None:
            return
        move.peak, move.end_ns = signal.peak, signal.end_ns
        self.deciding.decide(cluster)
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
            self.gathered.clusters.append(cluster.after)
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
            self.deciding.on_fault(cluster)
        for other in self.gathered.clusters:
            if other is cluster or other.start_ns <= cluster.start_ns or other.what == "mains":
                continue
            known = all(
                cluster.of(m.track) is not None or self.gathered.is_load_again(cluster, m)
                for m in other.moves
            )
            if not known or not other.overlaps(signal.away_ns, signal.end_ns):
                continue
            told = other.finding is not None and cluster.finding is not None
            if told and desk.log.get(other.finding).kind != "chatter":  # type: ignore[arg-type]
                desk.log.merge(desk.now_ns, other.finding, cluster.finding)  # type: ignore[arg-type]
            other.what, other.finding = "return", None

    def steadied(self, track: Track, signal: Steadied) -> None:
        move, cluster = self.gathered.find(track, signal.number) or (None, None)
        if move is None or cluster is None:
            return
        move.stands = signal.level
        self.deciding.decide(cluster)
        learn(cluster)
        self.deciding.revising.grew(cluster)
        self._telling.changed(cluster, move)

    def stayed(self, track: Track, signal: Stayed) -> None:
        self._tails.drop(track, signal.number)
        move, cluster = self.gathered.close(track, signal.number) or (None, None)
        if move is not None and cluster is not None:
            self._telling.stays(cluster, move)

    def swinging(self, track: Track, signal: Swinging) -> None:
        move, cluster = self.gathered.find(track, signal.number) or (None, None)
        if move is not None and cluster is not None and cluster.what == "fault":
            self._telling.swinging(cluster)

    def lost(self, track: Track, signal: Lost) -> None:
        self._tails.drop(track, signal.number)
        move, cluster = self.gathered.find(track, signal.number) or (None, None)
        if move is not None and cluster is not None:
            move.peak, move.lost = signal.peak, True
            self.deciding.decide(cluster)

    def lead_gone(self, track: Track, at_ns: int) -> None:
        """The lead has left a point: nothing more will be told of its moves."""
        log = self._desk.log
        self.gathered.lead_gone(track)
        self._tails.lead_gone(track)
        for begun in (self._begun, self._raised):
            for key in [k for k in begun if k[0] == id(track)]:
                del begun[key]
        for cluster in self.gathered.clusters:
            root, number = cluster.root, cluster.finding
            if root is None or root.track is not track or number is None:
                continue
            if log.get(number).point == track.name:
                log.close(at_ns, number, at_ns, evidence={"ended_by": "the lead was moved"})
        self.bursts.lead_gone(track.name, at_ns)

    def run_begins(self) -> None:
        self._forget()

    def run_ends(self, off_ns: int, unsure_ns: int | None) -> None:
        """What began with the switch-off itself was no fault; it may have been `unsure_ns` earlier."""
        desk = self._desk
        for cluster in self.gathered.clusters:
            root = cluster.root
            if cluster.finding is None or root is None or root.end_ns is not None:
                continue
            slack = unsure_ns if unsure_ns is not None else int((2.0 * root.track.period_s + 0.5) * 1e9)
            if root.relative <= -OFF_PART:
                slack = max(slack, SHOWN_LATE_NS)
            if cluster.start_ns >= off_ns - slack:
                desk.log.withdraw(desk.now_ns, cluster.finding, "the set was switched off")
        self._forget()

    def _forget(self) -> None:
        self.gathered.forget()
        self._begun.clear()
        self._raised.clear()
        self._tails.forget()
        self.bursts.forget()
