"""Addresses of the submitter's pages; included by ``intake.urls``."""

from django.urls import path, re_path

from intake.views import consignments, entering, jobs, sheets

urlpatterns = [
    path("consignments/", consignments.consignment_list, name="consignments"),
    path("consignments/new/", consignments.consignment_new, name="consignment_new"),
    path("consignments/<str:number>/", consignments.consignment_detail, name="consignment"),
    path("consignments/<str:number>/amend/", consignments.consignment_amend, name="consignment_amend"),
    path("consignments/<str:number>/send/", consignments.consignment_send, name="consignment_send"),
    path(
        "consignments/<str:number>/withdraw/", consignments.consignment_withdraw, name="consignment_withdraw"
    ),
    re_path(
        r"^consignments/(?P<number>[^/]+)/record\.(?P<kind>csv|xlsx|json)$",
        consignments.consignment_record,
        name="consignment_record",
    ),
    path("consignments/<str:number>/samples/", entering.samples, name="samples"),
    path("consignments/<str:number>/sheet/", sheets.sheet, name="sheet"),
    path("consignments/<str:number>/sheet.xlsx", sheets.sheet_file, name="sheet_file"),
    path("consignments/<str:number>/sheet/<slug:key>/", sheets.sheet_confirm, name="sheet_confirm"),
    path("consignments/<str:number>/sheet/<slug:key>/correct/", sheets.sheet_correct, name="sheet_correct"),
    path("consignments/<str:number>/sheet/<slug:key>/marked.xlsx", sheets.sheet_marked, name="sheet_marked"),
    path("jobs/<slug:key>/", jobs.job, name="job"),
]
