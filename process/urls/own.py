"""Pages of own values."""

from django.urls import path

from process.views import own

urlpatterns = [
    path("own-values/", own.own_values, name="own_values"),
    path("own-values/<str:key>/", own.own_value, name="own_value"),
    path("own-values/<str:key>/away/", own.own_value_away, name="own_value_away"),
]
