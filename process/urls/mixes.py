"""Pages of mixes."""

from django.urls import path

from process.views import mixes

urlpatterns = [
    path("mixes/", mixes.mixes, name="mixes"),
    path("mixes/new/", mixes.mix_new, name="mix_new"),
    path("mixes/<str:key>/", mixes.mix, name="mix"),
    path("mixes/<str:key>/spread/", mixes.mix_spread, name="mix_spread"),
    path("mixes/<str:key>/edit/", mixes.mix_edit, name="mix_edit"),
    path("mixes/<str:key>/finish/", mixes.mix_finish, name="mix_finish"),
    path("mixes/<str:key>/withdraw/", mixes.mix_withdraw, name="mix_withdraw"),
]
