"""The pages about projects, people and one's own account; and the door of every page of a project."""

from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from accounts import commands, queries
from accounts.models import Person, Project
from tests.factories import NOW, PASSWORD, client_for, make_person, make_project, make_user

pytestmark = pytest.mark.django_db

DUMMIES = {"IntConverter": 512, "StringConverter": "bcdfghjkmnpqrstv", "SlugConverter": "bcdfghjkmnpqrstv"}


def routes(patterns: list, space: str = "", above: dict | None = None) -> Iterator[tuple[str, dict]]:
    """Every named route of the site with a dummy for each of its values."""
    for pattern in patterns:
        values = (above or {}) | {n: DUMMIES[type(c).__name__] for n, c in pattern.pattern.converters.items()}
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from routes(pattern.url_patterns, inner, values)
        elif isinstance(pattern, URLPattern) and pattern.name:
            yield f"{space}{pattern.name}", values


PROJECT_ROUTES = sorted(
    (name, tuple(values)) for name, values in routes(get_resolver().url_patterns) if "slug" in values
)
VALUES = dict(routes(get_resolver().url_patterns))
PROJECT_ROUTES = sorted(name for name, values in VALUES.items() if "slug" in values)


def address(name: str, project: Project) -> str:
    return reverse(name, kwargs=VALUES[name] | {"slug": project.slug})


def queries_of(client: Client, url: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


# ---- strangers ----


def test_the_walk_over_the_routes_finds_every_app() -> None:
    apps = {name.split(":")[0] for name in PROJECT_ROUTES}
    assert {"accounts", "parts", "inspections", "buildlog", "evidence", "certification", "archive"} <= apps


@pytest.mark.parametrize("name", PROJECT_ROUTES)
def test_a_stranger_does_not_learn_that_a_project_exists(name: str) -> None:
    project, _ = make_project()
    stranger = client_for(make_project("Other", builder="Somebody Else")[1])
    url = address(name, project)
    seen = stranger.get(url).status_code
    assert seen in {404, 405}, f"GET {url}"
    assert stranger.post(url).status_code == 404 or seen == 404, f"POST {url}"
    assert stranger.get(address(name, Project(slug="not-there"))).status_code == seen


@pytest.mark.parametrize("name", PROJECT_ROUTES)
def test_whoever_is_not_signed_in_is_sent_to_sign_in(name: str) -> None:
    project, _ = make_project()
    answer = Client().get(address(name, project))
    assert answer.status_code == 405 or answer.headers["Location"].startswith(reverse("account_login"))


def test_a_withdrawn_member_is_a_stranger() -> None:
    project, builder = make_project()
    jory = make_person(project)
    client = client_for(jory)
    assert client.get(reverse("accounts:people", args=[project.slug])).status_code == 200
    commands.withdraw_person(by=builder, at=NOW, person=jory, reason="Left")
    assert client.get(reverse("accounts:people", args=[project.slug])).status_code == 404


@pytest.mark.parametrize("name", ["person", "person_link", "person_withdraw"])
def test_a_person_of_another_project_is_not_found_here(name: str) -> None:
    _, builder = make_project()
    other, theirs = make_project("Other")
    url = reverse(f"accounts:{name}", args=[builder.project.slug, theirs.pk])
    assert client_for(builder).get(url).status_code == 404
    assert client_for(builder).post(url, {"reason": "x", "name": "x", "role": "reader"}).status_code == 404
    theirs.refresh_from_db()
    assert theirs.name == "Edda Norrell" and not theirs.withdrawn


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
@pytest.mark.parametrize("name", ["person_new", "person", "person_link", "person_withdraw", "project"])
def test_only_the_builder_manages_and_others_are_told_so(role: str, name: str) -> None:
    project, builder = make_project()
    member = client_for(make_person(project, role))
    keys = [builder.pk] if name in {"person", "person_link", "person_withdraw"} else []
    answer = member.post(reverse(f"accounts:{name}", args=[project.slug, *keys]), {"name": "X", "reason": "X"})
    assert answer.status_code == 403
    assert "Only the builder manages the project." in answer.content.decode()


@pytest.mark.parametrize("role", ["builder", "helper", "paid", "inspector", "reader"])
def test_every_member_reads_people_and_identity(role: str) -> None:
    project, builder = make_project()
    member = builder if role == "builder" else make_person(project, role)
    client = client_for(member)
    for name, keys in (("people", []), ("person", [builder.pk]), ("project", [])):
        page = client.get(reverse(f"accounts:{name}", args=[project.slug, *keys]))
        assert page.status_code == 200
        assert ("Save" in page.content.decode()) == (role == "builder" and name != "people")


# ---- projects ----


def test_one_project_opens_at_once() -> None:
    project, builder = make_project()
    answer = client_for(builder).get("/")
    assert answer.headers["Location"] == reverse("inspections:shop", args=[project.slug])


def test_several_projects_are_listed_and_no_others() -> None:
    _, builder = make_project("Tarnwader 2")
    make_project("Heron skiff", user=builder.user)
    make_project("Not mine")
    page = client_for(builder).get("/").content.decode()
    assert "Tarnwader 2" in page and "Heron skiff" in page and "Not mine" not in page


def test_without_a_project_the_page_offers_to_start_one() -> None:
    client = Client()
    client.force_login(make_user("newcomer"))
    page = client.get("/").content.decode()
    assert reverse("accounts:new_project") in page and "newcomer" in page


def identity(**changed: str) -> dict[str, str]:
    return {
        "name": "Tarnwader 2",
        "builder": "Edda Norrell",
        "registration": "N0-DEMO",
        "serial_number": "001",
        "authority": "CA",
        "units": "us",
        "time_zone": "America/Denver",
        "started_on": "2024-02-29",
    } | changed


def test_a_project_is_started_from_its_identity() -> None:
    client = Client()
    client.force_login(make_user())
    answer = client.post(reverse("accounts:new_project"), identity())
    project = Project.objects.get()
    assert answer.headers["Location"] == reverse("parts:assemblies", args=[project.slug])
    assert (project.slug, project.serial_number, project.units, str(project.started_on)) == (
        "tarnwader-2",
        "001",
        "us",
        "2024-02-29",
    )
    assert project.people.get().name == "Edda Norrell"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", ""),
        ("builder", " "),
        ("time_zone", ""),
        ("time_zone", "Moon/Rille"),
        ("authority", "XX"),
        ("started_on", "2025-02-29"),
    ],
)
def test_a_bad_identity_is_told_at_its_field_and_starts_nothing(field: str, value: str) -> None:
    client = Client()
    client.force_login(make_user())
    answer = client.post(reverse("accounts:new_project"), identity(**{field: value}))
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert not Project.objects.exists()


def test_the_form_says_what_each_authority_does_and_which_edition() -> None:
    client = Client()
    client.force_login(make_user())
    page = client.get(reverse("accounts:new_project")).content.decode()
    assert "may not be closed" in page and "closed with a reason" in page
    assert f"edition {queries.authorities()['US'].edition}" in page


def test_the_identity_is_corrected_and_the_page_shows_the_old_value_struck() -> None:
    project, builder = make_project(serial_number="1")
    client = client_for(builder)
    url = reverse("accounts:project", args=[project.slug])
    client.post(url, identity(reason="As on the plate"))
    page = client.get(url).content.decode()
    assert "<del>1</del>" in page and "<ins>001</ins>" in page and "Reason: As on the plate" in page


def test_a_zone_that_is_no_longer_offered_stays_when_the_identity_is_corrected() -> None:
    project, builder = make_project(time_zone="US/Mountain")
    answer = client_for(builder).post(
        reverse("accounts:project", args=[project.slug]), identity(time_zone="US/Mountain")
    )
    assert answer.status_code == 302


# ---- people ----


def test_a_person_is_added_corrected_and_withdrawn_by_pages() -> None:
    project, builder = make_project()
    client = client_for(builder)
    values = {
        "name": "Hal Venning",
        "role": "inspector",
        "certificate_kind": "A&P mechanic",
        "certificate_number": "DEMO-0417",
    }
    client.post(reverse("accounts:person_new", args=[project.slug]), values)
    hal = Person.objects.get(name="Hal Venning")
    url = reverse("accounts:person", args=[project.slug, hal.pk])
    client.post(url, values | {"certificate_number": "DEMO-0418", "reason": "Misread"})
    page = client.get(url).content.decode()
    assert "<del>DEMO-0417</del>" in page and "<ins>DEMO-0418</ins>" in page and "Misread" in page
    leave = reverse("accounts:person_withdraw", args=[project.slug, hal.pk])
    assert client.get(leave).status_code == 200
    assert client.post(leave, {"reason": ""}).status_code == 422
    assert client.post(leave, {"reason": "Retired"}).status_code == 302
    assert client.get(url).status_code == 404
    assert "Hal Venning" in client.get(reverse("accounts:people", args=[project.slug])).content.decode()


def test_a_refusal_stands_on_the_page_that_asked() -> None:
    project, builder = make_project()
    client = client_for(builder)
    answer = client.post(
        reverse("accounts:person_new", args=[project.slug]), {"name": "edda norrell", "role": "helper"}
    )
    assert answer.status_code == 422 and "already on this project" in answer.content.decode()
    answer = client.post(reverse("accounts:person_withdraw", args=[project.slug, builder.pk]), {"reason": "x"})
    assert answer.status_code == 422 and "needs a builder" in answer.content.decode()


def test_a_builder_who_takes_himself_off_is_not_sent_to_a_page_that_is_shut() -> None:
    project, builder = make_project()
    make_person(project, "builder")
    client = client_for(builder)
    answer = client.post(
        reverse("accounts:person_withdraw", args=[project.slug, builder.pk]), {"reason": "Sold"}, follow=True
    )
    assert answer.status_code == 200


def test_the_people_page_costs_the_same_for_one_and_for_many() -> None:
    project, builder = make_project()
    client, url = client_for(builder), reverse("accounts:people", args=[project.slug])
    one = queries_of(client, url)
    for _ in range(3):
        make_person(project)
    assert queries_of(client, url) == one


def test_the_project_list_costs_the_same_for_two_and_for_many() -> None:
    _, builder = make_project()
    make_project("Second", user=builder.user)
    client = client_for(builder)
    two = queries_of(client, "/")
    for name in ("Third", "Fourth", "Fifth"):
        make_project(name, user=builder.user)
    assert queries_of(client, "/") == two <= 3


# ---- links ----


def give_link(username: str = "tam") -> tuple[Project, str]:
    """A link to a new account, taken from the page that shows it once."""
    project, builder = make_project()
    tam = make_person(project, name="Tam Wray", account=False)
    page = client_for(builder).post(
        reverse("accounts:person_link", args=[project.slug, tam.pk]), {"username": username}
    )
    return project, page.context["address"]


def test_the_page_of_a_new_link_shows_it_once_as_text_and_code() -> None:
    project, builder = make_project()
    tam = make_person(project, name="Tam Wray", account=False)
    client, url = client_for(builder), reverse("accounts:person_link", args=[project.slug, tam.pk])
    made = client.post(url, {"username": "tam"})
    page = made.content.decode()
    assert made.context["address"] in page and 'aria-label="The sign-in link as a QR code"' in page
    assert "style=" not in page and "no-store" in made.headers["Cache-Control"]
    assert made.context["address"].split("/in/")[1] not in client.get(url).content.decode()


def test_looking_at_a_link_does_not_use_it_up() -> None:
    _, link = give_link()
    for _ in range(3):
        assert Client().get(link).status_code == 200
        assert Client().head(link).status_code == 200
    assert Client().post(link).status_code == 302


def test_a_link_signs_in_once_and_then_says_what_to_do() -> None:
    _, link = give_link()
    first, second = Client(), Client()
    assert first.post(link).headers["Location"] == reverse("accounts:password")
    assert first.get("/").status_code == 302
    for answer in (second.post(link), second.get(link)):
        assert answer.status_code == 410 and "Ask the builder for a new one" in answer.content.decode()
    assert second.get("/").headers["Location"].startswith(reverse("account_login"))


def test_a_link_keeps_the_phone_signed_in_for_months() -> None:
    _, link = give_link()
    client = Client()
    client.post(link)
    assert client.session.get_expiry_age() > 100 * 24 * 3600


def test_a_link_that_never_was_is_gone_too() -> None:
    assert Client().get(reverse("accounts:enter", args=["x" * 32])).status_code == 410


def test_after_a_link_a_password_is_chosen_and_works() -> None:
    _, link = give_link()
    client = Client()
    client.post(link)
    answer = client.post(
        reverse("accounts:password"), {"new_password1": PASSWORD, "new_password2": PASSWORD}, follow=True
    )
    assert answer.status_code == 200 and answer.context["user"].username == "tam"
    assert Client().login(username="tam", password=PASSWORD)


@pytest.mark.parametrize(
    ("first", "second"), [("short", "short"), (PASSWORD, PASSWORD + "x"), ("password123", "password123")]
)
def test_a_poor_password_is_refused(first: str, second: str) -> None:
    _, link = give_link()
    client = Client()
    client.post(link)
    assert (
        client.post(reverse("accounts:password"), {"new_password1": first, "new_password2": second}).status_code == 422
    )


def test_a_password_can_be_left_for_later() -> None:
    project, link = give_link()
    client = Client()
    client.post(link)
    assert client.get("/").headers["Location"] == reverse("inspections:shop", args=[project.slug])


def test_a_password_is_not_replaced_without_the_old_one_in_an_ordinary_session() -> None:
    _, builder = make_project()
    client = client_for(builder)
    url = reverse("accounts:password")
    assert client.post(url, {"new_password1": "x" * 20, "new_password2": "x" * 20}).headers["Location"] == reverse(
        "account_change_password"
    )
    builder.user.refresh_from_db()
    assert builder.user.check_password(PASSWORD)


def test_a_forgotten_password_is_replaced_after_a_link_but_only_once() -> None:
    _, builder = make_project()
    token = commands.make_sign_in_link(user=builder.user, at=NOW.replace(year=2099))
    client = Client()
    assert client.post(reverse("accounts:enter", args=[token])).headers["Location"] == reverse("accounts:projects")
    new, url = "fresh cedar strips", reverse("accounts:password")
    assert client.post(url, {"new_password1": new, "new_password2": new}).headers["Location"] == reverse(
        "accounts:projects"
    )
    assert client.post(url, {"new_password1": new, "new_password2": new}).headers["Location"] == reverse(
        "account_change_password"
    )


def test_a_link_warns_when_it_opens_on_this_computer_only() -> None:
    project, builder = make_project()
    jory, client = make_person(project), client_for(builder)
    url = reverse("accounts:person_link", args=[project.slug, jory.pk])
    assert "this computer only" in client.post(url, headers={"host": "127.0.0.1:8000"}).content.decode()
    assert "this computer only" not in client.post(url, headers={"host": "192.0.2.7:8000"}).content.decode()


def test_an_existing_account_is_seated_by_the_page_without_a_link() -> None:
    make_user("tam")
    project, builder = make_project()
    tam = make_person(project, name="Tam Wray", account=False)
    url = reverse("accounts:person_link", args=[project.slug, tam.pk])
    assert client_for(builder).post(url, {"username": "tam"}).status_code == 422
    answer = client_for(builder).post(url, {"username": "tam", "existing": "on"})
    assert answer.headers["Location"] == reverse("accounts:person", args=[project.slug, tam.pk])


# ---- display ----


def test_the_display_is_kept_on_the_device_without_script() -> None:
    _, builder = make_project()
    client, url = client_for(builder), reverse("accounts:settings")
    client.post(url, {"scheme": "dark", "glare": "on"})
    kept = client.cookies["scheme"]
    assert (kept.value, kept["samesite"], kept["max-age"]) == ("dark", "Lax", 400 * 24 * 3600)
    page = client.get(url).content.decode()
    assert 'data-scheme="dark"' in page and 'data-contrast="glare"' in page
    client.post(url, {"scheme": "device"})
    page = client.get(url).content.decode()
    assert "data-scheme" not in page and "data-contrast" not in page


def test_a_scheme_that_does_not_exist_is_refused() -> None:
    _, builder = make_project()
    assert client_for(builder).post(reverse("accounts:settings"), {"scheme": "pink"}).status_code == 422


def test_a_sign_in_is_renewed_once_a_day_of_use():
    project, edda = make_project()
    client = client_for(edda)
    session = client.session
    session["renewed"] = "2026-01-01"
    session.save()
    first = client.get(reverse("accounts:people", args=[project.slug]))
    assert first.cookies["sessionid"]["max-age"] == 182 * 24 * 3600
    assert "sessionid" not in client.get(reverse("accounts:people", args=[project.slug])).cookies
