"""The colors of every picture, each by what it means, on light paper and on dark."""

from __future__ import annotations

import re

PAPER = "#FFFFFF"
INK = "#1B252D"  # words, outlines, what is held still
GRAPHITE = "#505C66"  # second words: units, names of rows
RULE = "#828D95"  # axes, what turns along; never words
TINT = "#E3E8EB"  # field of the spec; carries nothing alone
FLOOR = "#F3F5F7"  # paper, a shade darker
STEEL = "#14507D"  # what acts: drives, was measured, leads
STEEL_WASH = "#D5E4EF"  # oil, sound steel
OCHRE = "#9E4D00"  # care: outside spec, slips; never without a shape and a word
OCHRE_WASH = "#F8E6CF"  # what flickers
WORDS = (INK, GRAPHITE, STEEL, OCHRE)  # colors that letters may have
STROKES = (INK, RULE, STEEL, OCHRE)  # colors that a line may have

DARK = {
    PAPER: "#1A2127", INK: "#E9EDF0", GRAPHITE: "#B0BAC2", RULE: "#7D8A94", TINT: "#2D3841", FLOOR: "#222B32",
    STEEL: "#8CC0EA", STEEL_WASH: "#24394A", OCHRE: "#F2AE62", OCHRE_WASH: "#3B2C19",
}  # fmt: skip
"""Color on light paper -> the same on dark paper, as the pages have them."""

_NAMES = {
    PAPER: "paper", INK: "ink", GRAPHITE: "graphite", RULE: "rule", TINT: "tint", FLOOR: "floor", STEEL: "steel",
    STEEL_WASH: "steel-wash", OCHRE: "ochre", OCHRE_WASH: "ochre-wash",
}  # fmt: skip
_PAINTED = re.compile(r"\b((?:fill|stroke)(?:: |=\"))(#[0-9a-f]{6})\b")
_ROOT = re.compile(r"<svg\b[^>]*>")


def following(drawing: str) -> str:
    """An SVG drawing in the colors above as one that is light on a light page and dark on a dark one.

    An image asks for the color scheme of the element that shows it. Source: W3C, Media Queries Level 5, `prefers-color-scheme`.
    """
    names = {color.lower(): name for color, name in _NAMES.items()}
    named = _PAINTED.sub(
        lambda found: f"{found[1]}var(--{names[found[2]]})" if found[2] in names else found[0], drawing
    )
    light, dark = (
        ";".join(f"--{name}:{of[color]}" for color, name in _NAMES.items())
        for of in ({color: color for color in _NAMES}, DARK)
    )
    style = f"<style>:root{{{light}}}@media (prefers-color-scheme:dark){{:root{{{dark}}}}}</style>"
    return _ROOT.sub(lambda root: root[0] + style, named, count=1)
