"""The program makes no finding about an aircraft: the words for one stand in no page, no text and no list of it."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
CLAIMS = re.compile(r"airworth\w*|complian\w*", re.IGNORECASE)
# What a reader gets: pages, scripts, styles, lists. Python is read apart, without comments and docstrings.
READ = {".html", ".txt", ".js", ".css", ".json", ".csv", ".xml", ".svg", ".webmanifest"}
APPS = ("accounts", "archive", "buildlog", "calc", "certification", "config", "evidence", "foundation", "inspections")
APPS += ("journal", "parts", "process")
PLACES = (*APPS, "templates", "static")
# Where such a word may stand, in which text, and why.
ALLOWED = {
    ("certification/rules/drafts.py", "airworth"): "looked for in the builder's own text, to tell him of the right one",
}
# The name of an official paper is no claim of ours, nor is a sentence that says what is not found.
TITLES = re.compile(r"(special|standard|experimental) airworthiness certificate|certificate of airworthiness", re.I)
DENIED = re.compile(r"\b(not|never|nothing|no)\b[^.]{0,60}$", re.I)


def claims(text: str) -> list[str]:
    """The words for a finding in a text that stand neither in the title of a paper nor behind a denial."""
    bare = TITLES.sub("", text)
    return [found[0] for found in CLAIMS.finditer(bare) if not DENIED.search(bare[: found.start()])]


def strings(path: Path) -> list[str]:
    """Every string of a module that is no docstring."""
    tree = ast.parse(path.read_text())
    texts = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    told = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, texts) and node.body and isinstance(node.body[0], ast.Expr)
    }
    found = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and id(node) not in told)
    return [node.value for node in found if isinstance(node.value, str)]


def test_no_text_that_reaches_a_reader_claims_a_finding() -> None:
    found, read = [], 0
    for place in PLACES:
        for path in sorted((ROOT / place).rglob("*")):
            if path.suffix == ".py":
                texts = strings(path)
            elif path.suffix in READ:
                texts = [path.read_text()]
            else:
                continue
            read += 1
            found += [(path.relative_to(ROOT).as_posix(), word) for text in texts for word in claims(text)]
    assert read > 500
    assert [one for one in found if one not in ALLOWED] == []
    assert [one for one in ALLOWED if one not in found] == [], "allowed, and no longer there"


def test_a_claim_is_told_from_a_title_and_a_denial() -> None:
    assert claims("This aircraft is airworthy.") == ["airworthy"]
    assert claims("Shows compliance with the rules, and is Compliant") == ["compliance", "Compliant"]
    assert claims("Not for sale. It is airworthy.") == ["airworthy"]
    assert claims("Special Airworthiness Certificate, Form 8130-7") == []
    assert claims("It does not say that the aircraft is airworthy.") == []
