"""`manage.py verify-history`: a count and exit 0, or the first fault and exit 1."""

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from registry.management.base import Refused
from registry.models import AccessEntry, guards
from tests import given

pytestmark = pytest.mark.django_db


def test_an_empty_register_has_nothing_to_check(capsys):
    call_command("verify-history")
    assert capsys.readouterr().out == "0 entries checked\n"


def test_the_count_is_told_and_the_verification_entered(capsys):
    given.a_shelved_box(given.a_scene())
    call_command("verify-history")
    count, words = capsys.readouterr().out.strip().split(" ", 1)
    assert (int(count) > 40, words) == (True, "entries checked")
    entry = AccessEntry.objects.get(act="history.verify")
    assert (entry.channel, entry.person) == ("command", None)
    assert entry.name.startswith("terminal of ")


def test_a_tampered_record_ends_in_exit_one_that_names_it():
    box = given.a_shelved_box(given.a_scene())
    guards.remove(connection, apps.get_app_config("registry"))
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE registry_box SET closed_on = NULL WHERE id = %s", [box.pk]
        )
    with pytest.raises(Refused) as refused:
        call_command("verify-history")
    assert refused.value.returncode == 1
    said = str(refused.value)
    assert box.number in said
    assert "closed_on: the record says 'None'" in said
    assert f"its history says '{given.COUNTED}'" in said


@pytest.mark.django_db(transaction=True)
def test_it_reads_one_moment_in_a_transaction_of_its_own(capsys):
    given.a_shelved_box(given.a_scene())
    call_command("verify-history")
    assert capsys.readouterr().out.endswith(" entries checked\n")
