"""The pages as the server sends them: safe, linked, and readable without a script."""

from __future__ import annotations

import gzip
import json
import re
from importlib.metadata import version

import pytest

from leadline.study.limits import NAME_LENGTH, TITLE_LENGTH
from leadline_service.pages.glossary import TERMS
from service.pages.links import Read, read_page
from service.routes.served import FERRY, YAML, Served

HTML = {"accept": "text/html"}
HOSTILE = "<script>alert(1)</script> & \"two\" 'one' {{ 7*7 }} \u202eevil\u202c \u05e9\u05dc\u05d5\u05dd"


def shown(served: Served, path: str, status: int = 200) -> Read:
    """Fetch a page as a browser would; what holds for every page is checked here."""
    got = served.get(path, headers=HTML)
    assert (got.status_code, got.headers["content-type"]) == (status, "text/html; charset=utf-8"), got.text
    policy = got.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert got.headers["x-content-type-options"] == "nosniff"
    page = read_page(got.text)
    assert page.inline == []
    assert len(page.ids) == len(set(page.ids))
    assert set(page.described) <= set(page.ids)
    assert set(page.labelled) <= set(page.ids)
    return page


def named(served: Served, name: str = "ferry", text: str = FERRY) -> str:
    answer = served.ask("PUT", f"/v1/names/{name}", content=text.encode(), headers=YAML)
    assert answer.status_code == 200, answer.text
    content_id: str = answer.json()["content_id"]
    return content_id


@pytest.fixture
def every_page(served: Served) -> list[str]:
    """Return the addresses of every screen, with something on each."""
    named(served)
    run = served.ended(answers=[{"kind": "drivers", "pairs": 64, "cases": 1_000}])
    compared = served.ended(compare=["light"])
    waiting = served.started(seed=3)
    return [
        "/",
        "/studies/new",
        "/studies/new?demo=tern-first-look",
        f"/studies/new?from={served.stored()}",
        "/studies/ferry",
        "/studies/ferry?version=1",
        f"/runs/{run}",
        f"/runs/{run}?case=17",
        f"/runs/{run}/try",
        f"/runs/{compared}",
        f"/runs/{waiting}",
        f"/compare/{run},{compared}",
        f"/compare/{compared}",
        "/reference",
        "/how-to",
        *(f"/how-to/{name}" for name in ("first-study", "compare-options", "run-on-a-cluster")),
        "/sign-in",
    ]


def test_every_page_is_safe_and_every_link_leads_somewhere(served: Served, every_page: list[str]) -> None:
    wanted: set[str] = set()
    for path in every_page:
        page = shown(served, path)
        inside = [link.removeprefix("#") for link in page.links if link.startswith("#")]
        assert set(inside) <= set(page.ids), path
        wanted |= {link for link in (*page.links, *page.loads) if not link.startswith("#")}
    for link in sorted(wanted):
        assert link.startswith("/"), link  # nothing is loaded from, or leads, elsewhere
        assert served.get(link.partition("#")[0], headers=HTML).status_code == 200, link


def test_without_a_script_studies_runs_and_results_are_tables(served: Served) -> None:
    named(served)
    run = served.ended()
    index = shown(served, "/")
    assert index.tables == 2
    assert "A ferry out and back" in index.text
    assert re.search(r"ferry .* 1 .* % \(.* to .* %\) done", index.text)
    result = shown(served, f"/runs/{run}?case=17")
    for said in ("the chance that every requirement is met is", "What must hold", "Case 17 ", "stack mass", "mean"):
        assert said in result.text
    assert result.tables > 5
    study = shown(served, "/studies/ferry")
    assert "margin in the median case" in study.text
    assert FERRY.splitlines()[1] in " ".join(study.words)


def test_a_run_under_way_says_how_it_stands(served: Served) -> None:
    run = served.started()
    page = shown(served, f"/runs/{run}")
    assert "waiting" in page.text
    assert {"watch", "watch-chance", "watch-progress", "cancel"} <= set(page.ids)
    served.post(f"/v1/runs/{run}/cancel")
    assert "stopped" in shown(served, f"/runs/{run}").text


def test_whatever_a_study_is_called_is_text(served: Served) -> None:
    tree = FERRY.replace("title: A ferry out and back", f"title: {json.dumps(HOSTILE)}")
    named(served, "hostile", tree)
    run = served.ended(study=served.stored(tree))
    for path in ("/", "/studies/hostile", f"/runs/{run}", f"/runs/{run}/try", f"/compare/{run}"):
        got = served.get(path, headers=HTML)
        page = shown(served, path)
        assert "<script>alert" not in got.text
        assert "<script>alert(1)</script>" in page.text
        assert "{{ 7*7 }}" in page.text
        assert "49" not in page.text.split("{{ 7*7 }}")[1][:3]
    # What turns the writing direction is left out of running text; in the study's own text it stays.
    assert "\u202e" not in shown(served, f"/runs/{run}").text


def test_the_longest_names_are_cut_where_they_stand(served: Served) -> None:
    # Names longer than these are refused when a study is read, so no page ever gets one.
    title, option = "x" * TITLE_LENGTH, "y" * NAME_LENGTH
    text = FERRY.replace("title: A ferry out and back", f"title: {title}").replace("  light:", f"  {option}:")
    named(served, "long", text)
    run = served.ended(study=served.stored(text), option=option)
    page = shown(served, f"/runs/{run}")
    assert title in page.text  # in full, once, at the end
    assert page.text.count(title) < page.text.count(title[:100])
    assert title not in shown(served, "/").text


def test_words_are_explained_where_they_stand_and_again_at_the_end(served: Served) -> None:
    named(served)
    run = served.ended()
    page = shown(served, "/")
    assert "explain-chance" in page.ids
    assert TERMS["chance"].says in page.text
    html = served.get("/", headers=HTML).text
    assert f'title="{TERMS["case"].says}"' in html
    used = {one.removeprefix("explain-") for one in shown(served, f"/runs/{run}/try").ids if one.startswith("explain-")}
    assert {"nominal", "spread", "margin", "option"} <= used <= set(TERMS)


def test_what_is_not_there_is_told_as_a_page_to_a_browser_only(served: Served) -> None:
    assert "There is nothing here" in shown(served, "/nowhere", 404).text
    assert "There is nothing here" in shown(served, "/studies/Not A Name", 404).text
    assert "There is nothing here" in shown(served, "/runs/run_nothing", 404).text
    assert "There is nothing here" in shown(served, "/how-to/fly", 404).text
    for path in ("/nowhere", "/v1/nowhere"):
        accept = HTML if path.startswith("/v1") else {}
        got = served.get(path, headers=accept)
        assert (got.status_code, got.headers["content-type"]) == (404, "application/problem+json")
    run = served.ended()
    assert "greater than or equal to 0" in shown(served, f"/runs/{run}?case=-1", 422).text


def test_a_token_is_needed_where_there_are_any(served: Served) -> None:
    got = served.client.get("/studies/ferry", headers=HTML, follow_redirects=False)
    assert (got.status_code, got.headers["location"]) == (303, "/sign-in?next=/studies/ferry")
    assert served.client.get("/reference").status_code == 401


def test_files_are_kept_for_ever_by_their_content(served: Served) -> None:
    page = shown(served, "/")
    address = next(one for one in page.loads if one.endswith("page.css"))
    got = served.client.get(address)
    assert "immutable" in got.headers["cache-control"]
    assert got.text.startswith(":root{--serif:")
    assert ".site" in got.text
    again = served.client.get(address, headers={"if-none-match": got.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    old = served.client.get("/static/0123456789abcdef/page.css")
    assert (old.status_code, old.headers["cache-control"]) == (200, "no-cache")
    assert served.client.get("/static/0123456789abcdef/../router.py").status_code == 404
    assert served.client.get("/static/0123456789abcdef/nothing.js").status_code == 404


def test_plotly_comes_out_of_its_package_packed(served: Served) -> None:
    address = re.search(r'data-plotly="([^"]+)"', served.get("/", headers=HTML).text)
    assert address is not None
    assert version("plotly") in address[1]
    packed = served.client.get(address[1], headers={"accept-encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) < 1_700_000
    plain = served.client.get(address[1], headers={"accept-encoding": "identity"})
    assert plain.content == packed.content  # the client unpacks
    assert len(gzip.compress(plain.content[:1000])) < 1000


def test_pages_are_not_in_the_description_of_the_interface(served: Served) -> None:
    paths = served.get("/openapi.json").json()["paths"]
    assert {"/v1/edit", "/v1/try", "/v1/runs/{run_id}/figures"} <= set(paths)
    assert not [path for path in paths if not path.startswith(("/v1", "/health", "/metrics"))]


def test_marked_runs_are_put_side_by_side_without_a_script(served: Served) -> None:
    first, second = served.ended(), served.ended(seed=1)
    got = served.get(f"/compare?run={first}&run={second}", headers=HTML, follow_redirects=False)
    assert got.headers["location"] == f"/compare/{first},{second}"
    page = shown(served, got.headers["location"])
    assert "different seeds" in page.text
    assert "everything together" in page.text
