"""Every address on one screen."""

from django.urls import path

from registry.web.views import boxes, desk, front

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
    # Cases, orders, confirmations, dates (helper W2)
    # Permissions, openings, disposals, documents (helper W3)
    # Desks, search, elections, rooms, schedules, people, accesses, reports (helper W4)
]
