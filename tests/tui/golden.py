"""Text goldens of whole screens: one file a scene and size, made from our own output and checked by eye.

`python -m tests.tui.golden` writes them anew. A blank on a bar is written as a full block, so that bars show.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchtui.tui.draw.canvas import Canvas
from benchtui.tui.draw.far import CourseOf, draw_far
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.near import Chosen, draw_near
from benchtui.watch.board import Board

from . import odd_scenes, scenes

FOLDER = Path(__file__).parent / "goldens"
KEYS = {"pilot": "1"}


@dataclass(frozen=True)
class Shot:
    """One screen."""

    name: str
    board: Callable[[], Board]
    size: tuple[int, int]
    course_of: CourseOf = scenes.nothing
    near: bool = False
    glyphs: str = "eighths"
    point: str = "B+1"

    @property
    def file(self) -> Path:
        return FOLDER / f"{self.name}_{self.size[0]}x{self.size[1]}.txt"

    def canvas(self) -> Canvas:
        """The screen as it is drawn now."""
        glance = Glance(self.board(), scenes.say, keys=KEYS)
        width, height = self.size
        if self.near:
            return draw_near(width, height, glance, Chosen(self.point), self.course_of, self.glyphs)
        return draw_far(width, height, glance, self.course_of, self.glyphs)

    def text(self) -> str:
        return "\n".join(self.canvas().lines(shade=True)) + "\n"


SMALL, MIDDLE, LARGE = (80, 24), (120, 36), (200, 60)
SHOTS = (
    Shot("far_warmup", scenes.warmup, SMALL),
    Shot("far_warmup", scenes.warmup, MIDDLE, scenes.b_plus_early),
    Shot("far_warmup", scenes.warmup, LARGE, scenes.b_plus_early),
    Shot("far_fault", scenes.fault, SMALL),
    Shot("far_fault", scenes.fault, MIDDLE, scenes.b_plus_whole),
    Shot("far_fault", scenes.fault, LARGE, scenes.b_plus_whole),
    Shot("far_fault_cells", scenes.fault, SMALL, glyphs="cells"),
    Shot("far_fault_letters", scenes.fault, SMALL, glyphs="ascii"),
    Shot("far_rating", scenes.rating, SMALL),
    Shot("far_bleeding", scenes.bleeding, SMALL),
    Shot("far_below", scenes.below, SMALL),
    Shot("far_cold", odd_scenes.cold, SMALL),
    Shot("far_stale", odd_scenes.stale, SMALL),
    Shot("far_negatives", odd_scenes.negatives, SMALL),
    Shot("far_negatives", odd_scenes.negatives, MIDDLE),
    Shot("far_no_values", odd_scenes.no_values, SMALL),
    Shot("far_one_point", odd_scenes.one_point, SMALL),
    Shot("far_forty", odd_scenes.forty, SMALL),
    Shot("far_fault", scenes.fault, (60, 16)),
    Shot("near_asleep", scenes.asleep, SMALL, scenes.b_plus, near=True),
    Shot("near_asleep", scenes.asleep, MIDDLE, scenes.b_plus, near=True),
    Shot("near_asleep", scenes.asleep, LARGE, scenes.b_plus, near=True),
    Shot("near_forty", odd_scenes.forty, SMALL, near=True, point="V5 pin 6"),
    Shot("near_negatives", odd_scenes.negatives, SMALL, near=True, point="bias"),
    Shot("near_bleeding", scenes.bleeding, SMALL, near=True),
)


def main() -> None:
    """Writes every golden."""
    FOLDER.mkdir(exist_ok=True)
    for shot in SHOTS:
        shot.file.write_text(shot.text(), encoding="utf-8")


if __name__ == "__main__":
    main()
