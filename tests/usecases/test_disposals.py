"""Disposal is refused unless everything holds at that instant."""

import hashlib
import io
import json
from datetime import timedelta
from inspect import signature

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from registry.models import (
    AccessEntry,
    Box,
    Certificate,
    DisposalItem,
    Envelope,
    PermissionItem,
    Seal,
    guards,
)
from registry.queries.disposals import standings
from registry.rules.powers import PowerMissing
from registry.usecases import Refused, _certificates, cases, disposals, permissions
from registry.usecases.disposal_looks import (
    list_disposals,
    look_at_disposal,
    preview_disposal,
)
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def ready():
    """A box that may be disposed of: over, confirmed, permitted, checked."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    return scene, box, permission


def test_a_box_is_disposed_of_when_everything_holds(ready):
    scene, box, permission = ready
    number = given.disposed_of(scene, box.number, permission)
    assert Box.objects.get(pk=box.pk).state == "disposed"
    assert {e.state for e in Envelope.objects.filter(box=box)} == {"disposed"}
    certificate = Certificate.objects.get(number=number)
    assert certificate.document.file.open("rb").read(5) == b"%PDF-"


def test_a_petition_heard_of_today_stops_it(ready):
    scene, box, permission = ready
    given.a_case(scene, occurred_on=given.TODAY)
    with pytest.raises(Refused, match="CA-"):
        given.disposed_of(scene, box.number, permission)
    assert Box.objects.get(pk=box.pk).state == "held"


def test_every_obstacle_is_listed():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_case(scene)
    permission = given.a_recorded_permission(scene, [box.number], act="open-box")
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, permission, witnesses=("One",), method="")
    said = " ".join(refused.value.reasons)
    for word in ("petition", "countersigned", "open a box", "seal", "witness"):
        assert word in said, (word, said)


def test_a_revoked_permission_permits_nothing(ready):
    scene, box, permission = ready
    permissions.revoke_permission(
        permission=permission,
        because="Order ESC/ORD/9 withdraws it.",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    with pytest.raises(Refused, match="revoked"):
        given.disposed_of(scene, box.number, permission)


def test_a_preservation_order_stops_it(ready):
    scene, box, permission = ready
    order = cases.enter_preservation_order(
        election=scene.election,
        issued_by="High Bench of Calvenna",
        order_ref="HB/P/4",
        dated=given.TODAY,
        from_on=given.TODAY,
        until_on=None,
        covers=cases.Covers(contests=(scene.contests["11"],)),
        actor=scene.cast.legal,
        at=given.NOW,
    )
    with pytest.raises(Refused, match=order):
        given.disposed_of(scene, box.number, permission)


def test_a_permission_expired_yesterday_permits_nothing(ready):
    scene, box, _ = ready
    ends = given.a_permission(
        scene, [box.number], ref="ESC/ORD/2", valid_until=given.TODAY
    )
    tomorrow = given.NOW + timedelta(days=1)
    given.a_checked_seal(scene, box.number, at=tomorrow)
    with pytest.raises(Refused, match="expired after 2 November 2026"):
        given.disposed_of(scene, box.number, ends, at=tomorrow)


def test_unticked_conditions_are_named_one_by_one(ready):
    scene, box, _ = ready
    permission = given.a_permission(
        scene, [box.number], ref="ESC/ORD/2", conditions="Agents told.\nMachine tested."
    )
    with pytest.raises(Refused) as refused:
        given.disposed_of(
            scene, box.number, permission, conditions_met=("Agents told.",)
        )
    (reason,) = refused.value.reasons
    assert "Machine tested" in reason
    assert refused.value.remedies == ("Meet the condition, then tick it.",)


@pytest.mark.parametrize(
    ("witnesses", "said"),
    [
        (("Cora Keeper, custodian", "Ida Rill, agent"), "is the custodian"),
        (("CORA  KEEPER, clerk", "Ida Rill, agent"), "is the custodian"),
        (("Ida Rill, agent", "ida rill, clerk"), "Two different witnesses"),
        (("Ida Rill, agent",), "Two different witnesses"),
        ((), "Two different witnesses"),
    ],
)
def test_two_others_witness_it(ready, witnesses, said):
    """Failure mode 35 and standards A.5.4, D5; a post does not make another person."""
    scene, box, permission = ready
    with pytest.raises(Refused, match=said):
        given.disposed_of(scene, box.number, permission, witnesses=witnesses)


def test_a_box_is_disposed_of_once(ready):
    """Failure mode 39."""
    scene, box, permission = ready
    given.disposed_of(scene, box.number, permission)
    with pytest.raises(Refused, match="already been disposed of"):
        given.disposed_of(scene, box.number, permission)


def test_an_envelope_is_not_taken_out_of_its_box_to_be_destroyed(ready):
    scene, box, permission = ready
    envelope = given.an_envelope_in(box)
    given.a_checked_seal(scene, envelope.number, "W-0001")
    with pytest.raises(Refused, match=f"lies in box {box.number}"):
        given.disposed_of(scene, envelope.number, permission)


def test_an_envelope_named_beside_its_box_goes_with_it_once(ready):
    scene, box, permission = ready
    envelope = given.an_envelope_in(box)
    plan = given.a_plan(
        box.number, containers=(envelope.number, box.number.lower(), box.number)
    )
    disposals.dispose_of(
        plan=plan, permission=permission, actor=scene.cast.custodian, at=given.NOW
    )
    assert DisposalItem.objects.count() == 2


def test_an_envelope_put_in_after_the_order_stops_the_whole_box():
    """Failure mode 36: a box whose contents changed; new items never slip in."""
    scene = given.a_scene()
    box = given.logged(scene, given.an_open_box()).number
    permission = given.a_permission(scene, [box])
    late = given.logged(scene, given.an_envelope_on_the_table(), box=box).number
    with pytest.raises(Refused, match=f"does not name Envelope {late}"):
        given.disposed_of(scene, box, permission)


def test_one_box_that_may_not_go_keeps_all_of_them(ready):
    scene, box, _ = ready
    other = given.a_shelved_box_of_station_two(scene)
    both = given.a_permission(scene, [box.number, other.number], ref="ESC/ORD/2")
    with pytest.raises(Refused, match=f"Box {other.number}: its seal has not"):
        given.disposed_of(
            scene, box.number, both, containers=(box.number, other.number)
        )
    assert {b.state for b in Box.objects.all()} == {"held"}
    assert {s.state for s in Seal.objects.all()} == {"applied"}
    assert not DisposalItem.objects.exists()
    assert not Certificate.objects.exists()


def test_a_failure_at_the_very_end_undoes_everything(ready, monkeypatch):
    """Failure mode 72: what cannot be written whole is not written at all."""
    scene, box, permission = ready

    def out_of_paper(paper):
        raise RuntimeError("no paper")

    monkeypatch.setattr(_certificates, "certificate_pdf", out_of_paper)
    with pytest.raises(RuntimeError):
        given.disposed_of(scene, box.number, permission)
    assert Box.objects.get(pk=box.pk).state == "held"
    assert not DisposalItem.objects.exists()
    entry = AccessEntry.objects.filter(act="disposal.carry_out").get()
    assert (entry.outcome, "no paper" in entry.reason) == ("failed", True)


@pytest.mark.django_db(transaction=True)
def test_a_refused_attempt_stays_on_record_though_all_else_is_undone():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    permission = given.a_permission(scene, [box.number])
    with pytest.raises(Refused):
        given.disposed_of(scene, box.number, permission)
    entry = AccessEntry.objects.filter(act="disposal.carry_out").get()
    assert (entry.outcome, entry.subject) == ("refused", permission)
    assert entry.name == scene.cast.custodian.name
    assert "seal has not been checked" in entry.reason
    assert not Box.objects.filter(state="disposed").exists()


@pytest.mark.django_db(transaction=True)
def test_no_use_case_is_called_from_within_another():
    """Its entry and its rollback would be another's; the transaction is durable."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    with (
        pytest.raises(RuntimeError, match="durable"),
        transaction.atomic(),
    ):
        preview_disposal(container=box.number, actor=scene.cast.custodian, at=given.NOW)


def test_a_list_changed_behind_the_registers_back_is_refused(ready):
    """Failure mode 70: a row edited by SQL, the trigger lifted for it."""
    scene, box, permission = ready
    guards.remove(connection, apps.get_app_config("registry"))
    PermissionItem.objects.filter(envelope__isnull=False)._raw_delete("default")
    with pytest.raises(Refused, match="Tell the auditor"):
        given.disposed_of(scene, box.number, permission)


def test_the_moment_of_a_disposal_is_never_given_by_hand(ready):
    """Failure mode 69: a disposal dated back before what stopped it."""
    scene, box, permission = ready
    assert "occurred_at" not in signature(disposals.dispose_of).parameters
    with pytest.raises(Refused, match="clock"):
        given.disposed_of(
            scene, box.number, permission, at=given.NOW - timedelta(days=1)
        )


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_custodians_dispose(ready, who):
    scene, box, permission = ready
    with pytest.raises(PowerMissing):
        disposals.dispose_of(
            plan=given.a_plan(box.number),
            permission=permission,
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )


def test_the_certificate_tells_everything(ready):
    """Standards A.5.4, D7: method, level, place, witnesses; the list and its digest."""
    scene, box, permission = ready
    number = given.disposed_of(scene, box.number, permission)
    certificate = Certificate.objects.get(number=number)
    content = certificate.document.file.open("rb").read()
    assert hashlib.sha256(content).hexdigest() == certificate.document.digest
    paper = PdfReader(io.BytesIO(content))
    text = " ".join(page.extract_text() for page in paper.pages)
    for word in (
        number, permission, box.number, given.an_envelope_in(box).number,
        "ESC/ORD/1", "Electoral Steward of Calvenna", "Aron Steward", "Bea Steward",
        "Wim Sedge", "Ida Rill", "cross-cut shredding", "Customs House yard",
        "P-4", "P-5", "NP-",
    ):  # fmt: skip
        assert word in text, word
    enclosed = paper.attachments[f"{number}-containers.json"][0]
    assert hashlib.sha256(enclosed).hexdigest() in text.replace(" ", "").replace(
        "\n", ""
    )
    assert [row["number"] for row in json.loads(enclosed)] == [
        box.number,
        given.an_envelope_in(box).number,
    ]


def test_the_reasoning_of_that_instant_is_kept_with_each_container(ready):
    scene, box, permission = ready
    given.disposed_of(scene, box.number, permission)
    for item in DisposalItem.objects.all():
        assert item.reasoning["as_of"] == given.TODAY.isoformat()
        assert sum(step["decides"] for step in item.reasoning["steps"]) == 1


def test_its_page_is_found_by_its_own_and_by_its_certificates_number(ready):
    scene, box, permission = ready
    certificate = given.disposed_of(scene, box.number, permission)
    who = {"actor": scene.cast.auditor, "at": given.NOW}
    file = look_at_disposal(disposal=certificate, **who)
    assert look_at_disposal(disposal=file.row.number, **who).row == file.row
    listed = list_disposals(**who)
    assert [row.certificate for row in listed.disposals] == [certificate]
    assert listed.over == ()


def test_what_is_over_and_still_here_is_listed(ready):
    scene, box, _ = ready
    who = {"actor": scene.cast.auditor, "at": given.NOW}
    assert [row.number for row in list_disposals(**who).over] == [box.number]
    given.a_case(scene)
    assert list_disposals(**who).over == ()


def preview(scene, box, **more):
    return preview_disposal(
        container=box.number, actor=scene.cast.custodian, at=given.NOW, **more
    )


def test_a_preview_says_what_to_do_about_each_obstacle():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    case = given.a_case(scene)
    seen = preview(scene, box)
    codes = {o.code for o in seen.standing.obstacles}
    assert codes == {
        "held-by-case",
        "no-confirmation",
        "no-permission",
        "seal-not-checked",
    }
    assert all(o.remedy for o in seen.standing.obstacles)
    held = next(o for o in seen.standing.obstacles if o.code == "held-by-case")
    assert held.number == case


def test_a_preview_relies_on_the_permission_in_force(ready):
    scene, box, permission = ready
    given.a_recorded_permission(scene, [box.number], ref="ESC/ORD/2")
    seen = preview(scene, box)
    assert (seen.permission.number, seen.standing.is_free) == (permission, True)
    assert len(seen.others) == 1
    other = preview(scene, box, permission=seen.others[0].number)
    assert [o.code for o in other.standing.obstacles] == ["not-countersigned"]


def test_many_boxes_are_judged_with_as_many_queries_as_one(
    ready, django_assert_max_num_queries
):
    scene, box, _ = ready
    given.a_shelved_box_of_station_two(scene)
    with CaptureQueriesContext(connection) as for_one:
        standings([box], None, "", given.NOW)
    many = list(Box.objects.select_related("election", "contest__election"))
    with django_assert_max_num_queries(len(for_one.captured_queries) + 1):
        standings(many, None, "", given.NOW)
