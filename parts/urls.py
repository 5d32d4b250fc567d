"""Pages below a project about its assemblies and parts. A page about one assembly with its work lies in inspections."""

from django.urls import path

from parts.views import parts, stores, tree

app_name = "parts"

urlpatterns = [
    path("assemblies/", tree.assemblies, name="assemblies"),
    path("assemblies/new/", tree.assembly_new, name="assembly_new"),
    path("assemblies/<str:key>/edit/", tree.assembly_edit, name="assembly_edit"),
    path("assemblies/<str:key>/move/", tree.assembly_move, name="assembly_move"),
    path("assemblies/<str:key>/withdraw/", tree.assembly_withdraw, name="assembly_withdraw"),
    path("parts/", parts.parts, name="parts"),
    path("parts/new/", parts.part_new, name="part_new"),
    path("parts/<str:key>/", parts.part, name="part"),
    path("parts/<str:key>/edit/", parts.part_edit, name="part_edit"),
    path("parts/<str:key>/origins/", parts.part_origins, name="part_origins"),
    path("parts/<str:key>/origins/<str:link>/away/", parts.part_origin_away, name="part_origin_away"),
    path("parts/<str:key>/withdraw/", parts.part_withdraw, name="part_withdraw"),
    path("stores/", stores.stores, name="stores"),
    path("bins/", stores.bins, name="bins"),
    path("bins/new/", stores.bin_new, name="bin_new"),
    path("bins/<str:key>/", stores.bin, name="bin"),
    path("bins/<str:key>/edit/", stores.bin_edit, name="bin_edit"),
    path("bins/<str:key>/withdraw/", stores.bin_withdraw, name="bin_withdraw"),
    path("lots/", stores.lots, name="lots"),
    path("lots/new/", stores.lot_new, name="lot_new"),
    path("lots/<str:key>/", stores.lot, name="lot"),
    path("lots/<str:key>/edit/", stores.lot_edit, name="lot_edit"),
    path("lots/<str:key>/withdraw/", stores.lot_withdraw, name="lot_withdraw"),
]
