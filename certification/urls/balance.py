"""Weight and balance."""

from django.urls import path

from certification.views import balance as views

urlpatterns = [
    path("balance/", views.balance, name="balance"),
    path("balance/weight-and-balance.pdf", views.balance_report, name="balance_report"),
    path("balance/weighings/new/", views.weighin_new, name="weighin_new"),
    path("balance/weighings/<str:key>/", views.weighin, name="weighin"),
    path("balance/weighings/<str:key>/edit/", views.weighin_edit, name="weighin_edit"),
    path("balance/weighings/<str:key>/finish/", views.weighin_finish, name="weighin_finish"),
    path("balance/weighings/<str:key>/withdraw/", views.weighin_withdraw, name="weighin_withdraw"),
    path("balance/items/new/", views.item_new, name="balance_item_new"),
    path("balance/items/<str:key>/", views.item_edit, name="balance_item"),
    path("balance/items/<str:key>/withdraw/", views.item_withdraw, name="balance_item_withdraw"),
    path("balance/limits/", views.limits_edit, name="balance_limits"),
    path("balance/limits/withdraw/", views.limits_withdraw, name="balance_limits_withdraw"),
    path("balance/cases/new/", views.case_new, name="balance_case_new"),
    path("balance/cases/<str:key>/", views.case_edit, name="balance_case"),
    path("balance/cases/<str:key>/withdraw/", views.case_withdraw, name="balance_case_withdraw"),
]
