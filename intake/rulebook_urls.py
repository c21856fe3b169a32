"""Addresses of rulebooks and of the findings the rules can make."""

from django.urls import path

from intake.views import catalogue, rulebooks

urlpatterns = [
    path("rulebooks/", rulebooks.rulebooks_list, name="rulebooks"),
    path("rulebooks/<slug:code>/<int:version>/", rulebooks.rulebook, name="rulebook"),
    path(
        "rulebooks/<slug:code>/<int:version>/compare/",
        rulebooks.rulebook_comparison,
        name="rulebook_comparison",
    ),
    path("rulebooks/<slug:code>/<int:version>/start/", rulebooks.rulebook_start, name="rulebook_start"),
    path(
        "rulebooks/<slug:code>/<int:version>/settings/", rulebooks.rulebook_settings, name="rulebook_settings"
    ),
    path("rulebooks/<slug:code>/<int:version>/rows/new/", rulebooks.rulebook_row, name="rulebook_row_new"),
    path(
        "rulebooks/<slug:code>/<int:version>/rows/<int:number>/", rulebooks.rulebook_row, name="rulebook_row"
    ),
    path(
        "rulebooks/<slug:code>/<int:version>/rows/<int:number>/remove/",
        rulebooks.rulebook_row_remove,
        name="rulebook_row_remove",
    ),
    path("rulebooks/<slug:code>/<int:version>/publish/", rulebooks.rulebook_publish, name="rulebook_publish"),
    path("rulebooks/<slug:code>/<int:version>/discard/", rulebooks.rulebook_discard, name="rulebook_discard"),
    path("rulebooks/<slug:code>/<int:version>/offer/", rulebooks.rulebook_offer, name="rulebook_offer"),
    path("findings/", catalogue.rules, name="rules"),
    path("findings/<str:code>/", catalogue.rule, name="rule"),
]
