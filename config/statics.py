"""How static files are named and served."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class StaticFiles(CompressedManifestStaticFilesStorage):
    """Every file has its digest in its name, JavaScript modules too, so that browsers keep them for good."""

    support_js_module_import_aggregation = True
