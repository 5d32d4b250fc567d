from django.apps import AppConfig


class CertificationConfig(AppConfig):
    name = "certification"

    def ready(self) -> None:
        """Tell documents and tools below what of the certification file is about them or was made with them."""
        from certification.access import MADE_WITH_TOOLS, on_papers
        from evidence.queries import ABOUT
        from process.queries.tools import ABOVE

        ABOUT.append(on_papers)
        ABOVE.update(MADE_WITH_TOOLS)
