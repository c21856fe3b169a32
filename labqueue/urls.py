"""The one place that knows both apps."""

from django.urls import include, path

from labqueue.views.health import health
from labqueue.views.mark import mark
from labqueue.views.words import Words

handler400 = "labqueue.views.trouble.refused"
handler500 = "labqueue.views.trouble.trouble"
urlpatterns = [
    path("health/", health, name="health"),
    path("favicon.ico", mark, name="mark"),
    path("words/<str:language>.js", Words.as_view(), name="words"),
    path("account/", include("labqueue.account_urls")),
    path("", include("intake.urls")),
    path("", include("labqueue.bench_urls")),
]
