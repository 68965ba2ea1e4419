"""Coming in and going out: entered, throttled, and over after a while."""

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.sessions.models import Session

from registry.models import AccessEntry
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def log_in(client, password=given.PASSWORD, username="lena.law", **more):
    return client.post("/log-in/", {"username": username, "password": password, **more})


def entries():
    rows = AccessEntry.objects.filter(act__startswith="session.").order_by("id")
    return [(row.act, row.outcome, row.name) for row in rows]


def test_log_in_and_log_out_are_entered(scene, client):
    assert log_in(client)["Location"] == "/"
    assert client.post("/log-out/")["Location"] == "/log-in/"
    name = scene.cast.legal.name
    assert entries() == [
        ("session.log_in", "done", name),
        ("session.log_out", "done", name),
    ]
    assert client.get("/")["Location"].startswith("/log-in/")


def test_logging_out_takes_a_press_of_the_button(scene, client):
    log_in(client)
    assert client.get("/log-out/").status_code == 405
    assert client.get("/").status_code == 200


def test_a_wrong_password_is_refused_entered_and_says_nothing_more(scene, client):
    answer = log_in(client, "wrong")
    unknown = log_in(client, "wrong", "nobody")
    assert answer.status_code == unknown.status_code == 400
    said = "Name and password do not fit. Try again."
    assert said in answer.content.decode()
    assert said in unknown.content.decode()
    assert [outcome for _, outcome, _ in entries()] == ["refused", "refused"]
    detail = AccessEntry.objects.filter(act="session.log_in").first().detail
    assert detail == {"user": "lena.law"}


def test_guessing_is_stopped_with_429(scene, client):
    for guess in range(5):
        answer = log_in(client, f"guess {guess}")
    assert answer.status_code == 429
    assert log_in(client).status_code == 429
    assert "refused" in {outcome for _, outcome, _ in entries()}
    reasons = AccessEntry.objects.filter(act="session.log_in").values_list("reason")
    assert any("locked" in reason for (reason,) in reasons)


def test_a_page_asked_for_is_reached_after_the_log_in(scene, client):
    wanted = client.get("/rooms/")["Location"]
    assert wanted == "/log-in/?next=%2Frooms%2F"
    assert log_in(client, next="/rooms/")["Location"] == "/rooms/"


@pytest.mark.parametrize("next", ["https://evil.example/", "//evil.example/x"])
def test_nobody_is_sent_to_a_strangers_page(scene, client, next):
    assert log_in(client, next=next)["Location"] == "/"


def test_a_session_is_over_after_half_an_hour_of_rest(scene, client):
    log_in(client)
    session = Session.objects.get()
    rest = session.expire_date - datetime.now(UTC)
    assert rest <= timedelta(minutes=30)
    Session.objects.update(expire_date=datetime.now(UTC) - timedelta(seconds=1))
    assert client.get("/")["Location"].startswith("/log-in/")


def test_what_is_on_record_is_not_cached(scene, client):
    log_in(client)
    assert "no-store" in client.get("/")["Cache-Control"]
