"""Process records of a thing, brought to its page."""

from django.urls import path

from process.views import panels

urlpatterns = [
    path("assemblies/<str:key>/process/", panels.on_assembly, name="on_assembly"),
    path("parts/<str:key>/process/", panels.on_part, name="on_part"),
]
