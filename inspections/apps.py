from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        """Tell the contact sheet below that photos also stand at gates, at points and with discrepancies."""
        from evidence.queries import ELSEWHERE
        from inspections.queries.discrepancies import OF_DISCREPANCIES
        from inspections.queries.pictures import AT_GATES, AT_POINTS

        ELSEWHERE.extend((AT_GATES, AT_POINTS, OF_DISCREPANCIES))
