"""Pages about projects, people and one's own account."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.cache import never_cache

from accounts import commands, pages, queries
from accounts.access import SeatedRequest, SignedInRequest, for_member
from accounts.forms import (
    AccountForm,
    CorrectPersonForm,
    CorrectProjectForm,
    DisplayForm,
    NewLinkForm,
    NewProjectForm,
    PasswordForm,
    PersonForm,
    PlainForm,
    WithdrawForm,
    values_of,
)
from accounts.models import Person
from foundation.answer import answer
from foundation.refusal import Refusal
from journal.queries.story import told

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"
# When this session came in by a link, as a time stamp: for an hour a forgotten password can be replaced.
ENTERED = "entered_by_link"
FORGOTTEN_FOR = timedelta(hours=1)
# Browsers keep no cookie longer than 400 days.
COOKIE_DAYS = 400
AS_DEVICE = "device"


@login_required
def projects(request: SignedInRequest) -> HttpResponse:
    """The projects of the account; somebody with one project goes straight into its shop."""
    seats = queries.seats_of(request.user)
    if len(seats) == 1:
        return redirect("inspections:shop", seats[0].project.slug)
    return render(request, "accounts/projects.html", {"seats": seats})


@login_required
def new_project(request: SignedInRequest) -> HttpResponse:
    """Open the record of an aircraft."""
    form = NewProjectForm(request.POST or None, initial={"builder": request.user.get_full_name()})
    if request.method == "POST" and form.is_valid():
        try:
            project, _ = commands.found_project(user=request.user, at=timezone.now(), **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"The record of {project.name} is open. Put in the first assembly.")
            return redirect("parts:assemblies", project.slug)
    return answer(request, "accounts/new_project.html", {"form": form}, forms=(form,))


@never_cache
def enter(request: HttpRequest, token: str) -> HttpResponse:
    """Sign in by a link. Looking does not use it up, because messengers look at links before people do."""
    at = timezone.now()
    if request.method != "POST":
        stands = queries.link_stands(token, at)
        return render(
            request, "accounts/enter.html" if stands else "accounts/link_spent.html", status=200 if stands else 410
        )
    try:
        user = commands.use_sign_in_link(token=token, at=at)
    except Refusal:
        return render(request, "accounts/link_spent.html", status=410)
    login(request, user, backend=BACKEND)
    request.session[ENTERED] = at.timestamp()
    return redirect("accounts:projects" if user.has_usable_password() else "accounts:password")


def may_choose_password(request: SignedInRequest) -> bool:
    """Whether the old password need not be given: there is none, or a link was used within the hour."""
    entered = request.session.get(ENTERED, 0)
    fresh = timezone.now().timestamp() - entered < FORGOTTEN_FOR.total_seconds()
    return not request.user.has_usable_password() or fresh


@login_required
@never_cache
def password(request: SignedInRequest) -> HttpResponse:
    """Choose a password without giving an old one."""
    if not may_choose_password(request):
        return redirect("account_change_password")
    form = PasswordForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        commands.choose_password(user=request.user, password=form.cleaned_data["new_password1"])
        update_session_auth_hash(request, request.user)
        request.session.pop(ENTERED, None)
        messages.success(request, f"Password chosen. Next time you sign in as {request.user.username} with it.")
        return redirect("accounts:projects")
    return answer(request, "accounts/password.html", {"form": form}, forms=(form,))


@login_required
def own_settings(request: SignedInRequest) -> HttpResponse:
    """How pages look on this device, and the account."""
    shown = {"scheme": request.COOKIES.get("scheme", AS_DEVICE), "glare": request.COOKIES.get("contrast") == "glare"}
    form = DisplayForm(request.POST or None, initial=shown)
    if request.method == "POST" and form.is_valid():
        messages.success(request, "Saved for this device.")
        response = redirect("accounts:settings")
        keep_cookie(response, "scheme", form.cleaned_data["scheme"].replace(AS_DEVICE, ""))
        keep_cookie(response, "contrast", "glare" if form.cleaned_data["glare"] else "")
        return response
    context = {"form": form, "may_choose_password": may_choose_password(request)}
    return answer(request, "accounts/settings.html", context, forms=(form,))


def keep_cookie(response: HttpResponse, name: str, value: str) -> None:
    """Keep a choice on this device, or forget it when it is empty."""
    if not value:
        response.delete_cookie(name, samesite="Lax")
        return
    age = COOKIE_DAYS * 24 * 3600
    response.set_cookie(name, value, max_age=age, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE, httponly=True)


@for_member("read")
def people(request: SeatedRequest, slug: str) -> HttpResponse:
    """Everybody who had a part in this aircraft."""
    project = request.seat.project
    context = {"people": queries.people(project).select_related("user"), "gone": queries.gone_people(project)}
    return render(request, "accounts/people.html", context)


@for_member("manage")
def person_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Put somebody into the record."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        seat = request.seat
        try:
            person = commands.add_person(by=seat.person, at=timezone.now(), project=seat.project, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{person.name} is on the project, without an account so far.")
            return redirect("accounts:person", slug, person.pk)
    return answer(request, "accounts/person_new.html", {"form": form}, forms=(form,))


def one_person(request: SeatedRequest, key: str) -> Person:
    """A standing person of the project at hand, or 404."""
    return get_object_or_404(queries.people(request.seat.project).select_related("user", "project"), pk=key)


@for_member("read", post="manage")
def person(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One person: facts, history, and for the builder the form to correct them."""
    person = one_person(request, key)
    form = CorrectPersonForm(request.POST or None, initial=values_of(person, CorrectPersonForm))
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_person(by=request.seat.person, at=timezone.now(), person=person, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{person.name} is corrected. The old values stay in the history.")
            return redirect("accounts:person", slug, person.pk)
    person = one_person(request, key)
    context = {"person": person, "form": form, "history": told(person.project_id, person.subject)}
    return answer(request, "accounts/person.html", context, forms=(form,))


@for_member("manage")
def person_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a person off the project, with a reason."""
    person, seat = one_person(request, key), request.seat
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_person(by=seat.person, at=timezone.now(), person=person, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{person.name} is off the project. The record still names them.")
            return redirect("accounts:projects") if person == seat.person else redirect("accounts:people", slug)
    return answer(request, "accounts/person_withdraw.html", {"person": person, "form": form}, forms=(form,))


@for_member("manage")
@never_cache
def person_link(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Give a person an account, or a new link to the one there is. The link is shown this once."""
    person = one_person(request, key)
    form = link_form(request, person)
    if request.method == "POST" and form.is_valid():
        try:
            return link_given(request, person, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
    person = one_person(request, key)
    return answer(request, "accounts/person_link.html", {"person": person, "form": form}, forms=(form,))


def link_form(request: HttpRequest, person: Person) -> PlainForm:
    """The form that fits: a user name for a first account, only a button after that."""
    data = request.POST if request.method == "POST" else None
    if person.user_id:
        return NewLinkForm(data)
    return AccountForm(data, initial={"username": slugify(person.name.split()[0])})


def link_given(request: SeatedRequest, person: Person, username: str = "", existing: bool = False) -> HttpResponse:
    """Carry out what the link form asks for."""
    who: dict[str, Any] = {"by": request.seat.person, "at": timezone.now(), "person": person}
    if existing:
        user = commands.join_account(username=username, **who)
        messages.success(request, f"{person.name} opens this project with the account {user.username}.")
        return redirect("accounts:person", request.seat.project.slug, person.pk)
    user, token = commands.give_account(username=username, **who)
    address = request.build_absolute_uri(reverse("accounts:enter", args=[token]))
    context = {
        "person": person,
        "user_name": user.username,
        "address": address,
        "code": pages.draw_code(address),
        "days": commands.LINK_DAYS,
        "only_here": request.get_host().split(":")[0] in {"localhost", "127.0.0.1"},
    }
    return render(request, "accounts/person_link_given.html", context)


@for_member("read")
def manifest(request: SeatedRequest, slug: str) -> JsonResponse:
    """What a phone needs to put the project on its home screen."""
    told = pages.app_manifest(
        request.seat.project.name,
        home=reverse("inspections:shop", args=[slug]),
        capture=reverse("buildlog:capture", args=[slug]),
        kept=reverse("buildlog:kept", args=[slug]),
    )
    return JsonResponse(told, content_type="application/manifest+json")


@for_member("read", post="manage")
def project(request: SeatedRequest, slug: str) -> HttpResponse:
    """The identity of the aircraft, and for the builder the form to correct it."""
    project = request.seat.project
    form = CorrectProjectForm(request.POST or None, initial=values_of(project, CorrectProjectForm))
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_project(by=request.seat.person, at=timezone.now(), project=project, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, "The identity is corrected. The old values stay in the history.")
            return redirect("accounts:project", slug)
    context = {
        "project": project,
        "authority": queries.authority_of(project),
        "form": form,
        "history": told(project.pk, project.subject, values=queries.authority_names()),
    }
    return answer(request, "accounts/project.html", context, forms=(form,))
