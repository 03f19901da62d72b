"""Figures and pages from results; computes nothing.

`write_report` and `write_compare_report` write one self-contained HTML file; `figure` gives
a single figure for a notebook under the names that `figure_names` lists.
"""

from __future__ import annotations

from leadline.report.compare_page import render_compare_report, write_compare_report
from leadline.report.registry import figure, figure_names, panels
from leadline.report.result_page import render_report, write_report

__all__ = [
    "figure",
    "figure_names",
    "panels",
    "render_compare_report",
    "render_report",
    "write_compare_report",
    "write_report",
]
