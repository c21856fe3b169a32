"""Addresses of the bench."""

from django.urls import path

from labqueue.views import queue, trip

app_name = "labqueue"
urlpatterns = [
    path("queue/", queue.queue, name="queue"),
    path("trip/", trip.trip, name="trip"),
]
