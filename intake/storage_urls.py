"""Addresses of storage."""

from django.urls import path

from intake.views import storage

urlpatterns = [
    path("storage/", storage.storage, name="storage"),
    path("storage/discard/", storage.discarding, name="discarding"),
    path("storage/places/new/", storage.place_new, name="place_new"),
    path("storage/places/<str:number>/", storage.place, name="place"),
    path("storage/places/<str:number>/card/", storage.place_card, name="place_card"),
]
