"""The beginnings of a description of frames nobody has described: TOML for a person to go on from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import reduce
from operator import xor

from .guess import Guess
from .guess_frames import Column, Framing

_ENOUGH_DIFFERENT = 5
"""Values of a byte: fewer that happen to look decimal are no ground for a guess."""
_MOST_PACKED = 4


def proposal(found: Guess, baud: int) -> str:
    """TOML with the line, the frame, a checksum if one fits, the digits if they are plain.

    Empty where nothing was framed. What it cannot know stays a comment: no line says more than was seen.
    """
    framing = found.framing
    if framing is None:
        return ""
    lines = ['title = "found by listening; say here what it is"', 'source = "found by trying"', "", "[line]"]
    lines.append(f"baud = {baud}")
    if found.seven_bit:
        lines += ["bits = 7", f'parity = "{found.seven_bit}"']
    digits = [n for n, c in enumerate(found.columns, 1) if c.is_digit]
    changing = [n for n, c in enumerate(found.columns, 1) if not c.is_fixed]
    run = _longest_run(digits, changing) if any(n in changing for n in digits) else []
    lines += ["", "[frame]", *_frame(framing, found.columns)]
    check = checksum(found.frames)
    if check is not None:
        kind, over, at = check
        lines += ["", "[check]", f'kind = "{kind}"', f'over = "{over}"', f'at = "{at}"']
    lines += ["", "[value]"]
    packed = [] if run else _packed(found.columns, check)
    if run:
        lines += ['kind = "ascii"', f"digits = {_texts(str(n) for n in run)}"]
    elif packed:
        lines += _as_packed(packed, found.frames[-1])
    else:
        lines += ['# kind = "segments"        # or "bcd": how its digits are written', '# digits = ["…"]']
    lines += ['# unit = "V"               # the unit, where it never changes']
    lines += [
        "",
        "# [point]",
        "# behind = 1               # the digits behind the point, where it never moves",
    ]
    taken = {*run, *packed, *([check[2]] if check is not None else [])}
    rest = [n for n in range(1, framing.length + 1) if n not in taken]
    lines += [
        "",
        "# What the other bytes held so far. Unit, point, sign and overload are among them: switch the",
    ]
    lines += ["# meter to another function and range, listen again, and see which of them change."]
    lines += [f"#   byte {n}: {_seen(found.columns[n - 1])}" for n in rest]
    return "\n".join(lines) + "\n"


def checksum(frames: Sequence[bytes]) -> tuple[str, str, int] | None:
    """Kind, bytes covered and place of a sum or exclusive-or that holds in every frame; None if none does.

    Only a byte that changes is one, and only with enough different frames that chance is no explanation.
    """
    if len(set(frames)) < 4:
        return None
    length = len(frames[0])
    kinds: tuple[tuple[str, Callable[[bytes], int]], ...] = (
        ("sum", lambda data: sum(data) & 0xFF),
        ("xor", lambda data: reduce(xor, data, 0)),
    )
    for at in range(length - 1, max(length - 4, 2), -1):
        if len({f[at] for f in frames}) < 3:
            continue
        for kind, made in kinds:
            for start in range(min(3, at - 1)):
                if all(made(f[start:at]) == f[at] for f in frames):
                    return kind, f"{start + 1}-{at}", at + 1
    return None


def _packed(places: Sequence[Column], check: tuple[str, str, int] | None) -> list[int]:
    """The bytes that seem to hold two digits each, highest first: those that change, and what leads them."""
    decimal = [
        n
        for n, column in enumerate(places, 1)
        if all(b >> 4 <= 9 and b & 0xF <= 9 for b in column.seen) and (check is None or n != check[2])
    ]
    changing = [n for n in decimal if len(places[n - 1].seen) > 1]
    if not changing or max(len(places[n - 1].seen) for n in changing) < _ENOUGH_DIFFERENT:
        return []
    runs = [list(range(a, b + 1)) for a in changing for b in changing if a <= b]
    whole = [r for r in runs if set(r) <= set(decimal)]
    core = max(whole, key=len)
    step = 1 if len(places[core[0] - 1].seen) > len(places[core[-1] - 1].seen) else -1
    edge = (core[-1] if step > 0 else core[0]) + step
    while edge in decimal and len(core) < _MOST_PACKED:
        core.append(edge)
        edge += step
    return sorted(core, reverse=step > 0)


def _as_packed(packed: Sequence[int], last: bytes) -> list[str]:
    shown = "".join(f"{last[n - 1]:02X}" for n in packed)
    return [
        f"# Two digits a byte, it seems: {shown} at the end. Take away what is not on the display.",
        'kind = "bcd"',
        f"digits = {_texts(half for n in packed for half in (f'{n}.7-4', f'{n}.3-0'))}",
    ]


def _texts(parts: Iterable[str]) -> str:
    return f"[{', '.join(f'{chr(34)}{part}{chr(34)}' for part in parts)}]"


def _frame(framing: Framing, places: Sequence[Column]) -> list[str]:
    lines = [f"length = {framing.length}"]
    fixed = [c.value if c.is_fixed else None for c in places]
    if framing.how == "index":
        lines.append(f'index = "{framing.half}"')
        if framing.first != 1:
            lines.append(f"index_from = {framing.first}")
        return lines
    if framing.how == "silence":
        lines.append(f'gap = "{max(20, int(framing.gap_s * 500))} ms"')
    head = _while_fixed(fixed)
    tail = _while_fixed(fixed[len(head) :][::-1])[::-1]
    if head:
        lines.append(f"start = {_octets(head)}")
    if tail:
        lines.append(f"end = {_octets(tail)}")
    if not head and not tail and framing.how == "repeat":
        sure = [n for n, b in enumerate(fixed) if b is not None and not places[n].is_digit]
        if sure:
            lines.append(
                f"fixed = {{ {', '.join(f'{chr(34)}{n + 1}{chr(34)} = 0x{fixed[n]:02X}' for n in sure)} }}"
            )
    return lines


def _while_fixed(fixed: Sequence[int | None]) -> list[int]:
    """The bytes that stand fixed at the beginning, at most four."""
    found: list[int] = []
    for byte in fixed[:4]:
        if byte is None or 0x30 <= byte <= 0x39:  # a digit that happened not to change
            break
        found.append(byte)
    return found


def _octets(data: Sequence[int]) -> str:
    return f"[{', '.join(f'0x{b:02X}' for b in data)}]"


def _longest_run(digits: Sequence[int], changing: Sequence[int]) -> list[int]:
    """Of the neighbouring digits the longest stretch that holds a changing one."""
    runs: list[list[int]] = []
    for n in digits:
        if runs and runs[-1][-1] == n - 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return max((r for r in runs if any(n in changing for n in r)), key=len)


def _seen(column: Column) -> str:
    shown = " ".join(f"{b:02X}" for b in column.seen[:8])
    more = f" and {len(column.seen) - 8} more" if len(column.seen) > 8 else ""
    half = " (its high half did not change)" if column.fixed & 0xF0 == 0xF0 and not column.is_fixed else ""
    return f"{shown}{more}{half}"
