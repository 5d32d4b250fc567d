"""Photos of process records of every kind."""

from django.urls import path

from process.views import shots

urlpatterns = [
    path("process/<str:kind>/<str:key>/photos/", shots.add, name="shots_add"),
    path("process/<str:kind>/<str:key>/photos/<str:shot>/away/", shots.away, name="shots_away"),
]
