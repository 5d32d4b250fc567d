"""Pages of checks: fastener rows, torque, weighing, coupons, hardness, tap maps, function tests."""

from django.urls import path

from process.views import checks

urlpatterns = [
    path("checks/", checks.overview, name="checks_overview"),
    path("checks/tapmap/<str:key>/marks/", checks.check_taps, name="check_taps"),
    path("checks/torque/<str:key>/tightened/", checks.check_tightened, name="check_tightened"),
    path("checks/weighing/<str:key>/to-part/", checks.check_to_part, name="check_to_part"),
    path("checks/<str:kind>/", checks.checks, name="checks"),
    path("checks/<str:kind>/new/", checks.check_new, name="check_new"),
    path("checks/<str:kind>/look/", checks.check_look, name="check_look"),
    path("checks/<str:kind>/<str:key>/", checks.check, name="check"),
    path("checks/<str:kind>/<str:key>/edit/", checks.check_edit, name="check_edit"),
    path("checks/<str:kind>/<str:key>/finish/", checks.check_finish, name="check_finish"),
    path("checks/<str:kind>/<str:key>/reopen/", checks.check_reopen, name="check_reopen"),
    path("checks/<str:kind>/<str:key>/withdraw/", checks.check_withdraw, name="check_withdraw"),
]
