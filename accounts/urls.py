"""Pages without a project, then the pages about a project itself and its people."""

from django.urls import path

from accounts import views

app_name = "accounts"

urlpatterns = [
    path("", views.projects, name="projects"),
    path("projects/new/", views.new_project, name="new_project"),
    path("in/<str:token>/", views.enter, name="enter"),
    path("settings/", views.own_settings, name="settings"),
    path("settings/password/", views.password, name="password"),
    path("<slug:slug>/people/", views.people, name="people"),
    path("<slug:slug>/people/new/", views.person_new, name="person_new"),
    path("<slug:slug>/people/<str:key>/", views.person, name="person"),
    path("<slug:slug>/people/<str:key>/link/", views.person_link, name="person_link"),
    path("<slug:slug>/people/<str:key>/withdraw/", views.person_withdraw, name="person_withdraw"),
    path("<slug:slug>/app.webmanifest", views.manifest, name="manifest"),
    path("<slug:slug>/project/", views.project, name="project"),
]
