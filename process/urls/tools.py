"""Pages of tools, and what the stores want done."""

from django.urls import path

from process.views import tools

urlpatterns = [
    path("stores/watch/", tools.stores_watch, name="stores_watch"),
    path("tools/", tools.tools, name="tools"),
    path("tools/new/", tools.tool_new, name="tool_new"),
    path("tools/<str:key>/", tools.tool, name="tool"),
    path("tools/<str:key>/edit/", tools.tool_edit, name="tool_edit"),
    path("tools/<str:key>/event/", tools.tool_event, name="tool_event"),
    path("tools/<str:key>/event/<str:event>/", tools.tool_event_edit, name="tool_event_edit"),
    path("tools/<str:key>/papers/new/", tools.tool_paper, name="tool_paper"),
    path("tools/<str:key>/papers/<str:paper>/off/", tools.tool_paper_off, name="tool_paper_off"),
    path("tools/<str:key>/rechecks/<str:recheck>/", tools.tool_recheck, name="tool_recheck"),
    path("tools/<str:key>/rechecks/<str:recheck>/withdraw/", tools.tool_recheck_withdraw, name="tool_recheck_withdraw"),
    path("tools/<str:key>/suspects/", tools.tool_suspects, name="tool_suspects"),
    path(
        "tools/<str:key>/suspects/<str:event>/<str:kind>/<str:record>/", tools.tool_look_again, name="tool_look_again"
    ),
    path("tools/<str:key>/withdraw/", tools.tool_withdraw, name="tool_withdraw"),
]
