"""The figures: each with a sentence, a table and a name; drawn from the result's own numbers."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.report import figure, figure_names, panels
from leadline.report.figures.margins import MOST_BARS, margin_panels
from leadline.report.palette import DARK, LIGHT, painted
from leadline.report.panel import Panel, Spec
from leadline.run.result import Band, CompareResult, HistogramBins, Result
from report.made import CASES, made_margins, made_requirement, made_result
from report.reading import Page, table_values


def drawn_panels(result: Result, comparison: CompareResult) -> list[Panel]:
    return [*panels(result), *panels(comparison)]


def test_every_figure_has_its_name_its_sentence_and_its_table(page: Page, result: Result) -> None:
    figures = page.top.all("figure")
    assert [found.attributes["id"] for found in figures] == [panel.div_id for panel in panels(result)]
    for found, panel in zip(figures, panels(result), strict=True):
        (drawing,) = found.all("div", role="img")
        assert drawing.attributes["aria-label"] == f"{panel.title}. {panel.sentence}"
        assert drawing.attributes["id"] == f"{panel.div_id}-drawing"
        assert found.all("figcaption")[0].text == panel.sentence
        (details,) = found.all("details")
        assert table_values(details.all("table")[0]) == [
            [cell.value for cell in row if cell.value is not None] for row in panel.table.rows
        ]


def test_what_is_drawn_are_the_panels(page: Page, result: Result) -> None:
    drawn = [(one["id"], one["spec"]["data"]) for one in page.drawings["figures"]]
    assert drawn == [(f"{panel.div_id}-drawing", panel.spec["data"]) for panel in panels(result)]


def test_margin_tables_hold_the_quantiles_with_their_bounds(result: Result) -> None:
    for panel, requirement in zip(margin_panels(result), result.requirements, strict=True):
        assert requirement.margin is not None
        rows = [[cell.value for cell in row[1:]] for row in panel.table.rows]
        margin = requirement.margin
        assert rows[:9] == [[q.value, q.low, q.high] for q in margin.quantiles]
        assert [row[0] for row in rows[9:]] == [margin.mean, margin.sd, margin.low, margin.high]


def test_ledger_tables_hold_the_bands_of_every_leg(result: Result) -> None:
    panel = next(panel for panel in panels(result) if panel.name == "ledger.propellant.saddle.main")
    bands = [row.propellant_kg["saddle.main"] for row in result.ledger]
    assert [[cell.value for cell in row[1:]] for row in panel.table.rows] == [[b.p5, b.p50, b.p95] for b in bands]
    assert panel.spec["data"][2]["x"] == pytest.approx([band.p50 / 1000 for band in bands], rel=1e-6)  # exact: kg to t
    assert panel.spec["layout"]["xaxis"]["title"]["text"] == "propellant, t"


def test_a_tank_that_leaves_has_its_own_legs_only(result: Result) -> None:
    kept = [row if n < 5 else row.model_copy(update={"propellant_kg": {}}) for n, row in enumerate(result.ledger)]
    panel = next(p for p in panels(made_result(ledger=tuple(kept))) if p.name == "ledger.propellant.tern.trim")
    assert [row[0].text for row in panel.table.rows] == [row.leg for row in result.ledger[:5]]


def test_failures_are_ranked_and_rows_beyond_the_drawing_are_said(result: Result) -> None:
    first = result.first_failures[0]
    many = [first.model_copy(update={"leg": f"leg {n}", "cases": n, "share": n / 120}) for n in range(16)]
    panel = panels(made_result(first_failures=tuple(many)))[-1]
    assert panel.name == "first failures"
    cases = [row[2].value for row in panel.table.rows]
    assert cases == list(range(15, 0, -1))
    assert panel.spec["data"][0]["x"] == pytest.approx([100 * n / 120 for n in range(15, 3, -1)])
    assert "3 rarer ways are in the table only" in panel.sentence


@pytest.mark.parametrize("name", ["reserve", "on time"])
def test_the_hatched_part_is_the_share_of_failing_cases(result: Result, name: str) -> None:
    panel = next(panel for panel in panels(result) if panel.name == f"margin.{name}")
    short, holds = panel.spec["data"][:2]
    failing = float((made_margins()[name] < 0).mean())  # exact: the very margins the result was made from
    # Up to 0.05 % of the cases may lie off the axis at either end.
    assert sum(short["y"]) == pytest.approx(100 * failing, abs=0.0501)
    assert sum(holds["y"]) == pytest.approx(100 * (1 - failing), abs=0.0501)
    assert (short["fillpattern"]["shape"], short["x"][-1]) == ("/", 0.0)
    assert "fillpattern" not in holds


def test_the_bound_is_marked_or_the_way_to_it_is_said(result: Result) -> None:
    layouts = {panel.name: panel.spec["layout"] for panel in margin_panels(result)}
    for name, layout in layouts.items():
        (note,) = layout["annotations"]
        low, high = layout["xaxis"]["range"]
        if name == "margin.lift":  # 4.9 t above its bound, spread over 2 t
            assert (note["text"], layout["shapes"]) == ("← bound off the axis", [])
            assert low > 0
        else:
            assert (note["text"], note["x"], layout["shapes"][0]["x0"]) == ("bound", 0, 0)
            assert low < 0 < high


def test_a_margin_out_of_reach_below_points_the_other_way() -> None:
    far = made_requirement("far", "mass", "kg", "", np.linspace(-5_000.0, -4_900.0, 500))
    layout = margin_panels(made_result(requirements=(far,)))[0].spec["layout"]
    assert layout["annotations"][0]["text"] == "bound off the axis →"


@given(
    counts=st.lists(st.integers(0, 50), min_size=1, max_size=240).filter(any),
    zero=st.integers(-300, 300),
    width=st.floats(1e-6, 1e6),
)
def test_merging_bins_loses_no_case_and_keeps_the_bound_an_edge(counts: list[int], zero: int, width: float) -> None:
    bins = HistogramBins(start=-zero * width, width=width, counts=tuple(counts), under=0, over=0)
    drawn = _outline(bins)
    edges, shares = np.array(drawn["x"]), np.array(drawn["y"])
    total = sum(counts)
    assert len(edges) <= MOST_BARS + 5  # merged bars, one more where the bound shifts them, and the outlines' ends
    assert shares.sum() == pytest.approx(100, abs=0.11)
    if 0 < zero < len(counts):
        below = 100 * sum(counts[:zero]) / total
        assert drawn["below"] == pytest.approx(below, abs=0.06)


def _outline(bins: HistogramBins) -> dict[str, list[float] | float]:
    made = made_result().requirements[0]
    assert made.margin is not None
    requirement = made.model_copy(update={"unit": "", "margin": made.margin.model_copy(update={"histogram": bins})})
    data: list[Spec] = margin_panels(made_result(requirements=(requirement,)))[0].spec["data"][:-2]
    below = sum(sum(part["y"]) for part in data if part["name"] == "falls short")
    return {"x": [x for part in data for x in part["x"]], "y": [y for part in data for y in part["y"]], "below": below}


@pytest.mark.parametrize("value", [12.0, -12.0, 0.0])
def test_a_margin_that_does_not_vary_is_one_stroke_beside_the_bound(value: float) -> None:
    fixed = made_requirement("fixed", "mass", "kg", "", np.full(CASES, value))
    (panel,) = margin_panels(made_result(requirements=(fixed,)))
    layout = panel.spec["layout"]
    assert (panel.spec["data"][0]["x"], panel.spec["data"][0]["y"]) == ([value, value], [0.0, 100.0])
    assert layout["xaxis"]["range"][0] < min(value, 0.0) <= max(value, 0.0) < layout["xaxis"]["range"][1]
    assert layout["annotations"][0]["text"] == "bound"
    assert "in every case" in panel.sentence


def test_a_tank_that_runs_dry_has_its_empty_line_and_the_worst_leg_is_said(result: Result) -> None:
    dry = Band(p5=-400.0, p50=300.0, p95=900.0)
    rows = [
        row.model_copy(update={"propellant_kg": {"main": dry if n == 3 else row.propellant_kg["saddle.main"]}})
        for n, row in enumerate(result.ledger)
    ]
    panel = next(p for p in panels(made_result(ledger=tuple(rows))) if p.name == "ledger.propellant.main")
    assert [shape["x0"] for shape in panel.spec["layout"]["shapes"]] == [0]
    assert "One case in 20 is below −400\u00a0kg after “\u2068outbound\u2069”." in panel.sentence
    assert all(p.spec["layout"]["shapes"] == [] for p in panels(result) if p.name.startswith("ledger"))


def test_cases_beyond_the_bars_are_said(result: Result) -> None:
    made = result.requirements[0]
    assert made.margin is not None
    bins = made.margin.histogram.model_copy(update={"under": 12, "over": 30})
    beyond = made.model_copy(update={"margin": made.margin.model_copy(update={"histogram": bins})})
    assert "42 cases lie outside the bars" in margin_panels(made_result(requirements=(beyond,)))[0].sentence


def test_differences_are_drawn_beside_zero_and_counted(comparison: CompareResult) -> None:
    chances, differences = panels(comparison)
    expected = [100 * option.chance.value for option in comparison.options]
    assert chances.spec["data"][1]["x"] == expected
    assert differences.spec["layout"]["shapes"][0]["x0"] == 0.0
    assert "for 2 of 2 the interval leaves zero out" in differences.sentence
    options = [option.difference for option in comparison.options if option.difference is not None]
    assert [[cell.value for cell in row[1:]] for row in differences.table.rows] == [
        [d.value, d.both, d.option_only, d.base_only, d.neither] for d in options
    ]


def test_a_comparison_without_options_has_no_differences(comparison: CompareResult) -> None:
    alone = comparison.model_copy(update={"options": comparison.options[:1]})
    assert [panel.name for panel in panels(alone)] == ["compare.chances"]
    assert panels(comparison.model_copy(update={"options": ()})) == ()


def test_every_registered_figure_opens_in_plotly(result: Result, comparison: CompareResult) -> None:
    for given_result in (result, comparison):
        for name in figure_names(given_result):
            made = figure(given_result, name)
            assert isinstance(made, go.Figure)  # plotly refuses a property it does not know
            assert "@" not in str(made.to_plotly_json()["layout"]["font"])


def test_an_unknown_figure_is_refused_with_the_names_there_are(result: Result) -> None:
    with pytest.raises(ValueError, match=r"no figure is named 'gauge'; this result has: margin.reserve, "):
        figure(result, "gauge")


def test_painting_touches_colours_only_and_both_palettes_know_every_role(
    result: Result, comparison: CompareResult
) -> None:
    assert LIGHT.keys() == DARK.keys()
    for panel in drawn_panels(result, comparison):
        for palette in (LIGHT, DARK):
            assert "'@" not in str(painted(panel.spec, palette))
    assert painted({"text": "@ink", "font": {"color": "@ink"}}, LIGHT) == {
        "text": "@ink",
        "font": {"color": LIGHT["ink"]},
    }


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "soft", "blue", "red"])
def test_small_text_and_marks_keep_their_contrast(palette: dict[str, str], role: str) -> None:
    # published: WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1 for text
    assert contrast(palette[role], palette["paper"]) >= 4.5


def test_contrast_is_the_published_ratio() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # published: WCAG 2.2, "contrast ratio", 1 to 21


def contrast(first: str, second: str) -> float:
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    """Return the relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
