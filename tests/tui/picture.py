"""A picture of the dashboard as SVG, drawn cell by cell so that it looks the same without any font of ours.

    python -m tests.tui.picture OUT.svg --replay FILE --at SECONDS [--near] [--size 120x36] [--look dark]

replays a recording through the program up to that moment, and draws the board as the screen would.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from xml.sax.saxutils import escape

from benchtui.tui.draw.canvas import Canvas
from benchtui.tui.draw.looks import DARK, LOOKS, Look
from benchtui.tui.draw.paint import Paint

W, H = 10, 20
FONTS = "DejaVu Sans Mono, Menlo, Consolas, monospace"
EDGE = 10
_EIGHTHS = {c: i + 1 for i, c in enumerate("▏▎▍▌▋▊▉█")}
_PLAIN = {"ground": "#000000", "ink": "#c8c8c8"}


def colours(paint: Paint, look: Look) -> tuple[str, str]:
    """Ink and ground as SVG writes them; looks without colour in greys."""
    named = {"default": None, "bright_white": "#ffffff", "bright_black": "#555555", "bright_blue": "#5555ff"}
    named |= {"yellow": "#aa5500", "black": "#000000", "red": "#aa0000", "bright_red": "#ff5555"}
    if not look.colours:
        ink, ground = "#c8c8c8", "#000000"
        return (ground, ink) if paint.reversed else (ink, ground)
    ink, ground = look.colours[paint.ink], look.colours[paint.ground]
    return named.get(ink, ink) or "#aaaaaa", named.get(ground, ground) or "#000000"


def svg(canvas: Canvas, look: Look = DARK) -> str:
    """The canvas as a picture, a cell 10 x 20 pixels."""
    width, height = canvas.width * W + 2 * EDGE, canvas.height * H + 2 * EDGE
    base = colours(Paint("ink"), look)[1]
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">',
        f'<rect width="{width}" height="{height}" fill="{base}"/>',
        f'<g font-family="{FONTS}" font-size="16" shape-rendering="crispEdges">',
    ]
    for y in range(canvas.height):
        out += _grounds(canvas, y, look, base)
    for y in range(canvas.height):
        out += _row(canvas, y, look)
    return "\n".join([*out, "</g>", "</svg>"]) + "\n"


def _grounds(canvas: Canvas, y: int, look: Look, base: str) -> list[str]:
    out, start = [], 0
    grounds = [colours(p, look)[1] for p in canvas.paints[y]]
    for x in range(1, len(grounds) + 1):
        if x == len(grounds) or grounds[x] != grounds[start]:
            if grounds[start] != base:
                out.append(_rect(start * W, y * H, (x - start) * W, H, grounds[start]))
            start = x
    return out


def _row(canvas: Canvas, y: int, look: Look) -> list[str]:
    out, x = [], 0
    chars, paints = canvas.chars[y], canvas.paints[y]
    while x < canvas.width:
        ink = colours(paints[x], look)[0]
        shapes = _shapes(chars[x], x * W, y * H, ink)
        if shapes is not None:
            out += shapes
            x += 1
            continue
        end = x
        while end < canvas.width and paints[end] == paints[x] and _is_text(chars[end]):
            end += 1
        text = "".join(chars[x:end]).rstrip()
        bold = ' font-weight="bold"' if paints[x].bold else ""
        if text:
            out.append(
                f'<text x="{EDGE + x * W}" y="{EDGE + y * H + 15}" fill="{ink}"{bold} xml:space="preserve" '
                f'textLength="{len(text) * W}" lengthAdjust="spacingAndGlyphs">{escape(text)}</text>'
            )
        x = max(end, x + 1)
    return out


def _is_text(char: str) -> bool:
    return char == " " or _shapes(char, 0, 0, "") is None


def _shapes(char: str, x: int, y: int, ink: str) -> list[str] | None:
    """Block, line and braille characters as rectangles; None for text."""
    if char == " ":
        return None
    if char in _EIGHTHS:
        return [_rect(x, y, W * _EIGHTHS[char] / 8, H, ink)]
    if 0x2800 <= ord(char[:1] or " ") <= 0x28FF:
        bits = ord(char) - 0x2800
        places = ((1, 0, 0), (2, 0, 1), (4, 0, 2), (64, 0, 3), (8, 1, 0), (16, 1, 1), (32, 1, 2), (128, 1, 3))
        return [_rect(x + 1 + 5 * i, y + 1 + 5 * j, 3, 3, ink) for bit, i, j in places if bits & bit]
    fixed = {
        "▀": [(0, 0, W, H / 2)],
        "▄": [(0, H / 2, W, H / 2)],
        "▐": [(W / 2, 0, W / 2, H)],
        "▁": [(0, H - 3, W, 3)],
        "─": [(0, H / 2 - 0.5, W, 1)],
        "━": [(0, H / 2 - 1.5, W, 3)],
        "╌": [(1, H / 2 - 0.5, 3, 1), (6, H / 2 - 0.5, 3, 1)],
        "│": [(W / 2 - 0.75, 0, 1.5, H)],
        "┝": [(W / 2 - 1, 0, 2, H), (W / 2, H / 2 - 1.5, W / 2, 3)],
        "┥": [(W / 2 - 1, 0, 2, H), (0, H / 2 - 1.5, W / 2, 3)],
        "┿": [(W / 2 - 1, 0, 2, H), (0, H / 2 - 1.5, W, 3)],
    }
    if char in fixed:
        return [_rect(x + a, y + b, c, d, ink) for a, b, c, d in fixed[char]]
    if char == "╱":
        ends = f'x1="{EDGE + x}" y1="{EDGE + y + H}" x2="{EDGE + x + W}" y2="{EDGE + y}"'
        return [f'<line {ends} stroke="{ink}" stroke-width="1" shape-rendering="auto"/>']
    if char == "►":
        points = (
            f"{EDGE + x + 1},{EDGE + y + 5} {EDGE + x + 9},{EDGE + y + 10} {EDGE + x + 1},{EDGE + y + 15}"
        )
        return [f'<polygon points="{points}" fill="{ink}"/>']
    return None


def _rect(x: float, y: float, width: float, height: float, fill: str) -> str:
    return f'<rect x="{EDGE + x:g}" y="{EDGE + y:g}" width="{width:g}" height="{height:g}" fill="{fill}"/>'


def replayed(file: Path, at_s: float, width: int, height: int, near: str | None, look: Look) -> Canvas:
    """What the screen shows of a recording at a moment, drawn by the program itself."""
    from benchtui.live import Live
    from benchtui.report.say import sentence
    from benchtui.store.recording import read
    from benchtui.store.replaying import Replaying
    from benchtui.tui.courses import Courses
    from benchtui.tui.draw.far import draw_far
    from benchtui.tui.draw.glance import Glance
    from benchtui.tui.draw.near import Chosen, draw_near
    from benchtui.tui.sayings import Sayings
    from benchtui.tui.still import Still
    from benchtui.watch.bank import Bank

    recording = read(file)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    now = [0]
    live = Live(Replaying(recording, lambda: now[0]), bank, started=recording.started)
    still, levels = Still(), {}
    while not live.done and now[0] < at_s * 1e9:
        now[0] += 100_000_000
        levels = still.levels(live.step())
    sayings = Sayings(lambda finding: sentence(finding, live.chart))
    places = {p.name: p.where for p in live.chart.points}
    glance = Glance(live.board, sayings.short, levels, places=places)
    courses = Courses(live)
    if near is not None:
        return draw_near(width, height, glance, Chosen(near or None), courses.of, look.glyphs)
    return draw_far(width, height, glance, courses.of, look.glyphs)


def main() -> None:
    """Writes the picture."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--replay", type=Path, required=True)
    parser.add_argument("--at", type=float, required=True)
    parser.add_argument("--near", metavar="POINT")
    parser.add_argument("--size", default="120x36")
    parser.add_argument("--look", default="dark", choices=sorted(LOOKS))
    args = parser.parse_args()
    width, height = (int(n) for n in args.size.split("x"))
    look = LOOKS[args.look]
    canvas = replayed(args.replay, args.at, width, height, args.near, look)
    args.out.write_text(svg(canvas, look), encoding="utf-8")


if __name__ == "__main__":
    main()
