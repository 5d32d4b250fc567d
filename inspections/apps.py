from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        """Tell the contact sheet where else photos stand, and gates which kinds of process records there are."""
        from evidence.queries import ELSEWHERE
        from inspections.queries.discrepancies import OF_DISCREPANCIES
        from inspections.queries.pictures import AT_GATES, AT_POINTS
        from inspections.queries.process_sources import register

        ELSEWHERE.extend((AT_GATES, AT_POINTS, OF_DISCREPANCIES))
        register()
