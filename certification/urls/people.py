"""Who built what."""

from django.urls import path

from certification.views import people as views

urlpatterns = [
    path("who-built-it/", views.people, name="people"),
    path("who-built-it/<str:key>/", views.person_evidence, name="person_evidence"),
]
