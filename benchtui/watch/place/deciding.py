"""What a cluster of moves was: the mains, a fault, part of another fault, or the hand on the transformer."""

from __future__ import annotations

from collections.abc import Callable

from .answers import answers_to, battery_stands, could_be_mains, hardly_follows, meter_is_awaited, others_due
from .bursts import Bursts
from .cluster import Cluster, Move, Response
from .contrast import SMALL, mains_stood, showed_in_part, whose
from .culprit import blame
from .depth import QUICK_S, STANDS_NS, SUDDEN, is_sudden, look_how_far
from .desk import Desk
from .feeds import carrier, named_before, up_the_tree
from .gathered import Gathered
from .inferred import (
    SWELL_NS,
    explained_by,
    may_yet_be_even,
    may_yet_fall_back,
    other_story,
    unloaded_by_lamp,
    what_lasts,
)
from .kicks import goes_both_ways, stands_for_it
from .kinship import alike
from .late import shown_apart, was_it_mains
from .programme import goes_with_it
from .revising import Revising
from .switching import all_are_down, asked_again_ns, may_be_off, power_is_known
from .telling import Telling
from .verdict import ALONE, APART, FAR_MORE, INFERRED, MORE, is_mains, is_no_kick, shown_part

WARM_ALL = 0.85
"""The load that begins to draw takes less than this part: a greater fall need not come back to be told.
Common practice, no source."""
YOUNG_S = 8.0
"""From this age on a sudden fall is no surge of the rectifier that ends. Common practice, no source."""
GONE_S = 6.0
"""So long after everything began to fall with the power still there, the supply itself has failed."""
FAILS = 0.1
"""And it falls by more than this part: the mains creeps by less. Common practice, no source."""
LOOK_NS = 200_000_000
"""So often it is asked whether the programme has changed."""
WANDERS = 0.01
"""The mains of a house wanders by so much within seconds. Common practice, no source."""


class Deciding:
    """Decides on clusters, each as soon as the meters have told enough."""

    def __init__(self, desk: Desk, gathered: Gathered, telling: Telling, bursts: Bursts) -> None:
        self._desk = desk
        self._gathered = gathered
        self._telling = telling
        self._bursts = bursts
        self.revising = Revising(desk, telling)
        self.on_mains: Callable[[Cluster], None] = lambda cluster: None
        """Told of each cluster that is the mains'."""
        self.is_raised: Callable[[Cluster], bool] = lambda cluster: False
        """Whether a cluster that would be a fault is the set being brought up."""
        self.creeps_with_mains: Callable[[Move], bool] = lambda move: False
        """Whether a point moved as the mains creeps."""
        self.on_power_gone: Callable[[int], None] = lambda at_ns: None
        """Told when everything falls and nothing says that the power is there."""

    def on_fault(self, cluster: Cluster) -> None:
        """A cluster is a fault, or a move joins one."""
        self.revising.on_fault(cluster)

    def decide(self, cluster: Cluster) -> None:
        """Decides on a cluster as soon as the other meters have told enough."""
        desk = self._desk
        if cluster.feed_due:
            self._ask_feeds(cluster)
        if cluster.run != desk.run or not desk.running:
            return
        if cluster.what == "fault":
            look_how_far(desk, cluster)
        if cluster.what:
            return
        reference = cluster.largest
        if not self._sure_enough(cluster, reference):
            return
        last = desk.now_ns >= cluster.deadline_ns
        if not last and meter_is_awaited(desk, cluster, reference):
            self._come_back(cluster)
            return
        if not last and hardly_follows(desk, reference):
            self._come_back(cluster)
            return
        age_s = (desk.now_ns - reference.start_ns) * 1e-9
        answers, answer, why = self._asked(cluster, reference, last)
        longer = what_lasts(cluster, reference) if answer == "yes" and why in INFERRED else None
        if longer is not None:
            said, verdict, reason = self._asked(cluster, longer, last)
            if verdict != "yes":
                reference, answers, answer, why = longer, said, verdict, reason
        instead = stands_for_it(desk, cluster, reference, age_s, last) if answer == "no" else None
        if instead is not None:
            reference, answers, answer, why = instead
        if (
            answer == "no"
            and not last
            and goes_both_ways(desk.chart, cluster, reference, answers, desk.now_ns)
        ):
            self._come_back(cluster)
            return
        due = answer == "no" and others_due(desk, reference, answers, last)
        may_be_told = abs(reference.relative) > SMALL and any(a.verdict == "still" for a in answers)
        off = answer == "no" and may_be_off(desk, cluster, reference, answers)
        if answer == "wait" or off or (due and not may_be_told):
            self._come_back(cluster)
            return
        if answer == "yes" and why in INFERRED and mains_stood(desk, reference):
            answer, why = "no", "the mains meter did not move"
        if answer == "yes" and why in INFERRED and battery_stands(desk, cluster, reference):
            answer, why = "no", "the battery did not move"
        if answer == "yes" and why in INFERRED:
            story = self._other_story(cluster, reference, answers)
            if story == "wait" or cluster.what:
                return
            answer, why = ("no", story) if story else (answer, why)
        if answer == "no" and why == ALONE and showed_in_part(desk, reference):
            answer, why = "yes", "a meter that averages showed some of it"
        whose_is_it = whose(desk, reference) if answer == "no" else ""
        if whose_is_it == "shared" and last and self._is_worth_telling(reference):
            answer, why, whose_is_it = "yes", APART, ""
        if whose_is_it in ("shared", "stale", "wait"):
            self._come_back(cluster)
            return
        if answer == "no" and not whose_is_it and could_be_mains(reference, answers):
            return
        cluster.why = why
        twin = next((c for c in reversed(self._gathered.lately) if self._is_twin(c, cluster)), None)
        if twin is not None:
            self._follows(cluster, twin)
            return
        if answer == "yes" and self._may_be_cut(cluster, reference, answers):
            self._come_back(cluster)
            return
        if answer == "yes":
            self._is_mains(cluster, reference, answers)
            return
        if self.creeps_with_mains(reference) or self._gathered.falls_away(cluster):
            cluster.what = "carried"
            return
        if not last and (self._gathered.awaits_return(cluster) or self._gathered.may_swing_on(cluster)):
            self._come_back(cluster)
            return
        programme = goes_with_it(desk, reference.relative, reference.before_ns, reference.start_ns)
        if programme:
            cluster.what = "carried"
            return
        if programme is None:
            self._come_back_at(cluster, desk.now_ns + LOOK_NS)
            return
        feed = carrier(desk, self._gathered.clusters, cluster, reference, answers)
        if feed is not None:
            self._follows(cluster, feed)
            return
        up_the_tree(desk, cluster, reference, answers)
        self._is_fault(cluster)
        cluster.feed_due = due
        if due:
            self._come_back(cluster)

    def _asked(self, cluster: Cluster, move: Move, last: bool) -> tuple[list[Response], str, str]:
        """What the others answer to a move of a cluster, whether it was the mains', and why."""
        desk, answers = self._desk, answers_to(self._desk, cluster, move)
        age_s = (desk.now_ns - move.start_ns) * 1e-9
        vouch = self._gathered.without_fallen(answers, cluster)
        return answers, *is_mains(desk.chart, move, vouch, age_s, last)

    def _is_twin(self, other: Cluster, cluster: Cluster) -> bool:
        """Whether all that a cluster tells is another one, shown late."""
        return shown_apart(other, cluster) or all(self._gathered.went_along(other, m) for m in cluster.moves)

    def _may_be_cut(self, cluster: Cluster, reference: Move, answers: list[Response]) -> bool:
        """Whether what falls by far more than the mains may be the switch-off, which its meter shows late."""
        falls = [a.relative for a in answers if a.track.shows_mains and a.verdict == "moved"]
        far = any(reference.relative < MORE * part < 0.0 for part in falls)
        return far and may_be_off(self._desk, cluster, reference, answers)

    def _is_worth_telling(self, move: Move) -> bool:
        """Whether a small move that others share is more than the mains wanders, where no AC meter reads."""
        return abs(move.relative) >= WANDERS and not self._desk.ac_meters()

    def _other_story(self, cluster: Cluster, reference: Move, answers: list[Response]) -> str:
        """Why what looks like the mains is none; `wait` where that may yet show. A fault takes its own."""
        desk = self._desk
        if unloaded_by_lamp(desk, reference):
            cluster.what = "carried"
            return ""
        fault = explained_by(self._gathered.clusters, cluster, reference, answers)
        if fault is not None:
            self._follows(cluster, fault)
            return ""
        if desk.now_ns < cluster.deadline_ns and may_yet_be_even(
            desk, self._gathered.clusters, cluster, reference, answers
        ):
            self._come_back(cluster)
            return "wait"
        story = other_story(desk, self._gathered.clusters, cluster, reference, answers)
        if story:
            return story
        if may_yet_fall_back(desk, reference, answers):
            self._come_back_at(cluster, reference.start_ns + SWELL_NS)
            return "wait"
        often = self._bursts.too_often(cluster, blame(desk.chart, cluster.moves, desk.now_ns))
        return "too often for the mains" if often else ""

    def _ask_feeds(self, cluster: Cluster) -> None:
        """Told before the meter of a feed had read: it may be the feed that is to blame."""
        desk, root = self._desk, cluster.root
        if root is None or cluster.run != desk.run or not desk.running:
            return
        answers = answers_to(desk, cluster, root)
        known = len(cluster.moves)
        up_the_tree(desk, cluster, root, answers)
        if len(cluster.moves) > known:
            self.revising.joined(cluster, cluster.moves[-1])
        cluster.feed_due = others_due(desk, root, answers, desk.now_ns >= cluster.deadline_ns)
        if cluster.feed_due:
            self._come_back(cluster)

    def _follows(self, cluster: Cluster, carrier: Cluster) -> None:
        """All that a cluster tells belongs to the fault that carries it."""
        cluster.what = "carried"
        for move in cluster.moves:
            carrier.moves.append(move)
            self._gathered.hand_over([move], carrier)
            self._telling.changed(carrier, move)
        self._gathered.drop(cluster)
        self.on_fault(carrier)

    def _sure_enough(self, cluster: Cluster, move: Move) -> bool:
        """A sudden fall in mid-warm-up may be the load that begins to draw: it must come back."""
        again_ns = asked_again_ns(self._desk, move) if move.end_ns is None else None
        if again_ns is not None:
            self._desk.after(again_ns, lambda: self.decide(cluster))
            return False
        if move.steady or move.end_ns is not None:
            return True
        age = self._desk.age_s(move.start_ns)
        if age >= YOUNG_S and move.relative <= -SUDDEN and move.track.period_s <= QUICK_S:
            if self._desk.now_ns < move.start_ns + STANDS_NS:
                self._come_back_at(cluster, move.start_ns + STANDS_NS)
                return False
            if is_sudden(move, self._desk.now_ns):
                return True
        if abs(move.relative) < WARM_ALL or move.track.period_s > 0.7 or age < YOUNG_S:
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
            self._come_back_at(cluster, again)

    def _come_back_at(self, cluster: Cluster, at_ns: int) -> None:
        if not self._desk.now_ns < cluster.again_ns <= at_ns:
            cluster.again_ns = at_ns
            self._desk.after(at_ns, lambda: self.decide(cluster))

    def _is_mains(self, cluster: Cluster, reference: Move, answers: list[Response]) -> None:
        told = [(a.track, a.relative) for a in answers if a.verdict == "moved"]
        told.append((reference.track, reference.relative))
        meter, mains = next((t for t in told if t[0].is_mains), (None, None))
        cluster.mains = mains
        if meter is not None and mains is not None:
            self._split_off(cluster, mains, meter.period_s)
        if all(m.echo for m in cluster.moves):
            self._gathered.drop(cluster)
            cluster.what = "return"
            return
        cluster.what = "mains"
        cluster.along = {a.track.name for a in answers if a.verdict == "moved"}
        shown = next((m for m in cluster.moves if m.track.is_mains), None)
        for fault in [c for c in self._gathered.lately if shown and was_it_mains(self._desk, c, shown)]:
            assert fault.finding is not None
            cluster.was.append(fault.finding)
            fault.finding = None
            self._follows(fault, cluster)
        self._telling.changed(cluster, reference)
        self.on_mains(cluster)
        self._watch_fall(cluster)

    def _split_off(self, cluster: Cluster, mains: float, period_s: float) -> None:
        """A point that moved by far more than the mains explains is a case of its own."""
        others = [
            (m, mains / shown_part(m, period_s))
            for m in cluster.moves
            if not m.track.is_mains and not m.is_slight
        ]
        more = [(m, part) for m, part in others if abs(m.relative) > MORE * abs(part)]
        if any(alike(m.relative, part) for m, part in others):
            more = [(m, part) for m, part in more if is_no_kick(m.relative, part)]
        self._own_cases(cluster, [m for m, _ in more])

    def _own_cases(self, cluster: Cluster, more: list[Move]) -> None:
        if not more:
            return
        own = Cluster(min(m.start_ns for m in more), cluster.run, more, deadline_ns=cluster.deadline_ns)
        own.why = FAR_MORE
        cluster.moves = [m for m in cluster.moves if m not in more]
        self._gathered.hand_over(more, own)
        self._gathered.clusters.append(own)
        self._is_fault(own)

    def _is_fault(self, cluster: Cluster) -> None:
        if cluster.finding is None and self.is_raised(cluster):
            cluster.what = "raised"
            return
        cluster.what = "fault"
        look_how_far(self._desk, cluster)
        cluster.root = blame(self._desk.chart, cluster.moves, self._desk.now_ns)
        self._telling.fault(cluster)
        self._take_in(cluster)
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
            if not all(m.lost for m in cluster.moves) or cluster.relative > -FAILS:
                return
            cluster.why = "everything fell with the power there"
            self._is_fault(cluster)

        for wait in (GONE_S, 12.0, 20.0, 30.0):
            desk.after(cluster.start_ns + int(wait * 1e9), look)

    def was_mains(self, cluster: Cluster, move: Move) -> None:
        """What had been told as a fault goes into the move of the mains that it was."""
        cluster.moves.append(move)
        self._gathered.put(move, cluster)
        assert cluster.finding is not None
        cluster.was, cluster.finding, cluster.root = [cluster.finding], None, None
        cluster.what, cluster.why = "mains", "the mains meter moved with it, only later"
        self._telling.changed(cluster, move)
        self.on_mains(cluster)

    def _take_in(self, cluster: Cluster) -> None:
        """A fault of a feed takes in what had been told of a point that it feeds, before its meter read."""
        desk = self._desk
        for other in named_before(desk, self._gathered.lately, cluster):
            told = None if other.finding is None else desk.log.get(other.finding)
            self._follows(other, cluster)
            if told is not None and cluster.finding is not None and told.state == "open":
                desk.log.merge(desk.now_ns, told.id, cluster.finding)
