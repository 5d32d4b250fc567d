"""Addresses of the pages that a visitor opens by his link. Whatever else is asked for gets the one answer."""

from django.urls import path, re_path

from inspections.views import visitor

app_name = "visitor"
urlpatterns = [
    path("<str:token>/open/", visitor.opened, name="open"),
    path("<str:token>/record/", visitor.home, name="home"),
    path("<str:token>/sign/", visitor.sign, name="sign"),
    path("<str:token>/look/", visitor.look, name="look"),
    path("<str:token>/end/", visitor.end, name="end"),
    path("<str:token>/photos/<slug:key>/", visitor.photo, name="photo"),
    path("<str:token>/photos/<slug:key>/<int:size>.jpg", visitor.rendition, name="rendition"),
    path("<str:token>/<str:kind>/<slug:key>/", visitor.thing, name="thing"),
    path("<str:token>/<str:kind>/<slug:key>/remark/", visitor.remark, name="remark"),
    re_path(r"^(?P<token>[^/]+)/?$", visitor.cover, name="cover"),
    re_path(r"", visitor.nothing, name="nothing"),
]
