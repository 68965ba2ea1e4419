"""Guessing at a password is stopped, and stops nobody but whoever guesses."""

from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.contrib.auth import authenticate
from django.core.exceptions import PermissionDenied
from django.db.models import F

from registry.models import User
from registry.rules.powers import Role

PASSWORD = "a-long-enough-password"
OFFICER, STRANGER = "192.0.2.10", "198.51.100.7"


@pytest.fixture
def log_in(db, rf):
    """Try a password from an address; return who it let in, if anyone."""
    person = User(username="officer", role=Role.LEGAL)
    person.set_password(PASSWORD)
    User.objects.bulk_create([person])

    def attempt(address, password=PASSWORD):
        request = rf.post("/", REMOTE_ADDR=address)
        try:
            return authenticate(request, username="officer", password=password)
        except PermissionDenied:
            return None

    return attempt


@pytest.fixture
def guessed_at(log_in):
    for guess in range(5):
        assert log_in(STRANGER, f"guess-{guess}") is None


def test_an_officer_may_err_four_times(log_in):
    for guess in range(4):
        assert log_in(OFFICER, f"slip-{guess}") is None
    assert log_in(OFFICER) is not None


def test_after_five_guesses_not_even_the_right_password_is_let_in(log_in, guessed_at):
    assert log_in(STRANGER) is None


def test_a_stranger_does_not_lock_the_officer_out(log_in, guessed_at):
    assert log_in(OFFICER) is not None


def test_a_quarter_of_an_hour_later_one_may_try_again(log_in, guessed_at):
    assert log_in(STRANGER) is None
    AccessAttempt.objects.update(
        attempt_time=F("attempt_time") - timedelta(minutes=15, seconds=1)
    )
    assert log_in(STRANGER) is not None
