"""Every address on one screen."""

from django.urls import path

from registry.web.views import (
    boxes,
    cases,
    confirmations,
    contests,
    dates,
    desk,
    disposals,
    documents,
    front,
    openings,
    orders,
    permissions,
)

urlpatterns = [
    path("", desk.desk, name="desk"),
    # Coming in and going out
    path("log-in/", front.log_in, name="log-in"),
    path("log-out/", front.log_out, name="log-out"),
    path("password/", front.own_password, name="own-password"),
    path("health/", front.health, name="health"),
    # Boxes and envelopes
    path("boxes/", boxes.box_list, name="boxes"),
    path("boxes/<str:number>/", boxes.box, name="box"),
    path("envelopes/", boxes.envelope_list, name="envelopes"),
    path("envelopes/<str:number>/", boxes.envelope, name="envelope"),
    # Acts on containers, intake, discrepancies, labels (helper W1)
    # Cases, orders to preserve, confirmations, contests, dates
    path("cases/", cases.case_list, name="cases"),
    path("cases/new/", cases.new_case, name="case-new"),
    path("cases/<str:number>/", cases.case, name="case"),
    path("cases/<str:number>/event/", cases.record_event, name="case-event"),
    path(
        "cases/<str:number>/events/<str:event>/strike/",
        cases.strike_event,
        name="case-strike",
    ),
    path("cases/<str:number>/scope/", cases.change_scope, name="case-scope"),
    path(
        "cases/<str:number>/court-number/",
        cases.court_number,
        name="case-court-number",
    ),
    path("orders/", orders.order_list, name="orders"),
    path("orders/new/", orders.new_order, name="order-new"),
    path("orders/<str:number>/", orders.order, name="order"),
    path("orders/<str:number>/lift/", orders.lift, name="order-lift"),
    path("confirmations/", confirmations.confirmation_list, name="confirmations"),
    path("contests/<str:number>/", contests.contest, name="contest"),
    path("contests/<str:number>/dates/", contests.dates, name="contest-dates"),
    path(
        "contests/<str:number>/confirmations/new/",
        confirmations.new_confirmation,
        name="confirmation-new",
    ),
    path(
        "contests/<str:number>/confirmations/<str:confirmation>/withdraw/",
        confirmations.withdraw,
        name="confirmation-withdraw",
    ),
    path("dates/", dates.reckon, name="date-reckoner"),
    # Permissions, openings, disposals, documents
    path("permissions/", permissions.permission_list, name="permissions"),
    path("permissions/new/", permissions.new_permission, name="permission-new"),
    path("permissions/<str:number>/", permissions.permission, name="permission"),
    path(
        "permissions/<str:number>/countersign/",
        permissions.countersign,
        name="permission-countersign",
    ),
    path(
        "permissions/<str:number>/revoke/",
        permissions.revoke,
        name="permission-revoke",
    ),
    path("openings/new/", openings.new_opening, name="opening-new"),
    path("openings/room/", openings.enter_strong_room, name="opening-room"),
    path("openings/take-out/", openings.take_out_container, name="take-out"),
    path("openings/take-back/", openings.take_back_container, name="take-back"),
    path("disposals/", disposals.disposal_list, name="disposals"),
    path("disposals/preview/", disposals.preview, name="disposal-preview"),
    path("disposals/new/", disposals.new_disposal, name="disposal-new"),
    path("disposals/<str:number>/", disposals.disposal, name="disposal"),
    path("documents/<str:number>/", documents.document, name="document"),
    # Desks, search, elections, rooms, schedules, people, accesses, reports (helper W4)
]
