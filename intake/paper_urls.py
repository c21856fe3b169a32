"""Addresses of papers."""

from django.urls import path

from intake.views import papers

urlpatterns = [
    path("consignments/<str:number>/labels/", papers.labels, name="labels"),
    path("consignments/<str:number>/packing-list/", papers.packing_list, name="packing_list"),
    path(
        "consignments/<str:number>/arrivals/<str:arrival>/slip/",
        papers.arrival_slip,
        name="arrival_slip",
    ),
    path("field-card/", papers.blank_field_card, name="blank_field_card"),
]
