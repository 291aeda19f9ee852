"""What can be checked of the looks without a browser: contrast, no inline script or style, nothing marked safe."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

WEBUI = Path(__file__).resolve().parents[2] / "webui"
TEMPLATES = sorted((WEBUI / "templates").rglob("*.html"))
CSS = sorted((WEBUI / "static" / "css").glob("*.css"))


def _contrast(one: str, other: str) -> float:
    """WCAG 2 contrast ratio (relative luminance of sRGB)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_itself() -> None:
    """CHECKS §5 [run]: black on white 21.0; #767676 on white 4.54; #777777 4.48; #949494 3.03."""
    pairs = {"#000000": 21.0, "#767676": 4.54, "#777777": 4.48, "#949494": 3.03}
    assert {c: round(_contrast(c, "#ffffff"), 2) for c in pairs} == pairs


def _colours() -> dict[str, str]:
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", (WEBUI / "static" / "css" / "house.css").read_text("utf-8")))


@pytest.mark.parametrize(
    ("front", "back", "least"),
    [
        ("ink", "paper", 7.0), ("ink", "sheet", 7.0), ("ink", "tint", 7.0),
        ("soft", "paper", 4.5), ("soft", "sheet", 4.5),
        ("accent", "paper", 4.5), ("accent", "sheet", 4.5), ("sheet", "accent", 4.5), ("paper", "accent", 4.5),
        ("edge", "paper", 3.0), ("edge", "sheet", 3.0),  # borders of fields and marks: WCAG 2.2, 1.4.11
    ],
)  # fmt: skip
def test_contrast(front: str, back: str, least: float) -> None:
    colours = _colours()
    assert _contrast(colours[front], colours[back]) >= least


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_templates_keep_the_policy(path: Path) -> None:
    text = path.read_text("utf-8")
    assert not re.search(r"\sstyle\s*=", text), "a style attribute breaks the Content-Security-Policy"
    assert not re.search(r"\son\w+\s*=", text), "an inline handler breaks the Content-Security-Policy"
    assert not re.search(r"<script(?![^>]*\bsrc=)", text), "an inline script breaks the Content-Security-Policy"
    assert "<style" not in text
    assert not re.search(r"\|\s*safe\b|autoescape|Markup", text), "data is escaped, always"
    assert not re.search(r"(href|src|action|value|name|id)=\{\{", text), "an unquoted attribute gets through autoescape"
    assert "http:" not in text and "https:" not in text and "//cdn" not in text


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_every_posting_form_carries_its_token(path: Path) -> None:
    for form in re.findall(r"<form\b[^>]*method=\"post\".*?</form>", path.read_text("utf-8"), flags=re.S):
        assert "csrf()" in form or "csrf_token()" in form


def test_styles_and_scripts_fetch_nothing_from_outside() -> None:
    for path in [*CSS, *(WEBUI / "static" / "js").glob("*.js"), *(WEBUI / "static" / "fonts").glob("*.css")]:
        text = path.read_text("utf-8")
        assert "http:" not in text and "https:" not in text and "@import" not in text, path.name
        assert "innerHTML" not in text and "eval(" not in text, path.name


def test_every_font_named_is_here() -> None:
    fonts = WEBUI / "static" / "fonts"
    named = re.findall(r'url\("([^"]+)"\)', (fonts / "fonts.css").read_text("utf-8"))
    assert named
    assert all((fonts / name).is_file() for name in named)
