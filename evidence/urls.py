"""Addresses of photos, below a project."""

from django.urls import path

from evidence import views

app_name = "evidence"
urlpatterns = [
    path("photos/", views.photos, name="photos"),
    path("photos/<slug:key>/", views.photo, name="photo"),
    path("photos/<slug:key>/edit/", views.photo_edit, name="photo_edit"),
    path("photos/<slug:key>/time/", views.photo_time, name="photo_time"),
    path("photos/<slug:key>/withdraw/", views.photo_withdraw, name="photo_withdraw"),
    path("photos/<slug:key>/restore/", views.photo_restore, name="photo_restore"),
    path("photos/<slug:key>/place/", views.photo_place, name="photo_place"),
    path("photos/<slug:key>/unplace/<slug:placement>/", views.photo_unplace, name="photo_unplace"),
    path("photos/<slug:key>/original/", views.original, name="original"),
    path("photos/<slug:key>/<int:size>.jpg", views.rendition, name="rendition"),
]
