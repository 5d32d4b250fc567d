"""Every address of the site. Project pages live below the project's slug."""

from django.urls import URLPattern, URLResolver, include, path

project_pages: list[URLPattern | URLResolver] = [
    path("", include("certification.urls")),
    # Before inspections: "assemblies/new/" is no assembly's key.
    path("", include("parts.urls")),
    path("", include("inspections.urls")),
    path("", include("process.urls")),
    path("", include("buildlog.urls")),
    path("", include("evidence.urls")),
]

urlpatterns = [
    path("accounts/", include("allauth.account.urls")),
    path("", include("accounts.urls")),
    path("", include("archive.urls")),
    path("", include("foundation.urls")),
    path("visit/", include("inspections.visitor_urls")),
    path("<slug:slug>/", include(project_pages)),
]
