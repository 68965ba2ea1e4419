"""The front door."""

from django.urls import include, path

urlpatterns = [path("", include("registry.web.urls"))]

handler400 = "registry.web.views.front.bad_request"
handler403 = "registry.web.views.front.forbidden"
handler404 = "registry.web.views.front.not_found"
handler500 = "registry.web.views.front.failed"
