"""What the screen of a run shows: how it stands, what it found, one case of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from leadline.report.compare_page import comparison_context
from leadline.report.panel import Cell, Table
from leadline.report.result_page import report_context
from leadline.report.wording import amount, count, share
from leadline.risk.words import Rounding
from leadline.run.case import CaseAccount, CaseRow
from leadline.run.document import Chance
from leadline.run.replay import replay
from leadline.run.result import CompareResult
from leadline.sampling import Design
from leadline_service.findings import findings_of
from leadline_service.requests import RunRequest
from leadline_service.serving import Service
from leadline_service.store.records import RunRecord

__all__ = ["CaseView", "ProgressView", "case_view", "found_context", "links_of", "progress_view"]

KEPT: Final = "cases/"


@dataclass(frozen=True, slots=True)
class ProgressView:
    """Where a run stands, in words."""

    chance: str
    interval: str
    done: int
    wanted: int
    answer: str
    cases: str
    rate: str
    left: str


@dataclass(frozen=True, slots=True)
class CaseView:
    """One case: what became of it, its ledger, its margins, its draws."""

    case: int
    sentence: str
    table: Table
    margins: Table
    draws: Table


def progress_view(run: RunRecord) -> ProgressView:
    """Return where a run stands."""
    told: Mapping[str, Any] = run.progress or {}
    given = told.get("chance")
    done, wanted = int(told.get("cases", 0)), int(told.get("wanted", 0)) or run.cases
    left, rate = told.get("left_s"), told.get("rate_per_s", 0.0)
    chance = None if given is None else Chance.from_json(json.dumps(given))
    return ProgressView(
        chance="" if chance is None else share(chance.value),
        interval="" if chance is None else _interval(chance),
        done=done,
        wanted=wanted,
        answer=str(told.get("answer") or "waiting"),
        cases=f"{count(done)} of {count(wanted)} cases",
        rate=f"{count(round(rate))} cases a second" if rate else "",
        left="" if left is None else f"about {amount(float(left), 's')} left",
    )


def _interval(chance: Chance) -> str:
    return f"({share(chance.low, Rounding.DOWN)} to {share(chance.high, Rounding.UP)})"


def found_context(service: Service, run: RunRecord) -> dict[str, Any]:
    """Return what a run's templates read of what it found: `view` of a result, or `comparison`, else neither."""
    findings = findings_of(service, run) if run.has_ended else None
    if findings is None:
        return {"view": None, "comparison": None, "kind": "", "opening": None}
    if isinstance(findings, CompareResult):
        return {
            "view": None,
            "comparison": comparison_context(findings),
            "kind": "comparison",
            "opening": findings.sentence,
        }
    view = report_context(findings)
    return {"view": view, "comparison": None, "kind": "result", "opening": view["opening"]}


def links_of(service: Service, run: RunRecord) -> tuple[tuple[str, str], ...]:
    """Return where a run's outcome can be fetched, with what to call it."""
    here = f"/v1/runs/{run.run_id}"
    names = [file.name for file in service.store.files(run.run_id)] if run.has_ended else []
    links = [(f"/runs/{run.run_id}/try", "Try a change")] if "result.json" in names else []
    if "report.html" in names:
        links.append((f"{here}/report", "Report, one file"))
    if {"result.json", "comparison.json"} & set(names):
        links.append((f"{here}/result", "Result as JSON"))
    if "margins.csv" in names:
        links.append((f"{here}/margins.csv", "Margins as CSV"))
    kept = [name for name in names if name.startswith(KEPT)]
    links += [(f"{here}/files/{name}", f"Cases {at} of {len(kept)} as Parquet") for at, name in enumerate(kept[:20], 1)]
    return tuple(links)


def case_view(service: Service, run: RunRecord, case: int) -> CaseView:
    """Fly one case of a run again."""
    request = RunRequest.of(run.request)
    study = request.study_of(service.store.study(run.study_id).text)
    account = replay(study, case, seed=request.seed, design=Design(request.design)).account
    return CaseView(
        case=case,
        sentence=_said(case, account),
        table=_ledger(account.ledger),
        margins=Table(
            ("requirement", "margin"),
            tuple((Cell(each.name), _amount(each.margin, each.unit)) for each in account.requirements),
        ),
        draws=Table(
            ("number, in SI", "value"),
            tuple((Cell(each.name), Cell(amount(each.value, "", 6), each.value)) for each in account.inputs),
        ),
    )


def _said(case: int, account: CaseAccount) -> str:
    failed = account.first_failure
    if failed is None:
        return (
            f"Case {count(case)} {account.state}." if account.state == "succeeds" else f"Case {count(case)} is invalid."
        )
    where = "before the first leg" if failed.leg is None else f"at {failed.leg}"
    return f"Case {count(case)} fails: first {failed.requirement}, {where}."


def _ledger(rows: tuple[CaseRow, ...]) -> Table:
    tanks = list(dict.fromkeys(tank for row in rows for tank in row.propellant_kg))
    headers = ("leg", "kind", "stack mass", *(f"in {tank}" for tank in tanks), "time since the start", "of the leg")
    return Table(headers, tuple(_ledger_row(row, tanks) for row in rows))


def _ledger_row(row: CaseRow, tanks: list[str]) -> tuple[Cell, ...]:
    held = (_amount(_sum(row.propellant_kg.get(tank)), "kg") for tank in tanks)
    noted = "; ".join(f"{_called(name)} {_in_words(name, value)}" for name, value in row.quantities.items())
    return (Cell(row.leg), Cell(row.kind), _amount(row.mass_kg, "kg"), *held, _amount(row.elapsed_s, "s"), Cell(noted))


def _sum(liquids: Mapping[str, float | None] | None) -> float | None:
    values = [] if liquids is None else list(liquids.values())
    known = [value for value in values if value is not None]
    return sum(known) if known and len(known) == len(values) else None


def _amount(value: float | None, unit: str) -> Cell:
    return Cell("") if value is None else Cell(amount(value, unit, 4), value)


UNITS: Final = {
    "_m_s2": "m/s2",
    "_m_s": "m/s",
    "_kg": "kg",
    "_s": "s",
    "_m": "m",
    "_n": "N",
    "_w_m2": "W/m2",
    "_j_m2": "J/m2",
    "_w": "W",
    "_m3": "m3",
    "_k": "K",
}
"""Units by what a quantity's name ends in."""


def _ending(name: str) -> str:
    return max((ending for ending in UNITS if name.endswith(ending)), key=len, default="")


def _called(name: str) -> str:
    return name.removesuffix(_ending(name)).replace("_", " ").replace("delta v", "delta-v")


def _in_words(name: str, value: float | None) -> str:
    return "no number" if value is None else amount(value, UNITS.get(_ending(name), ""), 4)
