from django.apps import AppConfig


class ProcessConfig(AppConfig):
    name = "process"

    def ready(self) -> None:
        """Tell the contact sheet below that photos also stand for process records, and the outbox what else comes."""
        from buildlog import access
        from evidence.queries import ELSEWHERE
        from process.access import TAKERS
        from process.queries.homes import IN_RECORDS

        ELSEWHERE.append(IN_RECORDS)
        access.TAKERS.update(TAKERS)
