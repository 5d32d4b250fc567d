"""The look: nothing inline in templates, colors only from tokens, contrast as promised, sound drawing tags."""

import re
from decimal import Decimal
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import get_template
from reportlab.pdfbase.ttfonts import TTFont

from foundation.templatetags import look

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
STYLES = sorted((ROOT / "static" / "css").glob("*.css"))
FONTS = sorted((ROOT / "foundation" / "fonts").glob("*.ttf"))
TOKENS = (ROOT / "static" / "css" / "tokens.css").read_text()
SPRITE = (ROOT / "templates" / "_marks.html").read_text()

TEXT_PAIRS = [
    ("ink", "board"),
    ("ink", "sheet"),
    ("ink", "sheet-inset"),
    ("ink", "sheet-press"),
    ("ink-2", "board"),
    ("ink-2", "sheet"),
    ("ink-3", "board"),
    ("ink-3", "sheet"),
    ("on-action", "action"),
    ("on-action", "action-press"),
    ("red-pencil", "sheet"),
    ("red-pencil", "board"),
    ("red-pencil", "red-wash"),
    ("on-red", "red-pencil"),
    ("amber", "sheet"),
    ("amber", "amber-wash"),
    ("amber-wash", "amber"),
    ("ink", "amber-wash"),
    ("ink", "red-wash"),
    ("stamp", "sheet"),
    ("on-stamp", "stamp"),
    ("timer-ink", "timer-sheet"),
    ("timer-ink-2", "timer-sheet"),
]
EDGE_PAIRS = [
    ("line-ui", "board"),
    ("line-ui", "sheet"),
    ("focus", "board"),
    ("focus", "sheet"),
    ("timer-line", "timer-sheet"),
]


def _colors(block: str) -> dict[str, str]:
    return {name: value.lower() for name, value in re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-fA-F]{6})\b", block)}


def _block(opening: str) -> str:
    start = TOKENS.index(opening)
    return TOKENS[start : TOKENS.index("}", start)]


def _schemes() -> dict[str, dict[str, str]]:
    light = _colors(_block(":root {"))
    dark = light | _colors(_block(':root[data-scheme="dark"] {'))
    more_dark = TOKENS.index("@media (prefers-contrast: more) and (prefers-color-scheme: dark)")
    return {
        "light": light,
        "dark": dark,
        "glare": light | _colors(_block(':root[data-contrast="glare"] {')),
        "glare over dark": dark | _colors(_block(':root[data-contrast="glare"] {')),
        "more contrast, dark": dark | _colors(TOKENS[more_dark : TOKENS.index("}", more_dark)]),
    }


def _luminance(color: str) -> float:
    channels = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(first: str, second: str) -> float:
    dark, light = sorted((_luminance(first), _luminance(second)))
    return (light + 0.05) / (dark + 0.05)


def _names(paths: list[Path]) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


@pytest.mark.parametrize("path", TEMPLATES, ids=_names(TEMPLATES))
def test_template_parses_and_carries_nothing_inline(path: Path) -> None:
    get_template(path.relative_to(ROOT / "templates").as_posix())
    source = path.read_text()
    assert not re.search(r"\sstyle\s*=", source)
    assert not re.search(r"<style\b", source)
    assert not re.search(r"<script(?![^>]*\ssrc=)", source)
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", source)
    assert "hx-on" not in source and "js:" not in source


@pytest.mark.parametrize("path", TEMPLATES, ids=_names(TEMPLATES))
def test_template_uses_only_marks_that_exist(path: Path) -> None:
    symbols = set(re.findall(r'<symbol id="([^"]+)"', SPRITE))
    patterns = set(re.findall(r'<pattern id="([^"]+)"', SPRITE))
    source = path.read_text()
    marks = {look._symbol(name) for name in re.findall(r'{% mark "([^"]+)"', source)}
    marks |= {look._symbol(look.STATE_MARKS.get(name, name)) for name in re.findall(r'{% state "([^"]+)"', source)}
    assert marks <= symbols
    assert set(re.findall(r'href="#((?:m|n|a|t)-[a-z-]+)"', source)) <= symbols
    assert {f"h-{name}" for name in re.findall(r'{% swatch "([^"]+)"', source) if name != "plain"} <= patterns
    assert set(re.findall(r"url\(#(h-[a-z]+)\)", source)) <= patterns


def test_every_state_has_a_mark() -> None:
    for name in look.STATE_WORDS:
        assert f'<symbol id="{look._symbol(look.STATE_MARKS.get(name, name))}"' in SPRITE


@pytest.mark.parametrize("path", STYLES, ids=_names(STYLES))
def test_colors_come_from_tokens(path: Path) -> None:
    source = path.read_text()
    assert "@import" not in source
    if path.name != "tokens.css":
        assert not re.search(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl)a?\(", source)
        used = set(re.findall(r"var\(--([a-z0-9-]+)", source))
        local = set(re.findall(r"--([a-z0-9-]+)\s*:", source)) | {"knock"}
        assert used - local <= set(re.findall(r"--([a-z0-9-]+)\s*:", TOKENS))


def test_every_style_sheet_is_linked_on_all_pages_or_on_those_that_need_it() -> None:
    common = re.findall(r"css/([a-z]+\.css)", (ROOT / "templates" / "_styles.html").read_text())
    assert len(common) == len(set(common))
    linked = {name for path in TEMPLATES for name in re.findall(r"css/([a-z]+\.css)", path.read_text())}
    assert sorted(linked) == [path.name for path in STYLES]


def test_dark_is_the_same_chosen_or_from_the_system() -> None:
    system = TOKENS[TOKENS.index("@media (prefers-color-scheme: dark)") :]
    assert _colors(system[: system.index("}")]) == _colors(_block(':root[data-scheme="dark"] {'))


@pytest.mark.parametrize("scheme", _schemes())
def test_contrast(scheme: str) -> None:
    colors = _schemes()[scheme]
    short = {pair: _contrast(colors[pair[0]], colors[pair[1]]) for pair in TEXT_PAIRS}
    assert {pair: ratio for pair, ratio in short.items() if ratio < 4.5} == {}
    edges = {pair: _contrast(colors[pair[0]], colors[pair[1]]) for pair in EDGE_PAIRS}
    assert {pair: ratio for pair, ratio in edges.items() if ratio < 3} == {}


@pytest.mark.parametrize("path", FONTS, ids=_names(FONTS))
def test_font_can_be_embedded(path: Path) -> None:
    font = TTFont(path.stem, str(path))
    assert all(ord(letter) in font.face.charToGlyph for letter in "N0-DEMO Łódź Škoda 12.5 h ±×°")


def test_fonts_carry_their_licences() -> None:
    assert len(list((ROOT / "static" / "licences").glob("*-OFL.txt"))) == 3
    assert {path.name for path in (ROOT / "foundation" / "fonts").glob("*.txt")} >= {
        "NationalPark-OFL.txt",
        "AtkinsonNext-OFL.txt",
        "AtkinsonMono-OFL.txt",
        "DejaVuSans-LICENCE.txt",
    }
    for name in re.findall(r'url\("\.\./fonts/([^"]+)"\)', (ROOT / "static" / "css" / "fonts.css").read_text()):
        assert (ROOT / "static" / "fonts" / name).is_file()


def test_tags_escape_what_they_are_given() -> None:
    assert "&lt;b&gt;" in look.state("hold", "<b>")
    assert "&lt;b&gt;" in look.balloon("<b>")


def test_state_falls_back_to_its_usual_word() -> None:
    assert look.state("closed").endswith("Closed up</span>")
    assert "#m-missing" in look.state("unsigned")


@pytest.mark.parametrize(("own", "below", "share"), [(41.5, 22, 13), (1, 900, 1), (900, 1, 19), (0, 0, 10)])
def test_chain_keeps_both_pieces_visible(own: float, below: float, share: int) -> None:
    assert look.chain_share(own, below) == share


def test_dimensions_show_exact_figures() -> None:
    html = Template("{% load look %}{% dimensions own below %}").render(
        Context({"own": Decimal("41.5"), "below": Decimal("22")})
    )
    assert "63.5 h" in html and "own 41.5" in html and "below 22.0" in html


def test_bar_stays_inside_its_cell() -> None:
    assert 'width="100.00%"' in look.bar(50, 0, 10)
    assert 'width="0.00%"' in look.bar(5, 0, 0)


@pytest.mark.parametrize("counts", [(61, 15, 8), (200, 1, 2), (1, 0, 0), (0, 0, 3)])
def test_tally_adds_to_the_whole_and_stays_readable(counts: tuple[int, int, int]) -> None:
    widths = look.tally_widths(counts)
    assert sum(widths) == pytest.approx(100)
    assert all(width >= look.TALLY_LEAST - 1e-9 for count, width in zip(counts, widths, strict=True) if count)


def test_seam_says_how_many_are_in_place() -> None:
    bays = [{"number": 1, "in_place": True}, {"number": 2, "in_place": False}]
    html = Template("{% load look %}{% seam bays %}").render(Context({"bays": bays}))
    assert 'aria-label="1 of 2 in place"' in html and '2<span class="only-heard"> missing' in html


def test_stamp_only_for_a_person() -> None:
    drawn = Template('{% load look %}{% stamp "HV" "2 May 2026" "24.1-H1" %}').render(Context())
    empty = Template("{% load look %}{% no_stamp %}").render(Context())
    assert "INSPECTED" in drawn and "Stamp: HV, 24.1-H1, 2 May 2026" in drawn
    assert "not signed" in empty and "INSPECTED" not in empty


@pytest.mark.parametrize(("name", "letters"), [("Hal Venning", "HV"), ("Edda", "E"), ("", ""), ("Tam van Wray", "TW")])
def test_initials(name: str, letters: str) -> None:
    assert look.initials(name) == letters


class _Mix(forms.Form):
    grams = forms.DecimalField(label="Hardener, grams", help_text="As weighed")
    kind = forms.ChoiceField(choices=[("b", "Bonding")], widget=forms.RadioSelect)
    late = forms.BooleanField(required=False)

    def clean(self) -> None:
        self.add_error(None, "Outside its band")


def test_field_ties_hint_and_error_to_the_input() -> None:
    html = str(_Mix({"grams": "x"}))
    assert 'aria-describedby="id_grams_helptext id_grams_error"' in html
    assert 'id="id_grams_helptext"' in html and 'id="id_grams_error"' in html
    assert 'aria-invalid="true"' in html


def test_form_names_its_errors_once_at_the_head() -> None:
    html = str(_Mix({"grams": "x"}))
    assert html.count('id="error-summary"') == 1
    assert html.count("Outside its band") == 1
    assert 'href="#id_grams"' in html


def test_choices_are_drawn_as_labels() -> None:
    html = str(_Mix())
    assert html.count('class="choice"') == 2
    assert "errors" not in html
