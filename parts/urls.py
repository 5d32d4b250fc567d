"""Pages below a project about its assemblies and parts. A page about one assembly with its work lies in inspections."""

from django.urls import path

from parts import views

app_name = "parts"

urlpatterns = [
    path("assemblies/", views.assemblies, name="assemblies"),
    path("assemblies/new/", views.assembly_new, name="assembly_new"),
    path("assemblies/<str:key>/edit/", views.assembly_edit, name="assembly_edit"),
    path("assemblies/<str:key>/move/", views.assembly_move, name="assembly_move"),
    path("assemblies/<str:key>/withdraw/", views.assembly_withdraw, name="assembly_withdraw"),
    path("parts/", views.parts, name="parts"),
    path("parts/new/", views.part_new, name="part_new"),
    path("parts/<str:key>/", views.part, name="part"),
    path("parts/<str:key>/edit/", views.part_edit, name="part_edit"),
    path("parts/<str:key>/withdraw/", views.part_withdraw, name="part_withdraw"),
]
