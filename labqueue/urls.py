"""The one place that knows both apps."""

from django.urls import include, path

urlpatterns = [
    path("account/", include("labqueue.account_urls")),
    path("", include("intake.urls")),
    path("", include("labqueue.bench_urls")),
]
