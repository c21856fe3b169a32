"""The one place that knows both apps."""

from django.urls import include, path

from labqueue.views.health import health

urlpatterns = [
    path("health/", health, name="health"),
    path("account/", include("labqueue.account_urls")),
    path("", include("intake.urls")),
    path("", include("labqueue.bench_urls")),
]
