"""Figures as drawings that stand alone: every kind of figure, read back from its elements."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from leadline.report.palette import LIGHT
from leadline.report.panel import Panel, Table, axis, layout
from leadline.report.registry import panels
from leadline.report.vector import WIDTH, drawing, drawing_files
from leadline.report.vector_axes import Ruler, frame_of, ticks
from leadline.report.vector_marks import escaped, path, text_width
from leadline.report.wording import plain
from leadline.run.answer_files import Answers
from report.hostile import MARKUP, hostile_comparison, hostile_result
from report.made import made_comparison
from report.made_answers import made_answers, made_drivers, made_rare, made_sizing, made_sweep

SVG = "{http://www.w3.org/2000/svg}"
EVERY = (*panels(made_answers()), *panels(made_comparison()))
HOSTILE = (
    *panels(hostile_result()),
    *panels(hostile_comparison()),
    *panels(Answers.of(made_drivers((MARKUP,) * 4), made_sizing(called=MARKUP), made_sweep(2, called=MARKUP))),
    *panels(made_rare((MARKUP,) * 3)),
)
ELEMENTS = {
    "circle",
    "clipPath",
    "defs",
    "desc",
    "g",
    "path",
    "pattern",
    "rect",
    "svg",
    "text",
    "title",
    "tspan",
}


def read(panel: Panel, width: float = WIDTH) -> ET.Element:
    return ET.fromstring(drawing(panel, width))  # noqa: S314 - our own text; a mistake in it is an error here


def all_of(top: ET.Element, tag: str, **attributes: str) -> list[ET.Element]:
    """Return the elements of this tag whose attributes have these values."""
    wanted = {name.replace("_", "-"): value for name, value in attributes.items()}
    return [e for e in top.iter(f"{SVG}{tag}") if all(e.get(name) == value for name, value in wanted.items())]


def named(name: str) -> Panel:
    return next(panel for panel in EVERY if panel.name == name)


def panel_of(*traces: dict[str, Any], **more: Any) -> Panel:
    frame = layout(200, **{"xaxis": axis(range=[0, 10]), "yaxis": axis(range=[0, 10]), **more})
    return Panel("made", "made", "Made", "It is made.", {"data": list(traces), "layout": frame}, Table((), ()))


@pytest.mark.parametrize("panel", EVERY, ids=lambda panel: panel.div_id)
def test_every_figure_is_drawn_with_its_words(panel: Panel) -> None:
    top = read(panel)
    assert [e.text for e in all_of(top, "title")] == [panel.title]
    assert [e.text for e in all_of(top, "desc")] == [panel.sentence]
    assert (top.get("width"), top.get("height")) == (str(WIDTH), str(panel.height_px))
    ids = {e.get("id") for e in top.iter() if e.get("id")}
    assert set((top.get("aria-labelledby") or "").split()) <= ids
    for note in panel.spec["layout"].get("annotations", ()):
        assert note["text"].split("<br>")[0] in {e.text for e in all_of(top, "tspan")}
    drawn = len(all_of(top, "circle")) + len(all_of(top, "path")) + len(all_of(top, "rect"))
    assert drawn > len(panel.spec["data"])


@pytest.mark.parametrize("panel", [*EVERY, *HOSTILE], ids=[str(n) for n in range(len(EVERY) + len(HOSTILE))])
def test_nothing_runs_nothing_is_fetched_and_no_name_is_markup(panel: Panel) -> None:
    text = drawing(panel)
    top = ET.fromstring(text)  # noqa: S314
    assert {e.tag.removeprefix(SVG) for e in top.iter()} <= ELEMENTS
    attributes = {name for e in top.iter() for name in e.attrib}
    assert not [name for name in attributes if name.startswith("on") or "href" in name or name in {"style", "src"}]
    references = re.findall(r"url\(([^)]*)\)", text)
    ids = {f"#{e.get('id')}" for e in top.iter() if e.get("id")}
    assert set(references) <= ids
    assert {e.get("font-family") for e in top.iter()} == {None, "sans-serif"}
    assert "@" not in "".join(e.get(name, "") for e in top.iter() for name in ("fill", "stroke"))


def test_a_name_that_is_markup_is_text() -> None:
    (panel, *_) = [one for one in HOSTILE if one.name == f"margin.{MARKUP}"]
    assert plain(MARKUP)[:40] in (all_of(read(panel), "title")[0].text or "")
    said = [e.text or "" for one in HOSTILE for e in all_of(read(one), "tspan")]
    assert any(text.startswith("<script>alert(1)") for text in said)
    assert escaped("a\x00b\ufffe <&>") == "ab &lt;&amp;&gt;"  # exact: what XML cannot hold is left out


@pytest.mark.parametrize("panel", EVERY, ids=lambda panel: panel.div_id)
@pytest.mark.parametrize("width", [340, 600])
def test_every_text_is_on_the_drawing(panel: Panel, width: int) -> None:
    for text in all_of(read(panel, width), "text"):
        if text.get("transform"):
            continue
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor", "")]
        for line in text:
            wide, x = text_width((line.text or "").strip(), float(text.get("font-size", 0))), float(line.get("x", 0))
            assert x - share * wide >= -2, line.text
            assert x + (1 - share) * wide <= width + 12, line.text  # the width of a text is an upper estimate
            assert 0 <= float(line.get("y", 0)) <= panel.height_px


def test_values_stand_where_the_axis_has_them() -> None:
    panel = named("margin.reserve")
    frame = frame_of(panel.spec, WIDTH)
    ring = panel.spec["data"][-1]
    (circle,) = all_of(read(panel), "circle")
    assert float(circle.get("cx", 0)) == pytest.approx(frame.x(ring["x"][0]), abs=0.01)
    assert float(circle.get("cy", 0)) == pytest.approx(frame.y["y2"](0.0), abs=0.01)
    bars = all_of(read(named("first failures")), "rect", fill="url(#first-failures-hatch)")
    shares = named("first failures").spec["data"][0]["x"]
    widths = [float(bar.get("width", 0)) for bar in bars]
    assert widths[0] / widths[1] == pytest.approx(shares[0] / shares[1], rel=1e-3)


def test_rulers_are_exact() -> None:
    linear, log = Ruler({}, -1, 3, 100, 500), Ruler({"type": "log"}, -6, 0, 0, 600)
    assert [linear(value) for value in (-1, 0, 3)] == [100, 200, 500]  # exact
    assert [log(value) for value in (1e-6, 1e-3, 1)] == pytest.approx([0, 300, 600])  # exact


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (-1.4, 2.8, 5, ["−1", "0", "1", "2"]),
        (0, 100, 6, ["0", "20", "40", "60", "80", "100"]),
        (94.9, 95.4, 6, ["94.9", "95.0", "95.1", "95.2", "95.3", "95.4"]),
        (
            0,
            4_000_000,
            5,
            ["0", "1\u202f000\u202f000", "2\u202f000\u202f000", "3\u202f000\u202f000", "4\u202f000\u202f000"],
        ),
        (10, 0, 3, ["0", "5", "10"]),
    ],
)
def test_ticks_are_round_numbers(low: float, high: float, most: int, expected: list[str]) -> None:
    assert [tick.text for tick in ticks(Ruler({"nticks": most}, low, high, 0, 1))] == expected  # exact: by definition


def test_ticks_of_powers_of_ten() -> None:
    decades = ticks(Ruler({"type": "log", "dtick": 2}, -6.05, 1.05, 0, 1))
    assert [tick.text for tick in decades] == ["10⁻⁶", "10⁻⁴", "10⁻²", "1"]  # exact


def test_what_falls_short_is_told_by_more_than_colour() -> None:
    short = all_of(read(named("margin.reserve")), "path", fill="url(#margin-1-hatch)")
    assert len(short) == 1
    (hatch,) = all_of(read(named("margin.reserve")), "pattern")
    assert all_of(hatch, "path", stroke=LIGHT["red"])
    buys = read(named("buy-down"))
    told = sum(row.distinguishable for row in made_drivers().buy_down)
    assert len(all_of(buys, "circle")) == told  # a ring for what is told from none, a diamond for the others
    assert all_of(buys, "path", stroke_dasharray="2,3", stroke=LIGHT["soft"])
    sized = all_of(read(named("sizing.vehicle.saddle.tanks.main.load")), "circle")
    assert {ring.get("fill") for ring in sized} == {LIGHT["ink"], "none"}  # shown is filled, else open


def test_a_line_of_equal_chance_on_a_plane_is_straight() -> None:
    x = [0.0, 5.0, 10.0]
    contours = {"start": 0.25, "labelfont": {"size": 11, "color": "#000"}}
    trace = {"type": "contour", "x": x, "y": x, "z": [[v / 10 for v in x]] * 3, "contours": contours}
    panel = panel_of({**trace, "line": {"width": 1, "color": "#123456"}})
    (line,) = all_of(read(panel), "path", stroke="#123456")
    frame = frame_of(panel.spec, WIDTH)
    across = [float(point.split()[0]) for point in re.split("[ML]", line.get("d", ""))[1:]]
    assert across == pytest.approx([frame.x(2.5)] * 3, abs=0.01)  # exact: the height is x / 10
    assert "25\u202f%" in {e.text for e in all_of(read(panel), "tspan")}


def test_a_path_is_parted_where_a_place_is_missing() -> None:
    assert path([(0, 1), (2, 3.004), None, (4, 5), (6, 7)]) == "M0 1L2 3M4 5L6 7"  # exact


def test_an_axis_with_no_reach_is_still_drawn() -> None:
    trace = {"type": "scatter", "mode": "lines", "x": [3, 3], "y": [0, 0], "line": {"width": 1, "color": "#123456"}}
    panel = panel_of(trace, xaxis=axis(), yaxis=axis(range=[0, 0]))
    (line,) = all_of(read(panel), "path", stroke="#123456")
    assert np.all(np.isfinite([float(part) for part in re.findall(r"[-\d.]+", line.get("d", ""))]))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"type": "pie"}, "a trace of type 'pie'"),
        ({"error_x": {}}, "a scatter trace with error_x"),
        ({"fill": "tonexty"}, "a fill 'tonexty'"),
        ({"mode": "markers", "marker": {"symbol": "star", "size": 1, "line": {}}}, "a mark 'star'"),
        ({"type": "bar", "orientation": "v"}, "bars that stand upright"),
    ],
)
def test_what_is_not_known_is_refused_and_not_left_out(change: dict[str, Any], message: str) -> None:
    trace = {"type": "scatter", "mode": "lines", "x": [1, 2], "y": [1, 2], "line": {"width": 1, "color": "#000"}}
    with pytest.raises(ValueError, match=message):
        drawing(panel_of({**trace, **change}))
    with pytest.raises(ValueError, match="a shape of type 'rect'"):
        drawing(panel_of(trace, shapes=[{"type": "rect"}]))


def test_files_are_named_for_their_figures_and_are_the_same_each_time() -> None:
    files = drawing_files(made_answers())
    assert list(files) == [f"{panel.div_id}.svg" for panel in panels(made_answers())]
    assert files == drawing_files(made_answers())
    assert all(text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<svg ') for text in files.values())
    two = [replace(named("margin.reserve"), div_id=name) for name in ("one", "other")]
    first, second = ({e.get("id") for e in read(panel).iter() if e.get("id")} for panel in two)
    assert first.isdisjoint(second)  # drawings can stand on one page
