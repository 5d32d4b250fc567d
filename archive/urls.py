from django.urls import path

from archive import views

app_name = "archive"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("<slug:slug>/journal/", views.journal, name="journal"),
    path("<slug:slug>/journal/<str:subject>/", views.history, name="history"),
]
