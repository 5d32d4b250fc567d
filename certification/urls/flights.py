"""The test phase: flights, test points, statements."""

from django.urls import path

from certification.views import flights as views
from certification.views import statements

urlpatterns = [
    path("flights/", views.flights, name="flights"),
    path("flights/asked/", views.flight_phase, name="flight_phase"),
    path("flights/new/", views.flight_new, name="flight_new"),
    path("flights/points/new/", views.test_points_new, name="test_points_new"),
    path("flights/points/<str:key>/", views.test_point, name="test_point"),
    path("flights/points/<str:key>/edit/", views.test_point_edit, name="test_point_edit"),
    path("flights/points/<str:key>/withdraw/", views.test_point_withdraw, name="test_point_withdraw"),
    path("flights/points/<str:key>/find/", views.test_point_discrepancy, name="test_point_discrepancy"),
    path("flights/<str:key>/", views.flight, name="flight"),
    path("flights/<str:key>/edit/", views.flight_edit, name="flight_edit"),
    path("flights/<str:key>/withdraw/", views.flight_withdraw, name="flight_withdraw"),
    path("statements/new/<str:kind>/", statements.statement_new, name="statement_new"),
    path("statements/<str:key>/", statements.statement, name="statement"),
    path("statements/<str:key>/withdraw/", statements.statement_withdraw, name="statement_withdraw"),
]
