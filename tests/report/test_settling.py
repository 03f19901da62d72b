"""How the chance settled, drawn."""

from __future__ import annotations

from leadline.report.figures.settling import settling_panels
from leadline.report.vector import drawing
from leadline.run.document import Chance
from leadline.run.first_result import Settled
from report.made import made_result


def settled(cases: int, low: float, value: float, high: float) -> Settled:
    return Settled(cases=cases, chance=Chance(value=value, low=low, high=high, confidence=0.95, method="made"))


def test_the_band_goes_out_and_back_and_the_table_has_every_look() -> None:
    looks = (settled(64, 0.7, 0.84, 0.92), settled(100_000, 0.881, 0.884, 0.886))
    (panel,) = settling_panels(made_result(settling=looks))
    band, line = panel.spec["data"]
    assert band["x"] == [64, 100_000, 100_000, 64]
    assert band["y"] == [70.0, 88.1, 88.6, 92.0]
    assert line["y"] == [84.0, 88.4]
    assert drawing(panel).count("<polyline") + drawing(panel).count("<path") > 1
    assert [row[0].value for row in panel.table.rows] == [64, 100_000]
    assert "64 cases" in panel.sentence.replace("\u202f", " ")


def test_one_look_is_no_figure() -> None:
    assert settling_panels(made_result(settling=(settled(64, 0.7, 0.84, 0.92),))) == ()
