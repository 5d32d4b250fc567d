"""Pages that follow material from lots to parts and back, and tell the story of a part."""

from django.urls import path

from process.views import trace

urlpatterns = [
    path("where-used/<str:kind>/<str:key>/", trace.where_used, name="where_used"),
    path("contents/<str:kind>/<str:key>/", trace.contents, name="contents"),
    path("parts/<str:key>/story/", trace.part_story, name="part_story"),
]
