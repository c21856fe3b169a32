import gc

from django.apps import AppConfig

#: Objects made and not gone before Python looks for rings of them; its own 700 spend a fifth of the
#: time that a full sheet takes to save on looking through its rows over and over (measured).
COLLECT_EVERY = 20_000


class LabqueueConfig(AppConfig):
    default_auto_field = "django.db.models.BigAutoField"
    name = "labqueue"
    verbose_name = "Bench"

    def ready(self) -> None:
        from labqueue import checks  # noqa: F401  (importing it registers the checks)

        gc.set_threshold(COLLECT_EVERY, *gc.get_threshold()[1:])
