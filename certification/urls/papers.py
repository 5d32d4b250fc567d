"""The certification file: papers, drafts, equipment, plates and placards."""

from django.urls import path

from certification.views import drafts, equipment, papers, placards

urlpatterns = [
    path("file/", papers.file, name="file"),
    path("file/list/", papers.file_profile, name="file_profile"),
    path("file/list/take/", papers.file_take_profile, name="file_take_profile"),
    path("file/calendar.ics", papers.file_calendar, name="file_calendar"),
    path("file/papers/new/", papers.paper_new, name="paper_new"),
    path("file/papers/<slug:code>/", papers.paper, name="paper"),
    path("file/papers/<slug:code>/edit/", papers.paper_edit, name="paper_edit"),
    path("file/papers/<slug:code>/withdraw/", papers.paper_withdraw, name="paper_withdraw"),
    path("file/papers/<slug:code>/sheet/", papers.paper_sheet, name="paper_sheet"),
    path("file/papers/<slug:code>/documents/new/", papers.paper_document, name="paper_document"),
    path("file/papers/<slug:code>/documents/<str:document>/off/", papers.paper_document_off, name="paper_document_off"),
    path("file/drafts/", drafts.drafts, name="drafts"),
    path("file/drafts/<slug:kind>/", drafts.draft, name="draft"),
    path("file/drafts/<slug:kind>/withdraw/", drafts.draft_withdraw, name="draft_withdraw"),
    path("file/equipment/", equipment.equipment, name="equipment"),
    path("file/equipment/new/", equipment.equipment_new, name="equipment_new"),
    path("file/equipment/<str:key>/", equipment.equipment_edit, name="equipment_edit"),
    path("file/equipment/<str:key>/withdraw/", equipment.equipment_withdraw, name="equipment_withdraw"),
    path("file/placards/", placards.placards, name="placards"),
    path("file/placards/sheets.pdf", placards.placards_pdf, name="placards_pdf"),
    path("file/placards/new/", placards.placard_new, name="placard_new"),
    path("file/placards/<str:key>/", placards.placard, name="placard"),
    path("file/placards/<str:key>/withdraw/", placards.placard_withdraw, name="placard_withdraw"),
]
