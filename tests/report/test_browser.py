"""The page in a real browser that can reach no network: every figure is drawn, and nothing is complained of."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from conftest import lack
from leadline.report import panels, write_report
from leadline.run.answer_files import Answers
from leadline.run.result import Result
from report.hostile import hostile_result
from report.made_answers import made_answers

QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--virtual-time-budget=5000",
    "--enable-logging=stderr",
    "--dump-dom",
]


@pytest.fixture(scope="module")
def browser() -> str:
    found = shutil.which("chromium")
    if found is None:
        lack("chromium is not installed")
    return found


@pytest.mark.parametrize("which", ["made", "hostile", "answers"])
def test_every_figure_is_drawn_with_the_network_blocked(
    browser: str, tmp_path: Path, result: Result, which: str
) -> None:
    documents: dict[str, Result | Answers] = {
        "made": result,
        "hostile": hostile_result(),
        "answers": made_answers(),
    }
    shown = documents[which]
    path = tmp_path / "report.html"
    write_report(shown, path)
    blocked = ["--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={tmp_path / 'profile'}"]
    command = [browser, *QUIET, *blocked, path.as_uri()]
    said = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    assert re.findall(r"CONSOLE.*", said.stderr) == []  # an error, or a refusal under the page's own policy
    page = re.sub(r"<script.*?</script>", "", said.stdout, flags=re.DOTALL)
    assert re.search(r"<html[^>]* data-drawn=", page)
    drawn = re.findall(r'id="([\w-]+)-drawing"[^>]*class="[^"]*js-plotly-plot', page) + re.findall(
        r'class="[^"]*js-plotly-plot[^"]*"[^>]*id="([\w-]+)-drawing"', page
    )
    assert sorted(drawn) == sorted(panel.div_id for panel in panels(shown))
    assert "modebar-btn" not in page
    assert len(re.findall(r"<button[^>]*hidden", page)) == 0  # the script has shown the buttons that need it
