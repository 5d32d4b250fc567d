"""Lists of tasks, credit, evidence."""

from django.urls import path

from certification.views import coverage, credit

urlpatterns = [
    path("credit/", credit.sheet, name="credit"),
    path("credit/all/", credit.tasks, name="credit_tasks"),
    path("credit/evidence/", coverage.coverage, name="coverage"),
    path("credit/what-if/", credit.what_if, name="credit_what_if"),
    path("credit/lists/", credit.lists, name="credit_lists"),
    path("credit/lists/starter/", credit.list_starter, name="credit_list_starter"),
    path("credit/lists/new/", credit.list_new, name="credit_list_new"),
    path("credit/lists/<slug:key>/", credit.task_list, name="credit_list"),
    path("credit/lists/<slug:key>/withdraw/", credit.list_withdraw, name="credit_list_withdraw"),
    path("credit/add/", credit.task_new, name="credit_new"),
    path("credit/gone/<slug:key>/withdraw/", credit.gone_withdraw, name="credit_gone_withdraw"),
    path("credit/task/<str:code>/", credit.task, name="credit_task"),
    path("credit/task/<str:code>/withdraw/", credit.withdraw, name="credit_withdraw"),
]
