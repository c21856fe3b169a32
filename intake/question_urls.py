"""Addresses of questions to groups."""

from django.urls import path

from intake.views import questions

urlpatterns = [
    path("questions/", questions.questions, name="questions"),
    path("questions/<int:pk>/", questions.question, name="question"),
]
