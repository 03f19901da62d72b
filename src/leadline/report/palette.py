"""Colours and typefaces, written once for figures, style sheet and notebooks.

Figures name colours by role (``@ink``), so that one figure can be painted for paper, for a
dark screen or for print. The two hues are from the Okabe-Ito set (blue and vermilion on
light, sky blue and orange on dark), which colour-blind readers can tell apart; nothing is
said by colour alone.
"""

from __future__ import annotations

from typing import Any, Final

__all__ = ["DARK", "LIGHT", "SANS", "SERIF", "Palette", "painted", "style_variables"]

Palette = dict[str, str]

LIGHT: Final[Palette] = {
    "paper": "#faf7f0",
    "ink": "#23211d",
    "soft": "#5f5a50",
    "rule": "#cfc8b9",
    "blue": "#0072b2",
    "blue-wash": "#cfdfe6",
    "red": "#b84f00",
    "red-wash": "#f1dcc8",
}
"""Ink on paper. Vermilion is darkened until small text in it keeps a contrast of 4.5 to 1."""

DARK: Final[Palette] = {
    "paper": "#1a1b1d",
    "ink": "#e8e3d8",
    "soft": "#aaa497",
    "rule": "#45443f",
    "blue": "#56b4e9",
    "blue-wash": "#243a49",
    "red": "#e69f00",
    "red-wash": "#40331c",
}

SERIF: Final = (
    "'Iowan Old Style', 'Palatino Linotype', Palatino, 'EB Garamond', 'Book Antiqua', Georgia, 'Noto Serif', serif"
)
SANS: Final = "'Avenir Next', Avenir, 'Segoe UI', 'Noto Sans', 'Helvetica Neue', Arial, sans-serif"


def painted(node: Any, palette: Palette) -> Any:
    """Return a copy of a figure with every colour role replaced by the palette's colour.

    Only values under keys that name a colour are touched, so that text is never repainted.
    """
    if isinstance(node, dict):
        return {key: _colour_or_node(key, value, palette) for key, value in node.items()}
    if isinstance(node, (list, tuple)):
        return [painted(item, palette) for item in node]
    return node


def _colour_or_node(key: str, value: Any, palette: Palette) -> Any:
    if key.endswith("color") and isinstance(value, str) and value.startswith("@"):
        return palette[value[1:]]
    return painted(value, palette)


def style_variables(palette: Palette) -> str:
    """Return the palette as CSS custom properties, such as ``--ink:#23211d;``."""
    return "".join(f"--{role}:{colour};" for role, colour in palette.items())
