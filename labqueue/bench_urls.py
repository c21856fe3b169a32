"""Addresses of the bench."""

from django.urls import path

from labqueue.views import bench, dates, equipment, plan, queue, trip

app_name = "labqueue"
urlpatterns = [
    path("queue/", queue.queue, name="queue"),
    path("trip/", trip.trip, name="trip"),
    path("dates/", dates.dates, name="dates"),
    path("consignments/<str:number>/date/", dates.consignment_date, name="date"),
    path("bench/", bench.bench, name="bench"),
    path("bench/units/", equipment.equipment, name="equipment"),
    path("bench/units/new/", equipment.unit_new, name="unit_new"),
    path("bench/units/usual/", equipment.usual_units, name="usual_units"),
    path("bench/units/<int:pk>/", equipment.unit_change, name="unit"),
    path("bench/units/<int:pk>/take-out/", equipment.unit_retire, name="unit_retire"),
    path("bench/hours/", equipment.hours, name="hours"),
    path("bench/closed-days/", equipment.day_close, name="day_close"),
    path("bench/closed-days/<int:pk>/open/", equipment.day_open, name="day_open"),
    path("bench/plan/", plan.plan, name="plan"),
    path("bench/plan/<str:key>/", plan.plan_draft, name="plan_draft"),
    path("bench/plan/<str:key>/step/", plan.plan_step, name="plan_step"),
    path("bench/plan/<str:key>/accept/", plan.plan_accept, name="plan_accept"),
    path("bench/plan/<str:key>/bottles/<str:number>/", plan.plan_bottle, name="plan_bottle"),
]
