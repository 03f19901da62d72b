"""A study written in the browser: by form, by text, with mistakes and the messages that lead out of them."""

from __future__ import annotations

from playwright.sync_api import Page

from leadline.study import loads
from run.ferries import FERRY
from service.pages.browsing import Site, Visit


def paste(visit: Visit, text: str) -> None:
    """Put a text into the text area as pasting would."""
    visit.page.locator("#study-text").fill(text)
    visit.page.locator("#study-text").blur()
    visit.settled()


def pick(visit: Visit, *path: str | int, what: str) -> None:
    """Choose something to add to a part of the form, and add it."""
    adding = visit.at(*path, "+").locator("xpath=..")
    adding.locator("select").select_option(label=what)
    adding.get_by_role("button").click()
    visit.settled()


def name(visit: Visit, *path: str | int, called: str, kind: str | None = None) -> None:
    """Add an entry with a name."""
    field = visit.at(*path, "+name")
    field.fill(called)
    if kind is not None:
        visit.at(*path, "+kind").select_option(label=kind)
    field.press("Enter")
    visit.settled()


def put(visit: Visit, *path: str | int, value: str) -> None:
    """Write into a field."""
    visit.at(*path).fill(value)
    visit.at(*path).blur()
    visit.settled()


def unfold(visit: Visit, *path: str | int) -> None:
    """Unfold an entry."""
    visit.at(*path, part="#fold").click()
    visit.page.wait_for_timeout(50)


def test_a_study_is_written_in_the_form_alone(visit: Visit, site: Site) -> None:
    visit.write()
    paste(visit, "leadline: 1\n# kept whatever the form does\n")
    put(visit, "title", value="A kite to the Moon")
    put(visit, "ask", "chance", value="90 %")
    name(visit, "vehicle", called="kite")
    put(visit, "vehicle", "kite", "dry_mass", value="2.1 t")
    pick(visit, "vehicle", "kite", what="engines")
    name(visit, "vehicle", "kite", "engines", called="main")
    put(visit, "vehicle", "kite", "engines", "main", "isp", value="320 s")
    pick(visit, "vehicle", "kite", "engines", "main", what="mixture ratio")
    pick(visit, "vehicle", "kite", what="tanks")
    name(visit, "vehicle", "kite", "tanks", called="hold")
    visit.at("vehicle", "kite", "tanks", "hold", "propellant").fill("n2o4-mmh")
    pick(visit, "vehicle", "kite", "tanks", "hold", what="load")
    put(visit, "vehicle", "kite", "tanks", "hold", "load", value="1.4 t")
    pick(visit, "legs", what="burn")
    put(visit, "legs", 0, "burn", value="departure")
    visit.at("legs", 0, "cost", part="#shape").select_option(label="one value")
    visit.settled()
    put(visit, "legs", 0, "cost", value="1.2 km/s")
    name(visit, "requirements", called="reserve", kind="propellant")
    put(visit, "requirements", "reserve", "at_least", value="20 kg")
    put(visit, "vehicle", "kite", "engines", "main", "mixture_ratio", value="1.65")
    assert visit.page.locator("#issues-count").inner_text() == "nothing", visit.page.locator("#issues").inner_text()
    visit.page.locator("#study-name").fill("kite")
    visit.page.locator("#save").click()
    visit.page.wait_for_selector("#saved")
    assert visit.page.url.endswith("/studies/kite")
    study = loads(site.text_of("kite"))
    assert study.ask is not None
    assert (study.title, study.ask.chance) == ("A kite to the Moon", 0.9)  # exact: as written
    assert "# kept whatever the form does" in site.text_of("kite")


def test_a_study_is_written_as_text_with_what_the_page_offers(visit: Visit) -> None:
    page = visit.write()
    paste(visit, FERRY)
    area = page.locator("#study-text")
    area.press("Control+End")
    page.keyboard.type("dep")
    page.wait_for_selector(".offers li")
    assert page.locator("#study-text").get_attribute("aria-activedescendant") is not None
    page.keyboard.press("Enter")
    assert visit.line("dep") == "dependence:"
    page.keyboard.type("[{between: [ferry.dry_mass, vehicle.ferry.tanks.hold.load], rank: 0.3}]")
    visit.settled()
    assert page.locator("#issues-count").inner_text() == "nothing"
    assert page.locator("#part-dependence details").count() == 1
    assert visit.at("title").input_value() == "A ferry out and back"  # the form says what the text says
    area.fill(FERRY.replace("A ferry out and back", "Another title"))
    visit.settled()
    assert visit.at("title").input_value() == "Another title"
    page.wait_for_selector("#median tbody tr")
    assert page.locator("#median tbody tr").count() >= 2  # the two requirements, and the supply of the tank


def test_three_mistakes_are_put_right_by_what_is_said_of_them(visit: Visit) -> None:
    page = visit.write()
    broken = FERRY.replace("sd: 0.2 t}", "sd: 0.2 kt}", 1).replace(
        "burn: back, engine: ferry.main", "burn: back, engine: ferry.mian"
    )
    broken = broken.replace("at_least: 500 kg", "at_lest: 500 kg")
    paste(visit, broken)
    said = page.locator("#issues li").all_inner_texts()
    assert len(said) >= 3
    unfold(visit, "vehicle", "ferry")
    beside = visit.at("vehicle", "ferry", "dry_mass", "mean").locator("xpath=ancestor::div[contains(@class,'field')]")
    assert "kt is not accepted" in beside.locator(".error").inner_text()  # at the field, not in a list alone
    assert page.locator("#text-lines .wrong").count() >= 3
    put(visit, "vehicle", "ferry", "dry_mass", "sd", value="0.2 t")
    button = page.locator("#issues button", has_text="mian")
    button.click()
    assert "STUDY-TEXT" in visit.focused().upper()
    page.keyboard.press("Home")
    lines = visit.text().splitlines()
    row = next(number for number, line in enumerate(lines) if "mian" in line)
    caret = page.evaluate("() => document.getElementById('study-text').selectionStart")
    assert visit.text()[:caret].count("\n") == row  # the caret stands on the line that is wrong
    page.locator("#study-text").fill(visit.text().replace("ferry.mian", "ferry.main"))
    visit.settled()
    unfold(visit, "requirements", "reserve")
    assert "at_lest" in page.locator("#issues").inner_text()
    page.locator("#study-text").fill(visit.text().replace("at_lest", "at_least"))
    visit.settled()
    assert page.locator("#issues-count").inner_text() == "nothing"
    assert page.locator("#study-form .error:not(:empty)").count() == 0


def test_legs_are_added_moved_and_taken_out_and_all_can_be_undone(visit: Visit) -> None:
    page = visit.write()
    paste(visit, FERRY.replace("  - {coast: wait", "  # while the crew is ashore\n  - {coast: wait"))
    before = visit.text()
    pick(visit, "legs", what="coast")
    unfold_count = page.locator("#part-legs > details").count()
    assert unfold_count == 4  # exact: three, and the new one
    visit.at("legs", 3, part="#up").click() if visit.at("legs", 3, part="#up").count() else unfold(visit, "legs", 3)
    visit.settled()
    assert visit.focused().split("|")[2].startswith("Move")
    names = page.locator("#part-legs > details > summary bdi").all_inner_texts()
    assert [one.split(". ")[1].split()[0] for one in names] == ["burn", "coast", "coast", "burn"]
    assert "# while the crew is ashore" in visit.text()
    visit.at("legs", 2).get_by_role("button", name="Take out").first.click()
    visit.settled()
    assert page.locator("#part-legs > details").count() == 3
    for _ in range(3):
        page.locator("#undo").click()
        visit.settled()
    assert visit.text() == before
    page.locator("#redo").click()
    visit.settled()
    assert page.locator("#part-legs > details").count() == 4


def test_a_law_is_chosen_for_a_number_and_keeps_its_middle(visit: Visit) -> None:
    visit.write()
    paste(visit, FERRY)
    unfold(visit, "vehicle", "ferry")
    law = visit.at("vehicle", "ferry", "dry_mass", part="#law")
    for chosen, written in (
        ("PERT", "dry_mass: {low: 9.5 t, likely: 10 t, high: 10.5 t}"),
        ("lognormal", "dry_mass: {median: 10 t, spread: 1.2}"),
        ("fixed", "dry_mass: 10 t"),
        ("normal", "dry_mass: {mean: 10 t, sd: 0.2 t}"),
    ):
        law = visit.at("vehicle", "ferry", "dry_mass", part="#law")
        law.select_option(label=chosen)
        visit.settled()
        assert visit.line("dry_mass") == written  # pinned: 5 % to each side, 2 %, to begin with
        assert visit.page.locator("#issues-count").inner_text() == "nothing"


def test_an_option_is_made_of_numbers_of_the_study(visit: Visit) -> None:
    visit.write()
    paste(visit, FERRY)
    name(visit, "options", called="slower")
    assert (
        visit.line("slower:") == "slower: {vehicle.ferry.dry_mass: {mean: 10 t, sd: 0.2 t}}"
    )  # as it is, to begin with
    put(visit, "options", "slower", "vehicle.ferry.dry_mass", "mean", value="9.7 t")
    visit.at("options", "slower", "+place").fill("legs.back.cost")
    visit.at("options", "slower", "+place").press("Enter")
    visit.settled()
    put(visit, "options", "slower", "legs.back.cost", "mean", value="650 m/s")
    assert visit.page.locator("#issues-count").inner_text() == "nothing"
    study = loads(visit.text()).with_option("slower")
    medians = {one.name: one.law.median for one in study.inputs}
    assert (medians["vehicle.ferry.dry_mass"], medians["legs.back.cost"]) == (9_700.0, 650.0)  # exact: as typed
    assert "slower" in visit.page.locator("#run-option").inner_text()


def test_what_was_typed_is_never_lost(visit: Visit) -> None:
    page = visit.write("/studies/new")
    paste(visit, FERRY + "# not saved yet\n")
    page.reload()
    visit.settled()
    assert "# not saved yet" in visit.text()
    assert page.locator("#draft-note").count() == 1
    page.get_by_role("button", name="Take the saved one instead").click()
    visit.settled()
    assert "# not saved yet" not in visit.text()
    page.locator("#undo").click()
    visit.settled()
    assert "# not saved yet" in visit.text()  # even then it can be had back


def test_typing_in_the_text_meanwhile_does_not_lose_what_the_form_asked_for(visit: Visit) -> None:
    page = visit.write()
    paste(visit, FERRY)
    visit.at("title").fill("From the form")
    page.locator("#study-text").press("Control+End")
    page.keyboard.type("# from the text")
    visit.settled()
    page.wait_for_timeout(400)
    visit.settled()
    assert visit.line("title") == "title: From the form"
    assert visit.text().rstrip().endswith("# from the text")


def test_the_keyboard_is_enough_and_is_never_held_fast(visit: Visit) -> None:
    page = visit.write()
    order = [_next(page, visit) for _ in range(14)]
    paste(visit, FERRY)
    assert order[0].startswith("A|")  # first the way past the head
    assert "INPUT|study-name" in " ".join(order)
    page.locator("#study-name").focus()
    _tab_until(page, visit, "study-text")
    page.keyboard.press("Tab")
    assert "study-text" not in visit.focused()  # nothing was typed, so Tab moves on
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Control+End")
    page.keyboard.type("x")
    page.keyboard.press("Tab")
    assert "study-text" in visit.focused()  # now it moves the line in
    assert visit.text().endswith("x  ")
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    assert "study-text" not in visit.focused()


def _next(page: Page, visit: Visit) -> str:
    page.keyboard.press("Tab")
    outlined = page.evaluate(
        "() => { const s = getComputedStyle(document.activeElement);"
        "return s.outlineStyle !== 'none' && s.outlineWidth !== '0px' }"
    )
    assert outlined, f"nobody sees that {visit.focused()} has the focus"
    return visit.focused()


def _tab_until(page: Page, visit: Visit, wanted: str) -> None:
    for _ in range(400):
        if wanted in visit.focused():
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never came to {wanted}")
