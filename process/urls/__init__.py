"""Pages below a project about how things were made and checked. Each noun lists its own in a module of its name."""

from django.urls import URLPattern, URLResolver

from process.urls import bonds, checks, cures, layups, mixes, own, panels, shots, tools, trace

app_name = "process"

urlpatterns: list[URLPattern | URLResolver] = [
    *shots.urlpatterns,
    *layups.urlpatterns,
    *mixes.urlpatterns,
    *own.urlpatterns,
    *cures.urlpatterns,
    *bonds.urlpatterns,
    *checks.urlpatterns,
    *tools.urlpatterns,
    *trace.urlpatterns,
    *panels.urlpatterns,
]
