"""Addresses of the help."""

from django.urls import path

from intake.views import guides

urlpatterns = [
    path("help/", guides.guides, name="help"),
    path("help/why/<slug:slug>/", guides.reason, name="reason"),
    path("help/<slug:role>/", guides.guide, name="guide"),
]
