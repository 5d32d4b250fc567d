"""Pages of layups."""

from django.urls import path

from process.views import layups

urlpatterns = [
    path("layups/", layups.layups, name="layups"),
    path("layups/new/", layups.layup_new, name="layup_new"),
    path("layups/<str:key>/", layups.layup, name="layup"),
    path("layups/<str:key>/plies/", layups.layup_plies, name="layup_plies"),
    path("layups/<str:key>/plies/<int:ply>/", layups.ply_laid, name="ply_laid"),
    path("layups/<str:key>/edit/", layups.layup_edit, name="layup_edit"),
    path("layups/<str:key>/finish/", layups.layup_finish, name="layup_finish"),
    path("layups/<str:key>/reopen/", layups.layup_reopen, name="layup_reopen"),
    path("layups/<str:key>/withdraw/", layups.layup_withdraw, name="layup_withdraw"),
    path("layups/<str:key>/<str:moment>/", layups.layup_moment, name="layup_moment"),
]
