from django.apps import AppConfig


class BuildlogConfig(AppConfig):
    name = "buildlog"

    def ready(self) -> None:
        """Tell the contact sheet below that photos also stand in sessions."""
        from buildlog.queries.homes import IN_SESSIONS
        from evidence.queries import ELSEWHERE

        ELSEWHERE.append(IN_SESSIONS)
