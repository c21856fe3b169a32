"""Addresses of the bench."""

from django.urls import path

from labqueue.views import bench, cards, dates, equipment, injections, plan, priority, queue, runs, trip

app_name = "labqueue"
urlpatterns = [
    path("queue/", queue.queue, name="queue"),
    path("trip/", trip.trip, name="trip"),
    path("dates/", dates.dates, name="dates"),
    path("consignments/<str:number>/date/", dates.consignment_date, name="date"),
    path("consignments/<str:number>/field-card/", cards.field_card, name="field_card"),
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
    path("bench/plan/<str:key>/bottles/<str:number>/cost/", plan.plan_cost, name="plan_cost"),
    path("bench/priority/<str:number>/", priority.priority, name="priority"),
    path("bench/runs/<str:number>/", runs.run, name="run"),
    path("bench/runs/<str:number>/list.<str:kind>", runs.run_file, name="run_file"),
    path("bench/runs/<str:number>/start/", runs.run_start, name="run_start"),
    path("bench/runs/<str:number>/cancel/", runs.run_cancel, name="run_cancel"),
    path("bench/runs/<str:number>/fail/", runs.run_fail, name="run_fail"),
    path("bench/runs/<str:number>/tray/", runs.run_tray, name="run_tray"),
    path("bench/runs/<str:number>/<int:position>/repeat/", runs.run_repeat, name="run_repeat"),
    path("bench/runs/<str:number>/as-planned/", injections.as_planned, name="injections_planned"),
    path("bench/runs/<str:number>/import/", injections.upload, name="injections_upload"),
    path("bench/runs/<str:number>/import/<str:key>/", injections.match, name="injections_match"),
    path("bench/runs/<str:number>/<int:position>/injection/", injections.by_hand, name="injection_hand"),
    path("bench/runs/<str:number>/<int:position>/take-back/", injections.void, name="injection_void"),
]
