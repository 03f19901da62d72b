"""Studies and results in a notebook or a script: `load` a study, `run` it, look at it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leadline import study as documents
from leadline.risk.sizing import Prefer
from leadline.run import check, compare, engine, replay, sizing
from leadline.run import drivers as driving
from leadline.run import rare as rarity
from leadline.run import sweep as sweeping
from leadline.run.answer_files import Answer, Answers
from leadline.run.answer_tables import answer_rows
from leadline.run.placement import executor_for
from leadline.run.result import Chance, CompareResult, RequirementResult, Result
from leadline.sampling import Design
from leadline.study import Study

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["NotebookAnswer", "NotebookComparison", "NotebookResult", "NotebookStudy", "load", "loads"]

ROWS_SHOWN = 12


def load(path: str | PathLike[str]) -> NotebookStudy:
    """Return the study in a file.

    Raises
    ------
    StudyError
        It cannot be used as written; all that is wrong is in it.
    """
    return NotebookStudy(documents.load(Path(path)))


def loads(text: str) -> NotebookStudy:
    """Return the study in a text; errors as `load`."""
    return NotebookStudy(documents.loads(text))


@dataclass(frozen=True, slots=True)
class NotebookStudy:
    """A study that can be checked, run, compared and replayed.

    Parameters
    ----------
    study
        The study behind it.
    """

    study: Study

    @property
    def title(self) -> str:
        """What the study is called."""
        return self.study.title

    @property
    def options(self) -> tuple[str, ...]:
        """The names of its options."""
        return tuple(self.study.options)

    def with_option(self, name: str) -> NotebookStudy:
        """Return the study with an option of it taken."""
        return NotebookStudy(self.study.with_option(name))

    def with_values(self, values: Mapping[str, Any]) -> NotebookStudy:
        """Return the study with values replaced, by their paths, each written as in a study."""
        return NotebookStudy(self.study.with_values(dict(values)))

    def check(self) -> check.CheckResult:
        """Return what the study says, with the case at the median of every dispersed number."""
        return check.check(self.study)

    def run(
        self,
        *,
        cases: int | None = None,
        seed: int = 0,
        design: str = "independent",
        until: float | None = None,
        workers: int | None = None,
        threads: int | None = None,
        scheduler: str | None = None,
        progress: Callable[[engine.Progress], None] | None = None,
        more_than: NotebookResult | None = None,
    ) -> NotebookResult:
        """Compute the chance that every requirement is met.

        Parameters
        ----------
        cases, seed, design, until
            As in `leadline.run.engine.Request`; 100 000 cases unless told otherwise.
        workers, threads, scheduler
            As in `leadline.run.placement.executor_for`; the calling thread with none of them.
        progress
            Told where the run stands.
        more_than
            A result with fewer cases of the same study, seed and design, to go on from.

        Raises
        ------
        RunError
            The run could not be carried out.
        """
        request = engine.Request(cases, seed, Design(design), until)
        executor = executor_for(workers=workers, threads=threads, scheduler=scheduler)
        control = engine.Control() if progress is None else engine.Control(progress=progress)
        start = None if more_than is None else more_than.kept
        try:
            computed = engine.compute(self.study, request, executor, control, start_from=start)
        finally:
            executor.close()
        return NotebookResult(computed.result, computed.kept)

    def compare(
        self,
        *,
        cases: int | None = None,
        seed: int = 0,
        design: str = "independent",
        options: Sequence[str] | None = None,
        workers: int | None = None,
        threads: int | None = None,
        scheduler: str | None = None,
    ) -> NotebookComparison:
        """Compare the options with the base, case by case on the same draws; arguments as `run`."""
        request = engine.Request(cases, seed, Design(design))
        executor = executor_for(workers=workers, threads=threads, scheduler=scheduler)
        try:
            compared = compare.compare(self.study, request, executor, options=options)
        finally:
            executor.close()
        return NotebookComparison(compared)

    def drivers(
        self,
        *,
        pairs: int = driving.DEFAULT_PAIRS,
        cases: int = engine.DEFAULT_CASES,
        seed: int = 0,
        shapley: bool = False,
        workers: int | None = None,
        threads: int | None = None,
    ) -> NotebookAnswer:
        """Find what drives the risk, and what each change buys; arguments as in `leadline.run.drivers.Extent`."""
        executor = executor_for(workers=workers, threads=threads)
        try:
            return NotebookAnswer(driving.drivers(self.study, driving.Extent(pairs, cases, seed, shapley), executor))
        finally:
            executor.close()

    def size(
        self,
        place: str,
        low: str | None = None,
        high: str | None = None,
        *,
        chance: float | None = None,
        confidence: float | None = None,
        prefer: str = "smallest",
        cases: int = engine.DEFAULT_CASES,
        seed: int = 0,
    ) -> NotebookAnswer:
        """Find the value of one number that gives the wanted chance; see `leadline.run.sizing.SizingRequest`."""
        request = sizing.SizingRequest(place, low, high, chance, confidence, Prefer(prefer), cases, seed)
        return NotebookAnswer(sizing.size_number(self.study, request))

    def sweep(
        self,
        ranges: Mapping[str, tuple[str, str]],
        *,
        steps: int = 11,
        chance: float | None = None,
        confidence: float | None = None,
        cases: int = 20_000,
        seed: int = 0,
    ) -> NotebookAnswer:
        """Find the chance over one or two numbers, such as ``{"ferry.tanks.hold.load": ("7 t", "9 t")}``."""
        over = [sweeping.SweepRange(place, *ends, steps) for place, ends in ranges.items()]
        return NotebookAnswer(
            sweeping.sweep_numbers(self.study, sweeping.SweepRequest(over, chance, confidence, cases, seed))
        )

    def rare(self, *, variation: float = 0.1, seed: int = 0) -> NotebookAnswer:
        """Find how likely rare failures are; see `leadline.run.rare.RareRequest`."""
        return NotebookAnswer(rarity.rare(self.study, rarity.RareRequest(variation=variation, seed=seed)))

    def replay(self, case: int, *, seed: int = 0, design: str = "independent") -> replay.CaseResult:
        """Return one case of a run, leg by leg, by its number from 0."""
        return replay.replay(self.study, case, seed=seed, design=Design(design))

    def _repr_html_(self) -> str:
        listed = [label.name for label in self.study.mission.requirements]
        facts = f"{len(self.study.inputs)} dispersed numbers, {len(self.study.mission.legs)} legs"
        return f"<p><b>{escape(self.title)}</b><br>{facts}; requirements: {escape(', '.join(listed))}</p>"


@dataclass(frozen=True, slots=True)
class NotebookResult:
    """The answer of a run.

    Parameters
    ----------
    document
        The result document, SI.
    kept
        What a run of more cases can go on from; None for a result that was read back.
    """

    document: Result
    kept: engine.Kept | None = field(default=None, repr=False)

    @property
    def sentence(self) -> str:
        """The sentence to quote."""
        return self.document.sentence

    @property
    def chance(self) -> Chance:
        """The chance that every requirement is met."""
        return self.document.chance

    def to_pandas(self) -> pd.DataFrame:
        """Return a row for each requirement: its chance, and its margin's spread in SI.

        Columns: unit, chance, low, high, mean, sd and one for each quantile, such as ``p5``.
        """
        import pandas as pd

        rows = [_requirement_row(each) for each in self.document.requirements]
        return pd.DataFrame(rows).set_index("requirement")

    def figure(self, name: str) -> Any:
        """Return a figure, such as ``margins``, as a plotly figure."""
        from leadline.report import figure

        return figure(self.document, name)

    def save_report(self, path: str | PathLike[str], *further: NotebookAnswer) -> None:
        """Write the report as one HTML file, with further answers to the same study if any are given.

        Raises
        ------
        ValueError
            An answer is about another study.
        """
        from leadline.report import write_report

        write_report(Answers.of(self.document, *(each.document for each in further)), Path(path))

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{escape(each.name)}</td><td>{_interval(each.chance)}</td></tr>"
            for each in self.document.requirements
        )
        table = f"<table><tr><th>requirement</th><th>chance</th></tr>{rows}</table>"
        judged = escape(self.document.judgement.sentence)
        return f"<p><b>{escape(self.sentence)}</b></p>{table}<p>{judged}</p>"


@dataclass(frozen=True, slots=True)
class NotebookAnswer:
    """What drives the risk, a sizing, a sweep, or rare failures.

    Parameters
    ----------
    document
        The document, SI.
    """

    document: Answer

    @property
    def sentence(self) -> str:
        """The sentence to quote."""
        return self.document.sentence

    def to_pandas(self) -> pd.DataFrame:
        """Return a row for each change, value tried, combination or estimate, in SI."""
        import pandas as pd

        return pd.DataFrame(answer_rows(self.document))

    def figure(self, name: str | None = None) -> Any:
        """Return a figure as a plotly figure: the first, or the one of this name."""
        from leadline.report import figure, figure_names

        return figure(self.document, figure_names(self.document)[0] if name is None else name)

    def save_report(self, path: str | PathLike[str]) -> None:
        """Write the report as one HTML file."""
        from leadline.report import write_report

        write_report(self.document, Path(path))

    def _repr_html_(self) -> str:
        rows = answer_rows(self.document)[:ROWS_SHOWN]
        heads = "".join(f"<th>{escape(head.replace('_', ' '))}</th>" for head in rows[0]) if rows else ""
        lines = "".join(f"<tr>{''.join(_html_cell(value) for value in row.values())}</tr>" for row in rows)
        return f"<p><b>{escape(self.sentence)}</b></p><table><tr>{heads}</tr>{lines}</table>"


def _html_cell(value: object) -> str:
    return f"<td>{escape(f'{value:.6g}' if isinstance(value, float) else str(value))}</td>"


@dataclass(frozen=True, slots=True)
class NotebookComparison:
    """Options beside the base, on the same draws."""

    document: CompareResult

    @property
    def sentence(self) -> str:
        """The sentence to quote."""
        return self.document.sentence

    def to_pandas(self) -> pd.DataFrame:
        """Return a row for the base and each option: its chance and the difference from the base."""
        import pandas as pd

        rows = [
            {
                "option": row.name or "base study",
                **_interval_columns(row.chance),
                "difference": None if row.difference is None else row.difference.value,
                "difference_low": None if row.difference is None else row.difference.low,
                "difference_high": None if row.difference is None else row.difference.high,
            }
            for row in self.document.options
        ]
        return pd.DataFrame(rows).set_index("option")

    def save_report(self, path: str | PathLike[str]) -> None:
        """Write the report as one HTML file."""
        from leadline.report import write_compare_report

        write_compare_report(self.document, Path(path))

    def _repr_html_(self) -> str:
        rows = "".join(f"<li>{escape(row.sentence)}</li>" for row in self.document.options)
        return f"<p><b>{escape(self.sentence)}</b></p><ul>{rows}</ul>"


def _interval_columns(chance: Chance) -> dict[str, float]:
    return {"chance": chance.value, "low": chance.low, "high": chance.high}


def _interval(chance: Chance) -> str:
    return f"{100 * chance.value:.4g} % ({100 * chance.low:.4g} to {100 * chance.high:.4g} %)"


def _requirement_row(each: RequirementResult) -> dict[str, Any]:
    row = {"requirement": each.name, "unit": each.unit, **_interval_columns(each.chance)}
    if each.margin is not None:
        row |= {"mean": each.margin.mean, "sd": each.margin.sd}
        row |= {f"p{100 * quantile.p:g}": quantile.value for quantile in each.margin.quantiles}
    return row
