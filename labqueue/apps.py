from django.apps import AppConfig


class LabqueueConfig(AppConfig):
    default_auto_field = "django.db.models.BigAutoField"
    name = "labqueue"
    verbose_name = "Bench"

    def ready(self) -> None:
        from labqueue import checks  # noqa: F401  (importing it registers the checks)
