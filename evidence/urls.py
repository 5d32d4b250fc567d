"""Addresses of photos, below a project."""

from django.urls import path

from evidence.views import bulk, compare, files, marks, photos, placed, receiving

app_name = "evidence"
urlpatterns = [
    path("photos/", receiving.photos, name="photos"),
    path("photos/bulk/", bulk.bulk, name="bulk"),
    path("photos/compare/", compare.compare, name="compare"),
    path("photos/of/<slug:key>/", placed.photos_of, name="photos_of"),
    path("photos/<slug:key>/", photos.photo, name="photo"),
    path("photos/<slug:key>/caption/", photos.photo_caption, name="photo_caption"),
    path("photos/<slug:key>/marks/", marks.photo_marks, name="photo_marks"),
    path("photos/<slug:key>/marked.jpg", marks.marked_copy, name="marked_copy"),
    path("photos/<slug:key>/edit/", photos.photo_edit, name="photo_edit"),
    path("photos/<slug:key>/time/", photos.photo_time, name="photo_time"),
    path("photos/<slug:key>/withdraw/", photos.photo_withdraw, name="photo_withdraw"),
    path("photos/<slug:key>/restore/", photos.photo_restore, name="photo_restore"),
    path("photos/<slug:key>/place/", photos.photo_place, name="photo_place"),
    path("photos/<slug:key>/unplace/<slug:placement>/", photos.photo_unplace, name="photo_unplace"),
    path("photos/<slug:key>/original/", files.original, name="original"),
    path("photos/<slug:key>/play/", files.play, name="play"),
    path("photos/<slug:key>/<int:size>.jpg", files.rendition, name="rendition"),
]
