"""Addresses that stand for the whole site."""

from django.urls import path

from foundation import offline

app_name = "foundation"
urlpatterns = [
    path("sw.js", offline.worker, name="worker"),
    path("offline/", offline.offline, name="offline"),
]
