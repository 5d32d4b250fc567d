from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        """Tell the rooms below what stands here: photos, process records that gates take, what work has to heed."""
        from buildlog.access import NOTICES
        from evidence.queries import ELSEWHERE
        from inspections.queries.at_work import notices
        from inspections.queries.discrepancies import OF_DISCREPANCIES
        from inspections.queries.pictures import AT_GATES, AT_POINTS
        from inspections.queries.process_sources import register

        ELSEWHERE.extend((AT_GATES, AT_POINTS, OF_DISCREPANCIES))
        NOTICES.append(notices)
        register()
