"""Each discrepancy is resolved with a reason; only then does quarantine end.

The project's own brief ("The records"): nothing is silently corrected.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import (
    Discrepancy,
    Envelope,
    PollingStation,
    Seal,
    UnitSet,
    User,
)
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    desks,
    discrepancies,
    discrepancy_owners,
    permissions,
)
from tests import given

pytestmark = pytest.mark.django_db

REASON = "The presiding officer's statement names the units."


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


def resolve_all(number, act):
    for row in Discrepancy.objects.filter(envelope__number=number, resolved_at=None):
        discrepancies.resolve_discrepancy(
            discrepancy=row.number, resolution=REASON, **act
        )


def released(number, act, **named):
    discrepancies.release_from_quarantine(
        container=number, reason="Cleared up.", **named, **act
    )
    return Envelope.objects.get(number=number)


def a_stranger(scene, **changes):
    """An envelope whose serials were mistaken for ones that do not exist."""
    return given.logged(
        scene,
        given.an_envelope_on_the_table(
            **{
                "station": "777",
                "control_unit": "CU-1l001",
                "paper_trail_unit": "PT-AA-1l001",
                **changes,
            }
        ),
    ).number


def units(serial):
    return UnitSet.objects.get(control_unit_serial=serial)


def test_a_resolution_needs_a_reason_and_happens_once(scene, act):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    given.logged(scene, odd)
    row = Discrepancy.objects.get()
    for bare in ("", "ok"):
        with pytest.raises(Mistaken, match="on whose word"):
            discrepancies.resolve_discrepancy(
                discrepancy=row.number, resolution=bare, **act
            )
    discrepancies.resolve_discrepancy(discrepancy=row.number, resolution=REASON, **act)
    with pytest.raises(Refused, match="was resolved"):
        discrepancies.resolve_discrepancy(
            discrepancy=row.number, resolution=REASON, **act
        )
    row.refresh_from_db()
    assert (row.resolution, row.resolved_by_id) == (REASON, act["actor"].person_id)


def test_quarantine_lasts_while_anything_is_open(scene, act):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    number = given.logged(scene, odd).number
    with pytest.raises(Refused, match="DC-"):
        released(number, act)
    resolve_all(number, act)
    envelope = released(number, act)
    assert envelope.state == "held"
    assert envelope.written_poll_date == ""
    assert not Seal.objects.get(envelope=envelope).quarantined


def test_a_stranger_is_released_once_it_is_known_what_it_is(scene, act):
    number = a_stranger(scene)
    resolve_all(number, act)
    with pytest.raises(Refused, match="Name the contest"):
        released(number, act)
    with pytest.raises(Refused, match="Name the polling station"):
        released(number, act, contest=scene.contests["11"])
    envelope = released(number, act, unit_set=units("CU-11001").number)
    assert envelope.station.station_number == "001"
    assert envelope.contest.constituency_number == "11"
    assert envelope.control_unit == "CU11001"
    assert envelope.written_control_unit == "CU-1l001"


def test_a_station_with_one_set_of_units_names_them(scene, act):
    number = a_stranger(scene)
    resolve_all(number, act)
    station = PollingStation.objects.get(
        contest__constituency_number="11", station_number="002"
    )
    envelope = released(number, act, station=station.number)
    assert envelope.unit_set == units("CU-11002")


def test_a_station_with_two_sets_does_not(scene, act):
    number = a_stranger(scene)
    resolve_all(number, act)
    station = PollingStation.objects.get(station_number="003")
    with pytest.raises(Refused, match="Name the unit set"):
        released(number, act, station=station.number)


def test_naming_another_contest_forgets_the_station_of_the_old_one(scene, act):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    number = given.logged(scene, odd).number
    resolve_all(number, act)
    with pytest.raises(Refused, match="Name the polling station"):
        released(number, act, contest=scene.contests["12"])
    assert Envelope.objects.get(number=number).station.station_number == "001"


def test_units_with_a_live_envelope_take_no_second_one(scene, act):
    first = given.logged(scene, given.an_envelope_on_the_table()).number
    second = given.logged(scene, given.an_envelope_on_the_table(seal="W-9")).number
    resolve_all(second, act)
    with pytest.raises(Refused, match=first):
        released(second, act)
    # It proves to be that of the next station.
    assert released(second, act, unit_set=units("CU-11002").number).state == "held"


def test_of_two_doubles_in_quarantine_one_can_be_released(scene, act):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    first = given.logged(scene, odd).number
    second = given.logged(scene, replace(odd, seals=(given.paper_seal(),))).number
    resolve_all(first, act)
    assert released(first, act).state == "held"
    resolve_all(second, act)
    with pytest.raises(Refused, match=first):
        released(second, act)


def test_a_seal_number_on_another_live_container_keeps_it_in_quarantine(scene, act):
    given.logged(scene, given.an_envelope_on_the_table())
    second = given.logged(
        scene,
        given.an_envelope_on_the_table(
            "002", name="Net Loft Hall", control_unit="CU-11002",
            paper_trail_unit="PT-AA-11002",
        ),
    ).number  # fmt: skip
    resolve_all(second, act)
    with pytest.raises(Refused, match="seal number is already on another"):
        released(second, act)
    assert Envelope.objects.get(number=second).state == "quarantined"


def test_what_is_not_in_quarantine_is_not_released(scene, act):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    with pytest.raises(Refused, match="not in quarantine"):
        released(number, act)


def test_a_box_stands_for_a_contest_and_nothing_smaller(scene, act):
    wrong = given.an_open_box(("99", "Nowhere"))
    box = given.logged(scene, wrong).number
    for row in Discrepancy.objects.filter(box__number=box):
        discrepancies.resolve_discrepancy(
            discrepancy=row.number, resolution=REASON, **act
        )
    call = {"container": box, "reason": "Cleared up.", **act}
    with pytest.raises(Mistaken, match="stands for a contest"):
        discrepancies.release_from_quarantine(unit_set=units("CU-11001").number, **call)
    discrepancies.release_from_quarantine(contest=scene.contests["11"], **call)


def test_candidates_are_those_whose_serials_come_near(scene, act):
    number = a_stranger(scene, station="001")
    brief = discrepancies.look_at_quarantined(container=number, **act)
    assert brief.candidates[0][0] == units("CU-11001").number
    assert not any("12 Quillmoor" in words for _, words in brief.candidates)
    elsewhere = discrepancies.look_at_quarantined(
        container=number, contest=scene.contests["12"], **act
    )
    assert all("12 Quillmoor" in words for _, words in elsewhere.candidates)


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_the_custodian_resolves_and_releases(scene, who):
    number = a_stranger(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    row = Discrepancy.objects.first().number
    with pytest.raises(PowerMissing):
        discrepancies.resolve_discrepancy(discrepancy=row, resolution=REASON, **act)
    with pytest.raises(PowerMissing):
        released(number, act)


def test_a_discrepancy_of_another_room_is_not_there(scene, act):
    a_stranger(scene)
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    row = Discrepancy.objects.first().number
    with pytest.raises(NotThere):
        discrepancies.resolve_discrepancy(
            discrepancy=row, resolution=REASON, actor=stranger, at=given.NOW
        )
    page = discrepancies.list_discrepancies(actor=stranger, at=given.NOW)
    assert page.rows == ()


def test_the_list_shows_the_open_ones_unless_others_are_asked_for(scene, act):
    number = a_stranger(scene)
    total = Discrepancy.objects.count()
    resolve_all(number, act)
    assert discrepancies.list_discrepancies(**act).rows == ()
    for show in ("resolved", "all"):
        assert len(discrepancies.list_discrepancies(show=show, **act).rows) == total
    only = discrepancies.list_discrepancies(show="all", kind="unexpected", **act)
    assert [row.container for row in only.rows] == [number]


def test_what_was_permitted_is_not_named_anew_afterwards(scene, act):
    """A permission is frozen at grant (the project's own brief, point 5)."""
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    number = given.logged(scene, odd).number
    permission = given.a_permission(scene, [number])
    resolve_all(number, act)
    other = units("CU-12001").number
    with pytest.raises(Refused, match=permission):
        released(number, act, unit_set=other)
    assert Envelope.objects.get(number=number).contest.constituency_number == "11"
    permissions.revoke_permission(
        permission=permission,
        because="It was another envelope.",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    assert released(number, act, unit_set=other).contest.constituency_number == "12"


def days_from_now(days):
    return given.TODAY + timedelta(days=days)


def test_a_discrepancy_belongs_to_its_finder_and_is_due_in_a_week(scene, act):
    """The schedule says how many days; where it says nothing, a week.

    (common practice, no published source)
    """
    a_stranger(scene)
    owners = {row.owner.name for row in Discrepancy.objects.all()}
    assert owners == {scene.cast.custodian.name}
    assert {r.due_on for r in Discrepancy.objects.all()} == {days_from_now(7)}


def test_the_list_begins_with_what_is_due_first(scene, act):
    a_stranger(scene)
    last = Discrepancy.objects.order_by("-id").first()
    owner = scene.cast.custodian
    discrepancy_owners.give_discrepancy(
        discrepancy=last.number,
        owner=User.objects.get(pk=owner.person_id).number,
        due_on=days_from_now(1),
        **act,
    )
    rows = discrepancies.list_discrepancies(**act).rows
    assert rows[0].number == last.number
    assert [row.due_on for row in rows] == sorted(row.due_on for row in rows)
    later = {"actor": owner, "at": given.NOW + timedelta(days=2)}
    overdue = discrepancies.list_discrepancies(show="overdue", whose="mine", **later)
    assert [row.number for row in overdue.rows] == [last.number]
    assert overdue.rows[0].is_overdue
    told = [one.text for one in desks.look_at_desk(**later) if one.word == "Overdue"]
    texts = [text for text in told if text.startswith("Discrepancy")]
    assert texts == [f"Discrepancy {last.number}: {last.get_kind_display()}"]


def test_a_discrepancy_is_given_to_people_who_have_to_do_with_it(scene, act):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    given.logged(scene, odd)
    row = Discrepancy.objects.first()
    call = {"discrepancy": row.number, "due_on": days_from_now(3), **act}
    numbers = dict(User.objects.values_list("username", "number"))
    with pytest.raises(Mistaken, match="Choose a custodian"):
        discrepancy_owners.give_discrepancy(owner=numbers["otto.audit"], **call)
    with pytest.raises(Mistaken, match="still to come"):
        discrepancy_owners.give_discrepancy(
            owner=numbers["lena.law"], **(call | {"due_on": days_from_now(-1)})
        )
    discrepancy_owners.give_discrepancy(owner=numbers["lena.law"], **call)
    row.refresh_from_db()
    assert (row.owner.username, row.due_on) == ("lena.law", days_from_now(3))
    late = {"actor": scene.cast.legal, "at": given.NOW + timedelta(days=4)}
    assert any(one.word == "Overdue" for one in desks.look_at_desk(**late))


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_the_custodian_gives_discrepancies_out(scene, who):
    a_stranger(scene)
    row = Discrepancy.objects.first()
    with pytest.raises(PowerMissing):
        discrepancy_owners.give_discrepancy(
            discrepancy=row.number,
            owner=row.owner.number,
            due_on=days_from_now(3),
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )
