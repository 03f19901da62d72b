"""The figures and sections about risk: each with a sentence, a table and its own numbers."""

from __future__ import annotations

import json
import re
from typing import Any

import plotly.graph_objects as go
import pytest

from leadline.report import figure, figure_names, panels, render_compare_report, render_report
from leadline.report.figures.buy_down import MOST_ROWS
from leadline.report.page import CAUTION
from leadline.report.palette import DARK, LIGHT, painted
from leadline.report.panel import Panel
from leadline.report.wording import small
from leadline.run.answer_files import Answers
from leadline.run.result import CompareResult, Separation
from report.hostile import MARKUP, SOLID, TURNED
from report.made import made_result
from report.made_answers import (
    NUMBERS,
    made_answers,
    made_buy_down,
    made_drivers,
    made_rare,
    made_shares,
    made_shifts,
    made_sizing,
    made_sweep,
    made_unknowns,
    made_whole_result,
)
from report.reading import Page, table_values

RISK = {"buy-down", "drivers", "shapley", "shifts", "unknowns", "rare"}


@pytest.fixture(scope="module")
def answers() -> Answers:
    return made_answers()


@pytest.fixture(scope="module")
def whole(answers: Answers) -> Page:
    return Page(render_report(answers))


def named(given: Any, name: str) -> Panel:
    (one,) = [panel for panel in panels(given) if panel.name == name]
    return one


def test_the_page_leads_with_the_sentence_and_what_would_raise_the_chance(whole: Page, answers: Answers) -> None:
    (head,) = whole.top.all("header")
    (opening,) = head.all("p", class_="opening")
    assert answers.result is not None
    said = opening.text.replace("\u00a0", " ")
    assert said.startswith(answers.result.sentence)
    assert said.endswith("Halving the spread of the heat leak (fuel) of saddle.main buys +3.2 points.")
    (main,) = whole.top.all("main")
    headings = [part.all("h2")[0].text for part in main.children if part.all("h2")]
    assert headings == [
        "What would raise the chance",
        "What must hold, and by how much it does",
        "How the margins are spread",
        "Along the mission, leg by leg",
        "What fails first, and what fails together",
        "What drives the risk",
        "What failing cases have in common",
        "Sizing",
        "The chance over other values",
        "Rare failures",
        "Two kinds of not knowing",
        "The uncertain numbers and their laws",
        "Notes",
        "What the model leaves out, and a caution",
        "Sources used",
    ]


def test_every_figure_on_the_page_is_numbered_once_and_has_its_table(whole: Page, answers: Answers) -> None:
    figures = whole.top.all("figure")
    assert [one.attributes["id"] for one in figures] == [panel.div_id for panel in panels(answers)]
    numbers = [int(one.all("span", class_="number")[0].text.removeprefix("Figure ")) for one in figures]
    assert numbers == list(range(1, len(figures) + 1))
    for found, panel in zip(figures, panels(answers), strict=True):
        assert found.all("figcaption")[0].text == panel.sentence
        assert len(panel.sentence) > 40
        values = [[cell.value for cell in row if cell.value is not None] for row in panel.table.rows]
        assert table_values(found.all("details")[0].all("table")[0]) == values


def test_notes_and_limits_of_all_documents_are_said_once(whole: Page) -> None:
    said = [item.text for item in whole.top.all("li")]
    assert said.count("Two of them depend on one another.") == 1
    assert said.count("Burns are impulsive; gravity loss is not included.") == 1
    assert whole.top.text.count(CAUTION) == 1


def test_gains_are_drawn_from_the_largest_with_intervals_beside_zero() -> None:
    drivers = made_drivers()
    panel = named(drivers, "buy-down")
    bars, rings, texts, unsure = panel.spec["data"]
    assert rings["x"] == [100 * row.gain.value for row in drivers.buy_down]
    assert rings["y"] == sorted(rings["y"])
    assert bars["x"][:2] == [100 * drivers.buy_down[0].gain.low, 100 * drivers.buy_down[0].gain.high]
    assert unsure["line"]["dash"]  # the two that make no difference: told by the stroke, not by colour alone
    assert len(unsure["x"]) == 3 * sum(not row.distinguishable for row in drivers.buy_down)
    assert rings["marker"]["symbol"].count("diamond") == 2
    assert texts["text"][0].strip() == "+4.00"
    assert {shape["x0"] for shape in panel.spec["layout"]["shapes"]} == {0.0}
    assert panel.spec["layout"]["xaxis"]["title"]["text"] == "gain in chance, percentage points"
    assert [row[1].value for row in panel.table.rows] == [row.gain.value for row in drivers.buy_down]


def test_only_the_largest_gains_are_drawn_and_that_is_said() -> None:
    many = made_buy_down() * 3
    panel = named(made_drivers().model_copy(update={"buy_down": many}), "buy-down")
    assert len(panel.spec["data"][1]["x"]) == MOST_ROWS
    assert f"the {MOST_ROWS} that buy most" in panel.sentence
    assert len(panel.table.rows) == len(many)


def test_a_gain_that_does_not_show_is_not_in_the_opening() -> None:
    nothing = [row.model_copy(update={"gain": row.gain.model_copy(update={"low": -0.01})}) for row in made_buy_down()]
    drivers = made_drivers().model_copy(update={"buy_down": tuple(nothing)})
    (opening,) = Page(render_report(Answers.of(made_result(), drivers))).top.all("p", class_="opening")
    assert "Halving" not in opening.text


def test_drivers_of_failing_have_their_places_and_a_table_for_every_requirement(whole: Page) -> None:
    panel = named(made_drivers(), "drivers")
    assert panel.spec["data"][1]["x"] == [0.7, 0.3, 0.1, 0.0]
    assert panel.spec["data"][2]["text"][0].strip() == "0.70, place 1 to 2"
    assert panel.spec["data"][2]["text"][3].strip() == "not told from none"
    assert panel.sentence.startswith("The heat leak (fuel) of saddle.main carries most of the risk")
    assert [row[1].value for row in panel.table.rows] == [0.7, 0.3, 0.1, 0.0]
    (section,) = whole.top.all("section", aria_labelledby="h-drivers")
    cells = [cell.text for cell in section.all("table")[-1].all("td")]
    assert cells[1].startswith(f"{NUMBERS[0]} 0.70; {NUMBERS[1]} 0.30")
    assert cells[2:] == ["does not vary", "too few failures"]


def test_where_there_are_no_indices_the_reason_is_said() -> None:
    drivers = made_drivers()
    reason = "any requirement failed in 2 of 32 768 cases; indices of failure need at least 10 such cases."
    without = drivers.outputs[-1].model_copy(update={"drivers": (), "reason": reason})
    rare = drivers.model_copy(update={"outputs": (*drivers.outputs[:-1], without), "shapley": ()})
    assert {panel.name for panel in panels(rare)} == {"buy-down", "shifts"}
    assert reason in Page(render_report(rare)).top.text.replace("\u00a0", " ")


def test_shifts_are_sorted_by_size_and_say_their_way() -> None:
    panel = named(made_result(shifts=made_shifts()), "shifts")
    assert panel.spec["data"][1]["x"] == [0.9, -0.4, 0.2, 0.0]
    assert panel.spec["data"][2]["text"][1].strip() == "lower, −0.40"
    assert "is higher by 0.90 standard deviations" in panel.sentence
    few = made_shifts()[:1]
    assert panels(made_result(shifts=few))[-1].name == "first failures"


def test_a_run_alone_shows_what_its_margins_move_with(whole: Page) -> None:
    page = Page(render_report(made_result(shares=made_shares())))
    (section,) = page.top.all("section", aria_labelledby="h-shares")
    assert "0.60 (0.58 to 0.62)" in section.text
    assert "The margin did not vary." in section.text
    assert not whole.top.all("section", aria_labelledby="h-shares")  # the drivers say it better


def test_a_sizing_marks_asked_answer_and_the_range_that_does() -> None:
    panel = named(made_sizing(), "sizing.vehicle.saddle.tanks.main.load")
    band, line, rings, strip = panel.spec["data"]
    assert line["x"] == [36.0, 38.0, 39.0, 40.0, 42.0]  # exact: kg to t
    assert line["y"] == pytest.approx([20.0, 85.0, 95.5, 97.0, 40.0])
    assert band["y"][0] == pytest.approx(19.6)
    assert rings["marker"]["symbol"] == ["circle-open", "circle-open", "circle", "circle", "circle-open"]
    assert strip["x"] == [39.0, 40.0]
    asked, answer = panel.spec["layout"]["shapes"]
    assert (asked["y0"], answer["x0"]) == (95.0, 39.0)
    texts = [note["text"] for note in panel.spec["layout"]["annotations"]]
    assert texts == ["95\u202f% asked", "39\u00a0t"]
    assert panel.spec["layout"]["xaxis"]["title"]["text"] == "the load of saddle.main, t"


def test_a_sizing_without_an_answer_marks_the_best() -> None:
    panel = named(made_sizing(answer=None), "sizing.vehicle.saddle.tanks.main.load")
    assert panel.spec["layout"]["annotations"][1]["text"] == "best, 40\u00a0t"
    assert len(panel.spec["data"]) == 3
    assert "no value tried does" in panel.sentence


def test_a_sweep_over_one_number_is_a_line_and_over_two_a_map_of_lines() -> None:
    line = named(made_sweep(1), "sweep.vehicle.saddle.tanks.main.load")
    assert line.spec["data"][-1]["x"] == [38.0, 40.0]  # the run of values that show it
    chart = named(made_sweep(2), "sweep.vehicle.saddle.tanks.main.load.by.vehicle.tern.tanks.hold.load")
    *levels, asked, dots = chart.spec["data"]
    assert [level["contours"]["start"] for level in levels] == [0.5, 0.8, 0.9]  # what lies between the least and most
    assert all(level["contours"]["showlabels"] for level in levels)
    assert levels[0]["z"][0] == [0.1, 0.3, 0.5]  # down the second axis, along the first
    assert asked["x"] == [36.0, 38.0, 40.0]
    assert chart.spec["layout"]["annotations"][0]["text"] == "95\u202f% asked"
    shown = [symbol == "circle" for symbol in dots["marker"]["symbol"]]
    assert shown == [low >= 0.95 for low in made_sweep(2).low]
    assert [cell.value for cell in chart.table.rows[1][1:]] == [0.3, 0.94, 0.96, 0.97]
    assert "stopped before its last value" in panels(made_sweep(1, partial=True))[0].sentence


def test_rare_failures_are_drawn_on_a_log_axis_with_both_estimates() -> None:
    panel = named(made_rare(), "rare")
    frame = panel.spec["layout"]["xaxis"]
    assert frame["type"] == "log"
    assert frame["range"][0] < -6.8 < -0.6 < frame["range"][1]
    names = [note["text"] for note in panel.spec["layout"]["annotations"]]
    assert names[:2] == ["any requirement · brute force", "lift · subset simulation"]
    assert panel.spec["data"][1]["marker"]["symbol"] == ["circle", "diamond", "diamond", "diamond", "circle"]
    assert "2.00\u00a0×\u00a010⁻⁷" in panel.sentence
    assert "For 2 of 3 requirements there is no estimate to rely on" in panel.sentence
    assert "Two methods disagree about lift" in panel.sentence
    assert [row[0].text for row in panel.table.rows] == [
        "any requirement",
        "reserve",
        "reserve",
        "fits",
        "lift",
        "lift",
    ]
    assert panel.table.rows[3][-1].text == "no failure reached."
    assert (small(0.0786496), small(2.86651572e-7)) == ("0.0786", "2.87\u00a0×\u00a010⁻⁷")  # exact


def test_what_is_not_known_is_drawn_with_what_falls_short_hatched() -> None:
    given = made_unknowns()
    panel = named(made_result(unknowns=given), "unknowns")
    short, holds, bar, ring = panel.spec["data"]
    assert short["fillpattern"]["shape"] == "/"
    below = sum(chance < 0.9 for chance in given.estimates) / len(given.estimates)
    assert sum(short["y"]) == pytest.approx(100 * below, abs=0.01)  # exact: an edge lies at what is asked
    assert sum(short["y"]) + sum(holds["y"]) == pytest.approx(100, abs=0.01)
    assert bar["x"] == pytest.approx([100 * given.quantiles[0].chance.value, 100 * given.quantiles[2].chance.value])
    assert ring["x"] == pytest.approx([100 * given.quantiles[1].chance.value])
    assert panel.spec["layout"]["shapes"][0]["x0"] == 90.0
    far = panels(made_result(unknowns=given.model_copy(update={"asked": 0.01})))[-1]
    assert far.spec["layout"]["annotations"][0]["text"] == "← 1\u202f% asked"
    same = given.model_copy(update={"estimates": (0.5,) * 200, "asked": None, "reaches": None})
    assert panels(made_result(unknowns=same))[-1].spec["data"]


def test_names_on_the_page_of_what_is_not_known_are_the_trades() -> None:
    page = Page(render_report(made_whole_result()))
    (section,) = page.top.all("section", aria_labelledby="h-not-known")
    assert "the dry mass of tern; the dry mass of saddle" in section.text


@pytest.mark.parametrize(
    "document", [made_drivers(), made_sizing(), made_sweep(), made_rare()], ids=lambda one: one.kind
)
def test_an_answer_alone_has_its_page(document: Any) -> None:
    page = Page(render_report(document))
    (opening,) = page.top.all("p", class_="opening")
    assert opening.text.replace("\u00a0", " ") == document.sentence
    assert "What must hold" not in page.top.text
    assert document.study.digest in page.top.text
    assert len(page.top.all("figure")) == len(panels(document)) > 0


def test_a_stopped_answer_says_so_on_the_page() -> None:
    said = "what is shown rests on the cases done"
    assert said not in Page(render_report(made_drivers())).top.text
    assert said in Page(render_report(made_drivers().model_copy(update={"partial": True}))).top.text


def test_every_figure_opens_in_plotly_and_is_painted_in_both_palettes(answers: Answers) -> None:
    names = figure_names(answers)
    assert set(names) >= RISK
    for name, panel in zip(names, panels(answers), strict=True):
        assert isinstance(figure(answers, name), go.Figure)  # plotly refuses a property it does not know
        assert all("'@" not in str(painted(panel.spec, palette)) for palette in (LIGHT, DARK))


def test_the_data_stay_within_the_size_with_many_numbers_and_requirements(answers: Answers) -> None:
    names = [f"the dry mass of element number {n}" for n in range(60)]
    drivers = made_drivers()
    rows = [
        row.model_copy(update={"input": name, "change": f"fixing {name}"})
        for name in names
        for row in drivers.buy_down[:3]
    ]
    whole = drivers.outputs[-1].drivers[0]
    big = drivers.outputs[-1].model_copy(
        update={"drivers": tuple(whole.model_copy(update={"called": name}) for name in names)}
    )
    margins = [drivers.outputs[0].model_copy(update={"output": f"requirement {n}"}) for n in range(40)]
    many = drivers.model_copy(update={"buy_down": tuple(rows), "outputs": (*margins, big)})
    html = render_report(Answers.of(*(many if one.kind == "drivers" else one for one in answers.every)))
    plotly = Page(html).top.all("script")[1].text
    assert len(html.encode()) - len(plotly.encode()) <= 500_000  # DESIGN 10: data <= 0.5 MB


@pytest.fixture(scope="module")
def hostile() -> Page:
    names = (MARKUP, TURNED, SOLID, "plain")
    drivers = made_drivers(names).model_copy(update={"sentence": f"{MARKUP} gives way first."})
    sizing, sweep = made_sizing(called=MARKUP), made_sweep(called=SOLID)
    shifted = made_result(shares=made_shares(names), shifts=made_shifts(names))
    return Page(render_report(Answers.of(shifted, drivers, sizing, sweep, made_rare((MARKUP, TURNED, SOLID)))))


def test_no_name_becomes_an_element_or_turns_the_line(hostile: Page) -> None:
    assert len(hostile.top.all("script")) == 3
    assert hostile.top.all("a") == []
    assert all(bold.text != "bold" for bold in hostile.top.all("b"))
    assert MARKUP[:40] in hostile.top.text
    (data, *_) = hostile.top.all("script")
    shown = [element.text for part in ("header", "main") for element in hostile.top.all(part)]
    assert not [
        mark
        for mark in "\u202a\u202b\u202d\u202e\u2066\u2067\x00\x07"
        for text in (*shown, data.text)
        if mark in text and mark != "\u2068"
    ]
    for kind in ("th", "td", "figcaption", "p"):
        assert max((len(element.text) for element in hostile.top.all(kind)), default=0) <= 700


def test_figures_hold_no_markup_but_our_own_line_breaks(hostile: Page) -> None:
    told = json.loads(hostile.top.all("script")[0].text)
    texts = [note["text"] for one in told["figures"] for note in one["spec"]["layout"].get("annotations", ())]
    texts += [one["spec"]["layout"]["xaxis"]["title"]["text"] for one in told["figures"]]
    assert [text for text in texts if "<" in text.replace("<br>", "") or len(text) > 400] == []


def test_a_comparison_says_what_fails_and_what_separates_each_option(comparison: CompareResult) -> None:
    base, bad, good, *_ = comparison.options
    assert good.difference is not None
    separation = Separation(requirement="reserve", required="by both", difference=good.difference)
    where = good.chance.model_copy(update={"value": 0.42})
    told = good.model_copy(update={"separations": (separation,), "where_base_fails": where})
    page = Page(render_compare_report(comparison.model_copy(update={"options": (base, bad, told)})))
    (section,) = page.top.all("section", aria_labelledby="h-separations")
    (table,) = section.all("table")
    expected = [[1 - min(each.chance.value for each in row.requirements)] for row in (base, bad, told)]
    expected[2] += [good.difference.value, 0.42]
    assert table_values(table) == expected
    assert "by both" in table.text
    alone = Page(render_compare_report(comparison.model_copy(update={"options": (base,)})))
    assert not alone.top.all("section", aria_labelledby="h-separations")
    assert re.search(r"separates an option from the base", section.text)
