"""The user's guide to the files: its examples are read, and it names every key."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files

import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart import Chart
from benchtui.chart.chart_file import read_chart
from benchtui.chart.extras_file import KINDS
from benchtui.chart.settings_file import read_settings
from benchtui.model.errors import ChartError
from benchtui.port.hookup import hook_up

READERS: dict[str, Callable[[str, str], object]] = {
    "charts.md": read_chart,
    "bench.md": read_bench,
    "settings.md": read_settings,
}


def guide(page: str) -> str:
    return (files("benchtui") / "guide" / page).read_text(encoding="utf-8")


def examples(page: str) -> list[str]:
    return re.findall(r"^```toml\n(.*?)^```$", guide(page), re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize("page", READERS)
def test_every_example_is_read_without_a_problem(page: str) -> None:
    """Each TOML example of the guide is a whole file, and a right one."""
    found = examples(page)

    assert found
    for text in found:
        READERS[page](text, page)


def test_the_meters_of_the_guide_can_be_hooked_up() -> None:
    """The drivers of the guide's benches exist and take the keys that the guide gives them."""
    for text in examples("bench.md"):
        bench = read_bench(text, "bench.md")
        hooked = hook_up(bench, Chart(name="x"))
        assert [m.description.name for m in hooked.meters] == [m.name for m in bench.meters]


def known_keys(read: Callable[[str, str], object], head: str) -> list[str]:
    """The keys that a reader knows in this table, by its own answer to one it does not know."""
    with pytest.raises(ChartError) as caught:
        read(f"{head}\nzzzzzzzz = 1", "x")
    (said,) = [p.what for p in caught.value.problems if p.key.endswith("zzzzzzzz")]
    return said.split("known here are ")[1].rstrip(".").split(", ")


@pytest.mark.parametrize(
    ("page", "head", "some"),
    [
        ("charts.md", "[set]", "mains"),
        ("charts.md", "[[point]]", "surge"),
        ("charts.md", "[[glow]]", "strikes"),
        ("charts.md", "[[part]]", "kind"),
        ("charts.md", "[[derived]]", "formula"),
        ("settings.md", "", "warn_above"),
    ],
)
def test_every_key_is_in_the_guide(page: str, head: str, some: str) -> None:
    """Every key that a reader knows stands in the guide's tables; the list is the reader's own."""
    keys = known_keys(READERS[page], head)

    assert some in keys
    assert [key for key in keys if f"`{key}`" not in guide(page)] == []


def test_every_key_of_a_meter_is_in_the_guide() -> None:
    """A meter's keys, which its driver's keys may stand beside, are in the guide too."""
    fields = (
        "name driver port baud bits parity stop power_pins measures point accuracy input_resistance max_input"
    )

    assert [key for key in fields.split() if f"`{key}`" not in guide("bench.md")] == []


def test_every_kind_of_part_is_in_the_guide() -> None:
    """Whoever writes a part finds its kind in the guide."""
    assert [kind for kind in KINDS if f"`{kind}`" not in guide("charts.md")] == []


@pytest.mark.parametrize("page", READERS)
def test_the_guide_never_calls_anything_harmless(page: str) -> None:
    """The words that the program never says about a set are not in its guide either."""
    words = re.sub(r'`isolated`|chassis = "isolated"', "", guide(page)).lower()

    assert re.findall(r"\bsafe\b|\bdead\b|\bok to touch\b|\bfixed\b", words) == []


def test_the_tables_of_quantities_hold_what_they_say() -> None:
    """Each way of writing a quantity in the chart guide's table is understood by the readers."""
    from benchtui.chart import phrases, quantity
    from benchtui.model.units import Unit

    rows = re.findall(r"^\| ([a-zA-Z ]+) \| (`.*) \|$", guide("charts.md").split("## [set]")[0], re.MULTILINE)
    parsers: dict[str, Callable[[str], object]] = {
        "tolerance": lambda text: phrases.parse_tolerance(text, Unit.V),
        "range": lambda text: phrases.parse_span(text, Unit.V, Unit.A),
        "surge": lambda text: phrases.parse_surge(text, Unit.V),
        "what a meter draws": phrases.parse_load,
    }
    assert len(rows) == 10
    for what, ways in rows:
        for text in re.findall(r"`([^`]+)`", ways):
            parsers.get(what, quantity.parse_quantity)(text)
