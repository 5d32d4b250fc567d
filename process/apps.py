from django.apps import AppConfig


class ProcessConfig(AppConfig):
    name = "process"

    def ready(self) -> None:
        """Tell the contact sheet, pages of documents and the outbox below what of theirs stands or comes here."""
        from buildlog import access
        from evidence.queries import ABOUT, ELSEWHERE
        from process.access import TAKERS, on_tools
        from process.queries.homes import IN_RECORDS

        ELSEWHERE.append(IN_RECORDS)
        ABOUT.append(on_tools)
        access.TAKERS.update(TAKERS)
