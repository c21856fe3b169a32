"""The one place that knows both apps."""

from django.urls import include, path

from labqueue.views.health import health
from labqueue.views.mark import mark

urlpatterns = [
    path("health/", health, name="health"),
    path("favicon.ico", mark, name="mark"),
    path("account/", include("labqueue.account_urls")),
    path("", include("intake.urls")),
    path("", include("labqueue.bench_urls")),
]
