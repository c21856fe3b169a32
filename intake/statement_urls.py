"""Addresses of statements."""

from django.urls import path, re_path

from intake.views import results, statements

urlpatterns = [
    path("results/", results.results, name="results"),
    re_path(r"^results/template\.(?P<kind>csv|xlsx)$", results.results_template, name="results_template"),
    path("consignments/<str:number>/statement/", statements.statement_draft, name="statement_draft"),
    path("statements/<str:number>/", statements.statement, name="statement"),
    path("statements/<str:number>/statement.pdf", statements.statement_paper, name="statement_paper"),
    re_path(
        r"^statements/(?P<number>[^/]+)/statement\.(?P<kind>csv|xlsx)$",
        statements.statement_file,
        name="statement_file",
    ),
]
