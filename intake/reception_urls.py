"""Addresses of reception and of single bottles."""

from django.urls import path

from intake.views import deciding, desk, photographs, reception

urlpatterns = [
    path("reception/", reception.reception, name="reception"),
    path("reception/commands/", desk.command_card, name="command_card"),
    path("reception/arrivals/open/", reception.arrival_open, name="arrival_open"),
    path("reception/arrivals/<str:number>/", reception.arrival, name="arrival"),
    path("reception/arrivals/<str:number>/desk/", desk.desk, name="desk"),
    path("reception/arrivals/<str:number>/transport/", reception.arrival_transport, name="arrival_transport"),
    path("reception/arrivals/<str:number>/add/", reception.arrival_add, name="arrival_add"),
    path("reception/arrivals/<str:number>/group/", reception.arrival_group, name="arrival_group"),
    path("reception/arrivals/<str:number>/close/", reception.arrival_close, name="arrival_close"),
    path(
        "reception/arrivals/<str:number>/unannounced/",
        reception.arrival_unannounced,
        name="arrival_unannounced",
    ),
    path(
        "reception/arrivals/<str:number>/photographs/",
        photographs.photographs,
        name="photographs",
    ),
    path(
        "reception/arrivals/<str:number>/photographs/<str:key>/",
        photographs.photograph,
        name="photograph",
    ),
    path(
        "reception/arrivals/<str:number>/photographs/<str:key>/remove/",
        photographs.photograph_remove,
        name="photograph_remove",
    ),
    path("bottles/<str:number>/", deciding.bottle, name="bottle"),
    path("bottles/<str:number>/check/", deciding.bottle_check, name="bottle_check"),
    path("bottles/<str:number>/undo/", deciding.bottle_undo, name="bottle_undo"),
    path("bottles/<str:number>/decide/", deciding.bottle_decide, name="bottle_decide"),
    path("bottles/<str:number>/agree/", deciding.bottle_agree, name="bottle_agree"),
    path("bottles/<str:number>/give-up/", deciding.bottle_give_up, name="bottle_give_up"),
    path("bottles/<str:number>/restore/", deciding.bottle_restore, name="bottle_restore"),
]
