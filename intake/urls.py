"""Addresses of intake."""

from django.urls import URLPattern, URLResolver, include, path

app_name = "intake"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("intake.consignment_urls")),
    path("", include("intake.people_urls")),
    path("", include("intake.rulebook_urls")),
    path("", include("intake.reception_urls")),
    path("", include("intake.question_urls")),
    path("", include("intake.storage_urls")),
    path("", include("intake.paper_urls")),
    path("", include("intake.statement_urls")),
    path("", include("intake.help_urls")),
]
