from django.urls import path

from inspections.views import areas, labels, overview

app_name = "inspections"
urlpatterns = [
    path("", overview.shop, name="shop"),
    path("assemblies/<str:key>/", overview.assembly, name="assembly"),
    path("holds/", overview.holds, name="holds"),
    path("labels/", labels.labels, name="labels"),
    path("areas/new/", areas.area_new, name="area_new"),
    path("areas/<str:key>/", areas.area, name="area"),
    path("areas/<str:key>/edit/", areas.area_edit, name="area_edit"),
    path("areas/<str:key>/sign/", areas.area_sign, name="area_sign"),
    path("areas/<str:key>/close/", areas.area_close, name="area_close"),
    path("areas/<str:key>/reopen/", areas.area_reopen, name="area_reopen"),
    path("areas/<str:key>/withdraw/", areas.area_withdraw, name="area_withdraw"),
    path("areas/<str:key>/items/new/", areas.item_new, name="item_new"),
    path("areas/<str:key>/items/<str:item>/photo/", areas.item_photo, name="item_photo"),
    path("areas/<str:key>/items/<str:item>/photo/<str:photo>/away/", areas.photo_away, name="photo_away"),
    path("areas/<str:key>/items/<str:item>/answer/", areas.item_answer, name="item_answer"),
    path("areas/<str:key>/items/<str:item>/drop/", areas.item_drop, name="item_drop"),
]
