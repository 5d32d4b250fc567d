"""The house holds: import arrows, relations between models, and writes only where they belong."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db.models import ForeignKey, ManyToManyField

ROOT = Path(__file__).parent.parent
STOREYS = ["journal", "accounts", "parts", "evidence", "buildlog", "process", "inspections", "certification", "archive"]
KINDS = {"root", "part", "derived", "access", "delivery", "journal"}
OURS = [model for model in apps.get_models() if model._meta.app_label in STOREYS]

WRITES = {
    *("save", "create", "get_or_create", "update_or_create", "bulk_create", "bulk_update"),
    *("asave", "acreate", "aupdate", "adelete"),
}
QUERYSET_WRITES = {"update", "delete"}
ROOMS_THAT_WRITE = {"commands.py", "migrations", "commands"}
# Derived rows that their makers may mark: whether a rendition or a file has been drawn.
MAKERS = {"archive/tasks.py", "evidence/tasks.py", "certification/tasks.py"}
# `save` of a picture or a document is not a write to the database.
DRAWING = {"evidence/renditions.py", "certification/pages", "inspections/pages"}


def test_import_contracts_hold() -> None:
    answer = subprocess.run(
        [Path(sys.executable).with_name("lint-imports")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert answer.returncode == 0, answer.stdout[-3000:]


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)
def test_a_relation_points_down_or_stays_at_home(model) -> None:
    here = STOREYS.index(model._meta.app_label)
    for field in model._meta.get_fields():
        if not isinstance(field, ForeignKey | ManyToManyField) or field.related_model._meta.app_label not in STOREYS:
            continue
        there = STOREYS.index(field.related_model._meta.app_label)
        assert there <= here, f"{model._meta.label}.{field.name} points up to {field.related_model._meta.label}"
        if there != here:
            assert field.remote_field.related_name == "+", f"{model._meta.label}.{field.name} gives a way up"


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)
def test_every_model_says_what_kind_of_record_it_is(model) -> None:
    assert model.RECORD in KINDS


@pytest.mark.parametrize(
    "model", [m for m in OURS if m.RECORD in {"root", "part"}], ids=lambda model: model._meta.label
)
def test_no_field_hides_what_every_record_says_of_itself(model) -> None:
    assert not {"subject", "state", "held"} & {field.name for field in model._meta.get_fields()}


@pytest.mark.parametrize("model", [m for m in OURS if m.RECORD == "root"], ids=lambda model: model._meta.label)
def test_every_root_row_belongs_to_a_project(model) -> None:
    names = {field.name for field in model._meta.get_fields()}
    assert "project" in names or model._meta.label == "accounts.Project"


@pytest.mark.parametrize("model", [m for m in OURS if m.RECORD == "part"], ids=lambda model: model._meta.label)
def test_every_part_stands_in_the_state_of_a_root(model) -> None:
    holders = [m for m in OURS for name in m.PARTS if m._meta.get_field(name).related_model is model]
    assert holders, f"{model._meta.label} belongs to no root's PARTS: its rows would be missing from the journal"


def sources() -> Iterator[Path]:
    for app in [*STOREYS, "foundation", "config"]:
        yield from sorted((ROOT / app).rglob("*.py"))


def writes_in(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Calls that write rows: method calls by name; update and delete on what looks like a queryset."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        name, owner = node.func.attr, ast.unparse(node.func.value)
        if name in WRITES or (
            name in QUERYSET_WRITES and ("objects" in owner or "filter(" in owner or "exclude(" in owner)
        ):
            yield node.lineno, f"{owner}.{name}"


def may_write(path: Path) -> bool:
    inside = path.relative_to(ROOT)
    return bool(set(inside.parts) & ROOMS_THAT_WRITE) and "management" not in inside.parts


def test_rows_are_written_in_commands_only() -> None:
    found = []
    for path in sources():
        inside = path.relative_to(ROOT).as_posix()
        if may_write(path) or inside in MAKERS or any(inside.startswith(place) for place in DRAWING):
            continue
        for line, call in writes_in(ast.parse(path.read_text())):
            if not allowed(inside, call):
                found.append(f"{inside}:{line} {call}")
    assert not found, "\n".join(found)


def allowed(inside: str, call: str) -> bool:
    """Writes that are not rows of the record: pictures of the demo, demo accounts, the worker's own queue."""
    return (
        (inside.startswith("config/demo/") and call.endswith(".save"))
        or (inside.startswith("config/demo/") and "create_user" in call)
        or (inside == "config/management/commands/worker.py")
        or (inside == "config/bench" or inside.startswith("config/bench/"))
    )


@pytest.mark.parametrize("where", sorted(MAKERS))
def test_makers_mark_only_derived_fields(where: str) -> None:
    app = where.split("/")[0]
    own = [model for model in OURS if model._meta.app_label == app]
    apart = {name for model in own for name in model.APART}
    apart |= {field.name for model in own if model.RECORD == "derived" for field in model._meta.concrete_fields}
    for node in ast.walk(ast.parse((ROOT / where).read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "update":
            assert {keyword.arg for keyword in node.keywords} <= apart


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_requirements_name_no_address_and_carry_hashes() -> None:
    for name in ("requirements.txt", "requirements-signing.txt", "requirements-test.txt"):
        text = (ROOT / name).read_text()
        assert "://" not in text
        pins = [block for block in text.replace("\\\n", " ").splitlines() if "==" in block]
        assert pins and all("--hash=sha256:" in pin for pin in pins)


def test_nothing_committed_names_this_machine() -> None:
    answer = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    for name in answer.stdout.splitlines():
        path = ROOT / name
        if (
            path.suffix in {".py", ".md", ".html", ".css", ".js", ".toml", ".txt", ".sh", ".json", ""}
            and path.is_file()
        ):
            text = path.read_text(errors="replace")
            assert "/work/" + "main" not in text, name
            assert "pyenv/" + "versions" not in text, name
