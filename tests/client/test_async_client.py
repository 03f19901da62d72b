"""The client for use with await: it asks and understands as the one that waits."""

from __future__ import annotations

import asyncio
import inspect
from pathlib import Path
from typing import Any

import pytest

from leadline.client import (
    AsyncClient,
    AsyncRunHandle,
    Client,
    Drivers,
    Rare,
    RunHandle,
    RunState,
    Sizing,
    Span,
    Sweep,
)
from leadline.client.asked import Answer
from leadline.errors import StudyError, Unreachable
from leadline.run.engine import run_study
from run.ferries import FERRY, ferry

LOAD = "vehicle.ferry.tanks.hold.load"


def shapes(kind: type) -> dict[str, Any]:
    """Return what each public name of a class takes."""
    public = {name: value for name, value in vars(kind).items() if not name.startswith("_")}
    functions = {name: value for name, value in public.items() if inspect.isfunction(value)}
    return {name: tuple(inspect.signature(value).parameters) for name, value in functions.items()}


@pytest.mark.parametrize(("waits", "does_not"), [(Client, AsyncClient), (RunHandle, AsyncRunHandle)])
def test_both_have_the_same_names_and_arguments(waits: type, does_not: type) -> None:
    assert shapes(waits) == shapes(does_not)


async def asked_everything(server: str, folder: Path) -> None:
    async with AsyncClient(server) as client:
        sweep = Sweep(ranges=[Span(LOAD, "7.6 t", "8.4 t", 2)], cases=200)
        answers: list[Answer] = [
            Drivers(pairs=100, cases=200),
            Rare(variation=0.5, most_cases=5_000),
            Sizing(place=LOAD, cases=300),
        ]
        run = await client.submit(FERRY, cases=40_000, seed=31, answers=[*answers, sweep], keep_cases=True)
        events = [event async for event in run.events()]
        assert events[-1].state is RunState.FINISHED
        assert any(event.progress is not None and event.progress.chance is not None for event in events)
        assert await run.result() == run_study(ferry(), cases=40_000, seed=31)
        kinds = [(await run.drivers()).kind, (await run.rare()).kind, (await run.sizing()).kind]
        assert [*kinds, (await run.sweep()).kind] == ["drivers", "rare", "sizing", "sweep"]
        assert (await run.report(folder / "report.html")).stat().st_size > 10_000
        assert len(await run.cases(folder)) == 1
        assert (await run.case(3)).case == 3
        assert (await (await run.extend(10)).result()).cases.total == 40_010
        assert run.run_id in [each.run_id async for each in client.runs(page=1)]
        assert (await client.run(run.run_id)).run.state is RunState.FINISHED


def test_everything_can_be_asked(server: str, tmp_path: Path) -> None:
    asyncio.run(asked_everything(server, tmp_path))


async def asked_the_rest(server: str) -> None:
    async with AsyncClient(server) as client:
        stored = await client.store(FERRY)
        assert (await client.study(stored.content_id)).text == FERRY
        assert (await client.save("async-ferry", FERRY)).version == 1
        assert (await client.check(FERRY)).study.digest == ferry().digest
        with pytest.raises(StudyError):
            await client.check("leadline: 2")
        assert (await client.trial(FERRY, cases=500)).result == run_study(ferry(), cases=500)
        compared = await client.compare(FERRY, ["light"], cases=500)
        run = await client.submit(stored.content_id, compare=["light"], cases=500)
        assert await run.comparison() == compared
        endless = await client.submit(FERRY, cases=10**11, seed=32)
        with pytest.raises(TimeoutError):
            await endless.wait(0.1)
        await endless.cancel()
        assert (await endless.wait(20)).state is RunState.CANCELLED
        assert (await endless.state()).has_ended
        assert await endless.files() is not None
        await endless.delete()


def test_the_rest_can_be_asked(server: str) -> None:
    asyncio.run(asked_the_rest(server))


async def asked_at_once(server: str) -> list[int]:
    async with AsyncClient(server) as client:
        runs = await asyncio.gather(*(client.submit(FERRY, cases=200 + step) for step in range(4)))
        return [result.cases.total for result in await asyncio.gather(*(run.result() for run in runs))]


def test_several_runs_are_waited_for_at_once(server: str) -> None:
    assert asyncio.run(asked_at_once(server)) == [200, 201, 202, 203]


async def asked_nobody() -> None:
    async with AsyncClient("http://127.0.0.1:1") as client:
        await client.check(FERRY)


def test_nobody_there_is_told() -> None:
    with pytest.raises(Unreachable, match="cannot be reached"):
        asyncio.run(asked_nobody())
