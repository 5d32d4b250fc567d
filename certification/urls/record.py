"""The builder's record and where a photo stands in it."""

from django.urls import path

from certification.views import record as views

urlpatterns = [
    path("photos/<slug:key>/uses/", views.photo_uses, name="photo_uses"),
    path("record/", views.record, name="record"),
    path("record/new/", views.record_new, name="record_new"),
    path("record/signing-key/", views.signing_key, name="signing_key"),
    path("record/<str:key>/", views.pack, name="pack"),
    path("record/<str:key>/again/", views.pack_again, name="pack_again"),
    path("record/<str:key>/sign/", views.pack_sign, name="pack_sign"),
    path("record/<str:key>/builders-record.pdf", views.pack_file, name="pack_file"),
]
