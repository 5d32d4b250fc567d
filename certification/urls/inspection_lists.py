"""Inspection lists, and what led to a discrepancy."""

from django.urls import path

from certification.views import inspection_lists as views

urlpatterns = [
    path("inspection-lists/", views.inspections, name="inspections"),
    path("inspection-lists/new/", views.inspection_new, name="inspection_new"),
    path("inspection-lists/blank/<str:kind>/", views.inspection_blank, name="inspection_blank"),
    path("inspection-lists/<str:key>/", views.inspection, name="inspection"),
    path("inspection-lists/<str:key>/print/", views.inspection_print, name="inspection_print"),
    path("inspection-lists/<str:key>/finish/", views.inspection_finish, name="inspection_finish"),
    path("inspection-lists/<str:key>/reopen/", views.inspection_reopen, name="inspection_reopen"),
    path("inspection-lists/<str:key>/withdraw/", views.inspection_withdraw, name="inspection_withdraw"),
    path("inspection-lists/<str:key>/own/", views.inspection_own_line, name="inspection_own_line"),
    path("inspection-lists/<str:key>/<str:code>/", views.inspection_line, name="inspection_line"),
    path("inspection-lists/<str:key>/<str:code>/answer/", views.inspection_answer, name="inspection_answer"),
    path("inspection-lists/<str:key>/<str:code>/find/", views.inspection_discrepancy, name="inspection_discrepancy"),
    path("inspection-lists/<str:key>/<str:code>/tie/", views.inspection_tie, name="inspection_tie"),
    path("inspection-lists/<str:key>/<str:code>/back/", views.inspection_take_back, name="inspection_take_back"),
    path("discrepancies/<str:key>/from/", views.discrepancy_from, name="discrepancy_from"),
]
