from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        """Tell the contact sheet below that photos also stand at gates."""
        from evidence.queries import ELSEWHERE
        from inspections.queries import AT_GATES

        ELSEWHERE.append(AT_GATES)
