"""Addresses of the bench."""

from django.urls import path

from labqueue.views import queue

app_name = "labqueue"
urlpatterns = [
    path("queue/", queue.queue, name="queue"),
]
