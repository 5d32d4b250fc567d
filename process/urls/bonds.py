"""Pages of bonds."""

from django.urls import path

from process.views import bonds

urlpatterns = [
    path("bonds/", bonds.bonds, name="bonds"),
    path("bonds/new/", bonds.bond_new, name="bond_new"),
    path("bonds/<str:key>/", bonds.bond, name="bond"),
    path("bonds/<str:key>/edit/", bonds.bond_edit, name="bond_edit"),
    path("bonds/<str:key>/step/<str:step>/", bonds.bond_step, name="bond_step"),
    path("bonds/<str:key>/squeeze-out/", bonds.bond_squeeze, name="bond_squeeze"),
    path("bonds/<str:key>/finish/", bonds.bond_finish, name="bond_finish"),
    path("bonds/<str:key>/reopen/", bonds.bond_reopen, name="bond_reopen"),
    path("bonds/<str:key>/withdraw/", bonds.bond_withdraw, name="bond_withdraw"),
]
