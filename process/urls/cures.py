"""Pages of cure runs."""

from django.urls import path

from process.views import cures

urlpatterns = [
    path("cures/", cures.cures, name="cures"),
    path("cures/new/", cures.cure_new, name="cure_new"),
    path("cures/<str:key>/", cures.cure, name="cure"),
    path("cures/<str:key>/stop/", cures.cure_stop, name="cure_stop"),
    path("cures/<str:key>/edit/", cures.cure_edit, name="cure_edit"),
    path("cures/<str:key>/specification/", cures.cure_spec, name="cure_spec"),
    path("cures/<str:key>/stack/", cures.cure_stack, name="cure_stack"),
    path("cures/<str:key>/points/", cures.cure_points, name="cure_points"),
    path("cures/<str:key>/log/", cures.cure_log, name="cure_log"),
    path("cures/<str:key>/log/away/", cures.cure_log_away, name="cure_log_away"),
    path("cures/<str:key>/log/file/", cures.cure_file, name="cure_file"),
    path("cures/<str:key>/log/<str:document>/", cures.cure_mapping, name="cure_mapping"),
    path("cures/<str:key>/finish/", cures.cure_finish, name="cure_finish"),
    path("cures/<str:key>/reopen/", cures.cure_reopen, name="cure_reopen"),
    path("cures/<str:key>/withdraw/", cures.cure_withdraw, name="cure_withdraw"),
]
