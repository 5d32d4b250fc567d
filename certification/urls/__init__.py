"""Pages below a project about the certification file. Each noun lists its own in a module of its name."""

from django.urls import URLPattern, URLResolver

from certification.urls import balance, credit, flights, inspection_lists, papers, people, record

app_name = "certification"

urlpatterns: list[URLPattern | URLResolver] = [
    *balance.urlpatterns,
    *credit.urlpatterns,
    *papers.urlpatterns,
    *flights.urlpatterns,
    *inspection_lists.urlpatterns,
    *people.urlpatterns,
    *record.urlpatterns,
]
