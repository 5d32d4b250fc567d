"""Our own addresses and the bare view that session posts are measured against."""

from django.contrib.auth.decorators import login_required
from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.urls import path

from config.urls import urlpatterns as ours


@login_required
@transaction.atomic
def bare_row(request: HttpRequest) -> HttpResponse:
    """For the same signed-in account: insert one row and answer."""
    with connection.cursor() as cursor:
        cursor.execute("INSERT INTO bench_row (words) VALUES (%s)", [request.POST["words"]])
    return HttpResponse(status=204)


urlpatterns = [path("bench-row/", bare_row), *ours]
