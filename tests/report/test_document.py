"""The report file: one file, all parts, nothing asked of a network."""

from __future__ import annotations

import base64
import hashlib
import re
import stat
import time
from pathlib import Path

import pytest

from leadline.errors import OutputError
from leadline.report import page as page_module
from leadline.report import render_report, write_compare_report, write_report
from leadline.report.page import CAUTION
from leadline.run.result import Cases, CompareResult, Result
from report.made import made_result
from report.reading import Page, table_values

LARGEST_FILE = 6_000_000  # DESIGN 10: "<= 6 MB with plotly.js once, data <= 0.5 MB"
LARGEST_DATA = 500_000


def test_the_quotable_sentence_opens_the_page_and_the_judgement_follows(page: Page, result: Result) -> None:
    (head,) = page.top.all("header")
    kinds = [part.attributes.get("class", part.tag) for part in head.children]
    assert kinds == ["kicker", "h1", "opening", "judgement", "facts"]
    said = [part.text.replace("\u00a0", " ") for part in head.children]
    assert said[1:4] == [result.study.title, result.sentence, result.judgement.sentence]


def test_the_parts_stand_in_reading_order(page: Page) -> None:
    (main,) = page.top.all("main")
    headings = [part.all("h2")[0].text if part.all("h2") else part.all("summary")[0].text for part in main.children]
    assert headings == [
        "What must hold, and by how much it does",
        "How the margins are spread",
        "Along the mission, leg by leg",
        "What fails first, and what fails together",
        "The uncertain numbers and their laws",
        "Notes",
        "What the model leaves out, and a caution",
        "Sources used",
        "Provenance",
    ]


def test_every_text_of_the_result_is_on_the_page(page: Page, result: Result) -> None:
    (main,) = page.top.all("main")
    said = main.text.replace("\u00a0", " ")
    texts = [*result.notes, *result.limits, *result.sources, *(given.name for given in result.inputs)]
    texts += [given.sentence for given in result.requirements]
    texts += [result.study.digest, result.provenance.generator, result.provenance.platform]
    assert [text for text in texts if text not in said] == []


def test_the_requirement_table_holds_the_results_own_numbers(page: Page, result: Result) -> None:
    (table,) = page.top.all("table", class_="requirements stacked")
    expected = []
    for given in result.requirements:
        assert given.margin is not None
        at = {q.p: q.value for q in given.margin.quantiles}
        expected.append([at[0.5], at[0.05], at[0.95], given.chance.value])
    assert table_values(table) == [*expected, [result.chance.value]]


def test_the_table_of_inputs_holds_the_results_own_numbers(page: Page, result: Result) -> None:
    tables = page.top.all("table", class_="stacked")
    assert table_values(tables[0]) == [[given.mean, given.sd] for given in result.inputs]


def test_the_counts_of_cases_add_up_and_an_invalid_case_is_said() -> None:
    cases = Cases(total=1_000, succeeded=700, failed=297, invalid=3)
    (facts, *_) = Page(render_report(made_result(cases=cases))).top.all("p", class_="facts")
    numbers = [
        int(n.replace("\u202f", "")) for n in re.findall(r"\d[\d\u202f]*(?= cases| succ| fail| were)", facts.text)
    ]
    assert numbers == [1_000, 700, 297, 3]
    assert "count as not succeeding" in facts.text


def test_the_caution_is_said_once_whether_or_not_the_limits_hold_it() -> None:
    from leadline.run.limits import ALWAYS

    assert CAUTION in ALWAYS, "the page's caution and the model's limits have drifted apart"
    with_it, without = (Page(render_report(made_result(limits=limits))) for limits in (ALWAYS, ("One limit.",)))
    assert with_it.top.text.count(CAUTION) == without.top.text.count(CAUTION) == 1


def test_a_partial_run_says_so(page: Page) -> None:
    assert not page.top.all("p", class_="partial")
    assert Page(render_report(made_result(partial=True))).top.all("p", class_="partial")


def test_a_run_without_a_failure_or_a_valid_case_still_has_its_page(result: Result) -> None:
    nothing = {"first_failures": (), "combinations": (), "ledger": (), "notes": (), "sources": (), "inputs": ()}
    bare = [given.model_copy(update={"margin": None}) for given in result.requirements]
    page = Page(render_report(made_result(requirements=tuple(bare), **nothing)))
    assert "No case failed a requirement." in page.top.text
    assert page.top.text.count("no valid case") == len(bare)
    assert page.top.all("figure") == []


def test_one_copy_of_the_drawing_script_and_only_our_scripts_may_run(page: Page, html: str) -> None:
    data, plotly, own = page.top.all("script")
    assert html.count("* plotly.js v") == 1
    assert "* plotly.js v" in plotly.text[:100]
    (policy,) = [
        meta.attributes["content"]
        for meta in page.top.all("meta")
        if meta.attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    digests = [hashlib.sha256(script.text.encode()).digest() for script in (plotly, own)]
    allowed = " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
    assert policy.startswith(f"default-src 'none'; script-src {allowed}; ")
    assert data.attributes["type"] == "application/json"


def test_nothing_points_to_a_network(page: Page, compare_page: Page) -> None:
    for read in (page, compare_page):
        pointing = {"src", "href", "srcset", "action", "data", "poster", "formaction", "ping", "background"}
        found = [(e.tag, name) for e in read.top.below() for name in pointing & e.attributes.keys()]
        assert found == []
        assert read.top.all("link") == read.top.all("iframe") == []
        assert all("url(" not in style.text and "@import" not in style.text for style in read.top.all("style"))
        own = [script.text for script in read.top.all("script") if "* plotly.js v" not in script.text[:100]]
        assert [text for text in own if re.search(r"https?:|//[a-z]", text)] == []


def test_plotly_shows_no_upload_no_editing_and_no_logo(page: Page, compare_page: Page) -> None:
    for read in (page, compare_page):
        config = read.drawings["config"]
        assert config["showSendToCloud"] is False
        assert config["displaylogo"] is False
        assert config["displayModeBar"] is False
        assert config["plotlyServerURL"] == ""
        assert not {"editable", "showLink", "showEditInChartStudio"} & config.keys()


def test_light_dark_and_paper_are_told_apart(page: Page) -> None:
    (style,) = page.top.all("style")
    for rule in ("prefers-color-scheme:dark", "@media print", "size: A4", "@media (max-width: 40rem)"):
        assert rule in style.text


def test_the_file_is_no_larger_than_promised(html: str, page: Page) -> None:
    plotly = page.top.all("script")[1]
    assert len(html.encode()) <= LARGEST_FILE
    assert len(html.encode()) - len(plotly.text.encode()) <= LARGEST_DATA


def test_forty_requirements_thirty_legs_and_sixty_inputs_stay_within_the_size(result: Result) -> None:
    requirements = [result.requirements[n % 4].model_copy(update={"name": f"requirement {n}"}) for n in range(40)]
    ledger = [result.ledger[n % 8].model_copy(update={"leg": f"leg {n}"}) for n in range(30)]
    inputs = [result.inputs[n % 5].model_copy(update={"name": f"input {n}"}) for n in range(60)]
    many = made_result(requirements=tuple(requirements), ledger=tuple(ledger), inputs=tuple(inputs))
    start = time.perf_counter()
    html = render_report(many)
    assert time.perf_counter() - start <= 0.5  # the brief's budget; about 0.06 s when measured alone
    page = Page(html)
    assert len(page.top.all("figure")) == 44
    assert len(html.encode()) - len(page.top.all("script")[1].text.encode()) <= LARGEST_DATA


def test_a_page_is_well_formed_and_its_names_are_used_once(page: Page, compare_page: Page) -> None:
    for read in (page, compare_page):  # reading alone shows that every tag is closed in turn
        ids = [element.attributes["id"] for element in read.top.below() if "id" in element.attributes]
        assert len(ids) == len(set(ids))
        (top,) = read.top.all("html")
        assert top.attributes["lang"] == "en"
        referred = {element.attributes.get("aria-labelledby") for element in read.top.below()} - {None}
        assert referred <= set(ids)


def test_the_same_result_gives_the_same_page(result: Result, html: str) -> None:
    assert render_report(Result.from_json(result.to_json())) == html


def test_a_written_file_is_the_rendered_page_and_replaces_the_one_before(
    tmp_path: Path, result: Result, html: str
) -> None:
    path = tmp_path / "report.html"
    path.write_text("an older report", encoding="utf-8")
    write_report(result, path)
    assert path.read_bytes() == html.encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_said(tmp_path: Path, result: Result) -> None:
    with pytest.raises(OutputError, match=r"could not be written to .*missing.*No such file or directory"):
        write_report(result, tmp_path / "missing" / "report.html")


def test_a_file_that_cannot_be_replaced_leaves_nothing_half_written(tmp_path: Path, comparison: CompareResult) -> None:
    path = tmp_path / "report.html"
    path.mkdir()
    with pytest.raises(OutputError, match="could not be written"):
        write_compare_report(comparison, path)
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_drawing_library_is_said_with_what_to_install(
    monkeypatch: pytest.MonkeyPatch, result: Result
) -> None:
    script = "leadline.report.page._plotly_script"
    fresh = page_module._plotly_script.__wrapped__  # without its memory of the script read before
    monkeypatch.setattr(script, fresh)
    monkeypatch.setattr("leadline.report.page.find_spec", lambda _: None)
    with pytest.raises(OutputError, match=r"needs plotly, which is not installed: pip install 'leadline\[report\]'"):
        render_report(result)


def test_a_comparison_shows_every_option_with_its_own_numbers(compare_page: Page, comparison: CompareResult) -> None:
    table = compare_page.top.all("table")[-1]
    by_name = [{given.name: given.chance.value for given in option.requirements} for option in comparison.options]
    expected = [[chances[name] for chances in by_name] for name in ("reserve", "on time")]
    assert table_values(table) == [*expected, [option.chance.value for option in comparison.options]]
    assert all(option.sentence in compare_page.top.text for option in comparison.options)
    assert CAUTION in compare_page.top.text
