from django.urls import path

from archive import views

app_name = "archive"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("<slug:slug>/health/check/", views.check_new, name="check_new"),
    path("<slug:slug>/health/<slug:key>/", views.check, name="check"),
    path("<slug:slug>/health/<slug:key>/report.txt", views.check_report, name="check_report"),
    path("<slug:slug>/journal/", views.journal, name="journal"),
    path("<slug:slug>/journal/<str:subject>/", views.history, name="history"),
]
