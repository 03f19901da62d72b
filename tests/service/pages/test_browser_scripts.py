"""The scripts' own small parts, run in the browser that runs them, against the library's wording."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Route

from leadline.report.wording import amount, chance, count, share
from leadline.run.document import Chance
from service.pages.browsing import Visit

STUDY = """\
vehicle:
  tern:   # the ferry
    dry_mass: 18 t
    engines:
      main: {isp: 447 s, }
legs:
  - coast: out
    lasts: 4 d
  - burn: departure
    cost: {to_moon: {from_altitude: 420 km, }}
requirements:
  reserve: {propellant: tern.hold, at_l}
"""


def imported(visit: Visit, module: str, call: str, *given: Any) -> Any:
    """Import a module of the page as the page does, and call something of it."""
    address = visit.page.evaluate(
        "(name) => new URL(name, document.querySelector('script[type=module]').src).href", f"./{module}"
    )
    return visit.page.evaluate(
        f"async ([address, given]) => {{ const it = await import(address); return {call}; }}", [address, list(given)]
    )


def test_numbers_read_as_in_the_report(visit: Visit) -> None:
    # cross-checked: against leadline.report.wording, to the letter
    visit.go("/")
    amounts = [
        (18_400.0, "kg"), (999.6, "kg"), (-0.5, "kg"), (0.0, "kg"), (3_100.0, "m/s"), (86_400.0 * 3, "s"),
        (7_300.0, "s"), (12.3, "s"), (0.00123, ""), (1.5e6, "W/m2"), (0.5, "rad"), (170.0, "m3"),
        (56.4, "m/s2"), (1e-7, "kg"),
    ]  # fmt: skip
    made = imported(visit, "numbers.js", "given[0].map(([value, unit]) => it.amount(value, unit))", amounts)
    assert made == [amount(value, unit) for value, unit in amounts]
    shares = [0.0, 1.0, 0.5, 0.83, 0.826, 0.9996512, 1e-6, 0.123456, 0.0005]
    assert imported(visit, "numbers.js", "given[0].map((one) => it.share(one))", shares) == [
        share(one) for one in shares
    ]
    given = Chance(value=0.83, low=0.826, high=0.8341, confidence=0.95, method="x")
    told = imported(visit, "numbers.js", "it.chance(given[0])", given.model_dump())
    assert told == chance(given)
    counts = [0, 999, 1000, 1_234_567]
    assert imported(visit, "numbers.js", "given[0].map(it.count)", counts) == [count(one) for one in counts]
    typed = ["100 000", "1e6", "-3", "", "1.5", "many"]
    assert imported(visit, "numbers.js", "given[0].map(it.countOf)", typed) == [
        100_000,
        1_000_000,
        None,
        None,
        None,
        None,
    ]


@pytest.mark.parametrize(
    ("before", "path", "key", "word"),
    [
        ("isp: 447 s, ", ["vehicle", "tern", "engines", "main"], None, ""),
        ("    las", ["legs", 0], None, "las"),
        ("  - burn: dep", ["legs", 1], "burn", "dep"),
        ("from_altitude: 42", ["legs", 1, "cost", "to_moon"], "from_altitude", "42"),
        ("at_l", ["requirements", "reserve"], None, "at_l"),
        ("    dry", ["vehicle", "tern"], None, "dry"),
    ],
)
def test_the_caret_knows_where_it_stands(
    visit: Visit, before: str, path: list[str | int], key: str | None, word: str
) -> None:
    visit.go("/")
    caret = STUDY.index(before) + len(before)
    found = imported(visit, "caret.js", "it.writingAt(given[0], given[1])", STUDY, caret)
    assert (found["path"], found["key"], found["word"], found["start"]) == (path, key, word, caret - len(word))


def test_nothing_is_offered_in_a_comment(visit: Visit) -> None:
    visit.go("/")
    assert imported(visit, "caret.js", "it.writingAt(given[0], given[1])", STUDY, STUDY.index("the ferry")) is None


def test_a_history_goes_back_and_forth(visit: Visit) -> None:
    visit.go("/")
    call = (
        "(() => { const h = new it.History(0); h.push(1); h.push(2); const a = [h.undo(), h.undo(), h.undo()]; "
        "const b = [h.redo(), h.canRedo]; h.push(9); return [...a, ...b, h.canRedo, h.now, h.undo()] })()"
    )
    assert imported(visit, "history.js", call) == [1, 0, 0, 1, True, False, 9, 1]


GATHERED = """(async () => {
  const seen = [];
  for await (const { id, kind, data } of it.changes('/v1/runs/run_x', new AbortController().signal)) {
    seen.push([id, kind, data]);
  }
  return seen;
})()"""


def test_a_stream_that_breaks_off_is_taken_up_where_it_broke(visit: Visit) -> None:
    visit.go("/")
    asked: list[str | None] = []
    bodies = [
        ': hello\nretry: 20\n\nid: 7\nevent: progress\ndata: {"cases": 1}\n\nid: 8\nevent: progr',
        'id: 8\nevent: progress\ndata: {"cases":\ndata: 2}\n\n',
    ]

    def answer(route: Route) -> None:
        asked.append(route.request.headers.get("last-event-id"))
        if len(asked) > len(bodies):
            route.fulfill(status=204)
        else:
            route.fulfill(status=200, content_type="text/event-stream", body=bodies[len(asked) - 1])

    visit.page.route("**/run_x/events", answer)
    found = imported(visit, "stream.js", GATHERED)
    assert found == [["7", "progress", {"cases": 1}], ["8", "progress", {"cases": 2}]]
    assert asked == [None, "7", "8"]


def test_without_a_place_for_a_stream_the_run_is_asked_for_now_and_then(visit: Visit) -> None:
    visit.awaited = ("503", "304")
    visit.go("/")
    tags: list[str | None] = []

    def answer(route: Route) -> None:
        tags.append(route.request.headers.get("if-none-match"))
        ended = None if len(tags) < 3 else "2034-03-02T00:00:00Z"
        headers = {"ETag": f'"{len(tags)}"', "Retry-After": "0"}
        if len(tags) == 2:
            route.fulfill(status=304, headers=headers)
        else:
            route.fulfill(status=200, headers=headers, json={"ended": ended})

    visit.page.route("**/run_x/events", lambda route: route.fulfill(status=503, headers={"Retry-After": "2"}))
    visit.page.route("**/run_x", answer)
    found = imported(visit, "stream.js", GATHERED)
    assert [one[2]["ended"] is None for one in found] == [True, False]
    assert tags == [None, '"1"', '"2"']


def test_a_problem_becomes_a_sentence(visit: Visit) -> None:
    visit.awaited = ("422",)
    visit.go("/")
    call = "it.post('/v1/runs', {study: 'x'}).catch((error) => [it.sentenceOf(error), error.status])"
    sentence, status = imported(visit, "api.js", call)
    assert status == 422
    assert "study" in sentence
