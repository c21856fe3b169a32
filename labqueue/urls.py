"""The one place that knows both apps."""

from django.urls import include, path

urlpatterns = [
    path("account/", include("allauth.urls")),
    path("", include("intake.urls")),
]
