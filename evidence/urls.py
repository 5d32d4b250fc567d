"""Addresses of photos, below a project."""

from django.urls import path

from evidence.views import bulk, compare, documents, files, marks, photos, placed, receiving

app_name = "evidence"
urlpatterns = [
    path("documents/", documents.documents, name="documents"),
    path("documents/new/", documents.document_new, name="document_new"),
    path("documents/of/<slug:key>/", documents.documents_of, name="documents_of"),
    path("documents/<slug:key>/", documents.document, name="document"),
    path("documents/<slug:key>/file/", documents.document_file, name="document_file"),
    path("documents/<slug:key>/edit/", documents.document_edit, name="document_edit"),
    path("documents/<slug:key>/place/", documents.document_place, name="document_place"),
    path("documents/<slug:key>/unplace/<slug:place>/", documents.document_unplace, name="document_unplace"),
    path("documents/<slug:key>/withdraw/", documents.document_withdraw, name="document_withdraw"),
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
