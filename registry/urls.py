"""The front door."""

from django.urls import include, path

urlpatterns = [path("", include("registry.web.urls"))]
