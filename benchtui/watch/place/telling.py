"""Clusters told as findings: dropout, step, mains."""

from __future__ import annotations

from .bursts import Bursts
from .cluster import Cluster, Move
from .culprit import blame
from .desk import Desk
from .kinship import alike
from .responses import response
from .verdict import APART

DEEP = 0.5
"""A fall of more than half is a dropout that has not come back yet, however long it lasts."""
LEAST_ALONE, LEAST_APART, LEAST_BORNE_OUT = 0.02, 0.015, 0.01
"""A move of the mains that only one point shows is told from this part on; from the second if a point that
shares nothing with it bears it out, from the third if a meter of the mains does."""
STAYS_S, STAYS_MOST, DEEP_STAYS_S = 20.0, 0.05, 62.0
"""A move of the mains of up to this part that stands for so long stays, and the next is another; a deeper one
mostly comes back, and is waited for as long as the eyes wait. Common practice, no source."""
SUPPLY_MOST = 0.1
"""A public supply does not stay further off its nominal than this. EN 50160 (from memory)."""
SWELL_MOST = 0.15
"""A supply that stood at its nominal does not rise by so much, not even for seconds.
Common practice, no source."""
SAG_MOST = 0.4
"""Nor does it sag by more for seconds and come back: what falls so far has been cut off. Common practice,
no source."""
SHALLOW = 0.1
"""A move of less than this is first called a step, which it mostly is; if it comes back it was a dropout."""


class Telling:
    """Opens, amends and closes the findings of clusters."""

    def __init__(self, desk: Desk, bursts: Bursts) -> None:
        self._desk = desk
        self._bursts = bursts

    def fault(self, cluster: Cluster) -> None:
        """A cluster was decided to be a fault of its root."""
        desk, root = self._desk, cluster.root
        assert root is not None
        evidence = self._evidence(cluster, root, self._bursts.count(root.track.name))
        cluster.finding = self._bursts.restless(cluster, root, evidence)
        if cluster.finding is not None:
            return
        kind, start = self._kind(root), self._start(cluster, root)
        cluster.finding = desk.log.open(desk.now_ns, kind, root.track.name, start, None, evidence)
        self.changed(cluster, root)

    @staticmethod
    def _kind(root: Move) -> str:
        shallow = abs(root.relative) < SHALLOW and root.end_ns is None and root.steady
        return "step" if shallow else "dropout"

    @staticmethod
    def _start(cluster: Cluster, root: Move) -> int:
        return root.start_ns if root.before_ns >= cluster.start_ns else min(cluster.start_ns, root.start_ns)

    def blamed_anew(self, cluster: Cluster) -> None:
        """A greater move, or a feed's, was shown late: what has been told goes by its name from now on."""
        desk, root, told = self._desk, cluster.root, cluster.finding
        assert root is not None
        found = None if told is None else desk.log.get(told)
        if told is None or found is None or found.kind == "chatter":
            self.fault(cluster)
            return
        if found.kind not in ("dropout", "step") or found.state != "open":
            self.fault(cluster)
            if cluster.finding is not None:
                desk.log.merge(desk.now_ns, told, cluster.finding)
            return
        if found.point is not None:
            self._bursts.was_another(cluster, found.point)
        evidence = self._evidence(cluster, root, self._bursts.count(root.track.name))
        chatter = self._bursts.restless(cluster, root, evidence)
        if chatter is not None:
            cluster.finding = chatter
            desk.log.merge(desk.now_ns, told, chatter)
            return
        kind, start = self._kind(root), min(self._start(cluster, root), found.start_ns)
        desk.log.rename(desk.now_ns, told, kind, root.track.name, start, evidence)
        self.changed(cluster, root)

    def was_no_mains(self, cluster: Cluster, why: str) -> None:
        """Taken for the mains' until now, a cluster is its root's fault, as it may have been told before."""
        cluster.what, cluster.why = "fault", why
        cluster.root = blame(self._desk.chart, cluster.moves, self._desk.now_ns)
        if cluster.finding is None and cluster.was:
            cluster.finding = cluster.was.pop()
        self.blamed_anew(cluster)
        while cluster.was and cluster.finding is not None:
            self._desk.log.merge(self._desk.now_ns, cluster.was.pop(), cluster.finding)

    def swinging(self, cluster: Cluster) -> None:
        """The points of a cluster swing to and fro: its finding becomes chatter of the root."""
        root = cluster.root
        assert root is not None
        found = self._desk.log.get(cluster.finding) if cluster.finding is not None else None
        if found is None or found.kind == "chatter" or found.state != "open":
            return
        cluster.finding = self._bursts.burst(root.track.name, cluster, root, dict(found.evidence))

    def changed(self, cluster: Cluster, move: Move) -> None:
        """A move of a decided cluster came, ended or steadied."""
        if cluster.what == "mains":
            self._mains(cluster)
        elif cluster.what == "fault" and cluster.finding is not None:
            self._fault_changed(cluster, move)

    def _fault_changed(self, cluster: Cluster, move: Move) -> None:
        desk, root = self._desk, cluster.root
        assert root is not None
        assert cluster.finding is not None
        found = desk.log.get(cluster.finding)
        if not found.listed or found.kind == "chatter":
            return
        if move is not root:
            also = cluster.names(root)
            if list(found.evidence["also"]) != also:
                desk.log.amend(desk.now_ns, cluster.finding, evidence={"also": also})
            return
        if found.state != "open":
            return
        changes: dict[str, object] = {"depth": root.peak, "relative": root.relative}
        if root.end_ns is not None:
            changes["duration_s"] = (root.end_ns - root.start_ns) / 1e9
            desk.log.close(desk.now_ns, cluster.finding, root.end_ns, kind="dropout", evidence=changes)
        elif root.stands is not None and found.evidence.get("stands_at") is None:
            changes["stands_at"] = root.stands
            desk.log.amend(desk.now_ns, cluster.finding, evidence=changes)

    def deeper(self, cluster: Cluster, move: Move) -> None:
        """The root has gone further: the finding says so, and a step that turns out deep was a dropout."""
        desk = self._desk
        if move is not cluster.root or cluster.finding is None:
            return
        found = desk.log.get(cluster.finding)
        if found.state != "open" or found.kind == "chatter":
            return
        evidence = {"depth": move.peak, "relative": move.relative}
        kind = "dropout" if abs(move.relative) >= SHALLOW else found.kind
        desk.log.amend(desk.now_ns, cluster.finding, kind=kind, evidence=evidence)

    def stays(self, cluster: Cluster, move: Move) -> None:
        """The root stood at its new level for as long as one waits: it has moved and stays."""
        desk = self._desk
        if move is not cluster.root or cluster.finding is None:
            return
        found = desk.log.get(cluster.finding)
        if found.kind == "dropout" and found.state == "open" and abs(move.relative) < DEEP:
            desk.log.amend(desk.now_ns, cluster.finding, kind="step")

    def _evidence(self, cluster: Cluster, root: Move, count: int) -> dict[str, object]:
        return {
            "depth": root.peak,
            "level": root.level,
            "relative": root.relative,
            "noise": root.noise,
            "count": count,
            "also": cluster.names(root),
            "why": cluster.why,
            **self._desk.circumstances(root.track.point, root.start_ns),
        }

    @staticmethod
    def _sure_of_mains(cluster: Cluster) -> bool:
        """Whether one point's word is enough: the mains' own, or one that noise does not make.

        So much less is one that a point which shares nothing with it bears out, or a meter of the mains.
        """
        move = cluster.moves[0]
        size = abs(move.relative)
        if cluster.why == APART and size >= LEAST_APART:
            return True
        alone = cluster.mains is None or not alike(move.relative, cluster.mains)
        return move.track.shows_mains or size >= (LEAST_ALONE if alone else LEAST_BORNE_OUT)

    def _still_shared(self, cluster: Cluster) -> bool:
        """Whether one of the points that went with it when it was told of all still does, now that it has
        grown; true where an AC meter told."""
        desk, move = self._desk, cluster.moves[0]
        if cluster.why != APART or move.track.shows_mains or cluster.mains is not None or not cluster.along:
            return True
        along = (desk.tracks[name] for name in cluster.along if name in desk.tracks)
        return any(response(desk, t, move, move.before_ns).verdict == "moved" for t in along)

    def _mains(self, cluster: Cluster) -> None:
        """Tells a move of the mains once a point is back or stands steady: a switch-off never is."""
        desk = self._desk
        done = [m for m in cluster.moves if m.end_ns is not None or m.stands is not None]
        if not done:
            return
        alone = len({m.track.name for m in cluster.moves}) == 1
        if alone and not (self._sure_of_mains(cluster) and self._still_shared(cluster)):
            return
        shown = max(cluster.told_by or cluster.moves, key=lambda m: (m.track.is_mains, abs(m.relative)))
        if not desk.ac_meters() and (self._swells(shown) or shown.relative <= -SAG_MOST):
            self.was_no_mains(cluster, "too much for the mains, and no mains meter or heater shows it")
            return
        named = shown if shown.track.is_mains else cluster.usual
        evidence = {
            "relative": named.relative,
            "shown_by": named.track.name,
            "also": cluster.names(),
            "stays": all(m.end_ns is None for m in done),
            "why": cluster.why,
        }
        if cluster.finding is None:
            start = min(m.start_ns for m in cluster.moves)
            cluster.finding = desk.log.open(desk.now_ns, "mains", None, start, None, evidence)
        elif not cluster.closed or list(desk.log.get(cluster.finding).evidence["also"]) != evidence["also"]:
            desk.log.amend(desk.now_ns, cluster.finding, evidence=evidence)
        while cluster.was:
            desk.log.merge(desk.now_ns, cluster.was.pop(), cluster.finding)
        if cluster.closed or len(done) < len(cluster.moves):
            return
        ends = [m.end_ns for m in done if m.end_ns is not None]
        wait_s = STAYS_S if abs(shown.relative) <= STAYS_MOST else DEEP_STAYS_S
        stays_ns = cluster.start_ns + int(wait_s * 1e9)
        if ends:
            self._mains_over(cluster, max(ends))
        elif desk.now_ns >= stays_ns:
            usual = cluster.usual
            raised = usual.relative > 0 and self._is_low(usual)
            if abs(usual.relative) > SUPPLY_MOST and not raised and not desk.ac_meters():
                self.was_no_mains(cluster, "it stays, and no mains meter or heater shows it")
                self._stays_off(cluster)
                return
            self._mains_over(cluster, cluster.steady_ns or desk.now_ns)
        elif cluster.again_ns != stays_ns:
            cluster.again_ns, cluster.steady_ns = stays_ns, desk.now_ns
            desk.after(stays_ns, lambda: self._look_again(cluster))

    def _swells(self, move: Move) -> bool:
        """Whether a point rose further than a supply that is not turned up by hand can carry it."""
        return move.relative >= SWELL_MOST and self._above(move)

    @staticmethod
    def _above(move: Move) -> bool:
        """Whether a point rose further above its chart than a supply can carry it."""
        nominal = move.track.point.nominal
        return not nominal or (move.level + move.peak) / nominal >= 1.0 + SUPPLY_MOST

    @staticmethod
    def _is_low(move: Move) -> bool:
        """Whether a point, having risen, is still below its chart: the mains may be turned up by hand."""
        nominal = move.track.point.nominal or 0.0
        return nominal != 0.0 and (move.level + move.peak) / nominal < 1.0

    def _stays_off(self, cluster: Cluster) -> None:
        if cluster.finding is not None and cluster.root is not None:
            self.stays(cluster, cluster.root)

    def stays_as_told(self, cluster: Cluster) -> bool:
        """Whether a move of the mains has been told as one that stays."""
        if cluster.finding is None or not cluster.closed:
            return False
        return bool(self._desk.log.get(cluster.finding).evidence.get("stays"))

    def _look_again(self, cluster: Cluster) -> None:
        """A move of the mains has stood for so long that it stays, unless it came back."""
        if cluster.run == self._desk.run and self._desk.running and cluster.what == "mains":
            self._mains(cluster)

    def _mains_over(self, cluster: Cluster, end_ns: int) -> None:
        assert cluster.finding is not None
        cluster.closed = True
        if self._desk.log.get(cluster.finding).state == "open":
            self._desk.log.close(self._desk.now_ns, cluster.finding, end_ns)
