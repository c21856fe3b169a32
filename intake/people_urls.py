"""Addresses of people, groups and the first page."""

from django.urls import path

from intake.views import gallery, home

urlpatterns = [
    path("", home.home, name="home"),
    path("gallery/", gallery.gallery, name="gallery"),
]
