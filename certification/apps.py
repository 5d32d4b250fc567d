from django.apps import AppConfig


class CertificationConfig(AppConfig):
    name = "certification"

    def ready(self) -> None:
        from certification.access import on_papers
        from evidence.queries import ABOUT

        ABOUT.append(on_papers)
