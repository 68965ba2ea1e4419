"""The pages of stock-taking, for each role and for addresses that were guessed."""

import pytest

from registry.models import Sighting, StockTake
from registry.rules.powers import Role
from tests import given
from tests.usecases.test_stock_takes import (
    SEED,
    SEED_DAY,
    SEED_ON,
    drawn,
    frozen,
    numbers_drawn,
    packets,
)

pytestmark = pytest.mark.django_db

ROLES = ("custodian", "legal", "authority", "countersigner", "auditor",
         "administrator")  # fmt: skip
TAKERS = {
    "custodian": 200,
    "legal": 403,
    "authority": 403,
    "countersigner": 403,
    "auditor": 200,
    "administrator": 403,
}


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


def said(answer):
    return " ".join(answer.content.decode().split())


def asked_by_all(scene, path):
    return {
        who: given.browser_of(getattr(scene.cast, who)).get(path).status_code
        for who in ROLES
    }


def the_stratum(scene, **more):
    return {
        "noun": "envelope",
        "room": scene.room,
        "lost": "3",
        "probability": "0.90",
        **more,
    }


def test_who_may_take_stock(scene):
    packets(scene, 12)
    take = drawn(scene)
    for path in (
        "/stock-takes/new/",
        *(
            f"/stock-takes/{take.number}/{act}/"
            for act in ("draw", "check", "conclude", "abandon")
        ),
    ):
        assert asked_by_all(scene, path) == TAKERS, path


def test_who_may_read_of_a_stock_take(scene):
    packets(scene, 12)
    take = drawn(scene)
    # Within the legal cell's elections it may be read, of a whole room it may not.
    expected = dict.fromkeys(ROLES, 200) | {"legal": 404, "administrator": 403}
    for page in ("", "sheet.pdf", "report.pdf", "report.csv"):
        assert asked_by_all(scene, f"/stock-takes/{take.number}/{page}") == expected
    assert asked_by_all(scene, "/stock-takes/") == expected | {"legal": 200}


def test_nobody_posts_what_the_role_may_not(scene):
    packets(scene, 12)
    take = drawn(scene)
    for who in ("legal", "authority", "administrator"):
        browser = given.browser_of(getattr(scene.cast, who))
        for act in ("draw", "check", "conclude", "abandon"):
            answer = browser.post(f"/stock-takes/{take.number}/{act}/", {"text": "x"})
            assert answer.status_code == 403, (who, act)
    assert not Sighting.objects.exists()


def test_a_stock_take_of_another_room_is_not_there(scene):
    packets(scene, 12)
    take = drawn(scene)
    stranger = given.appointed(
        scene.cast.administrator, "gil.k", Role.CUSTODIAN, rooms=(scene.other_room,)
    )
    browser = given.browser_of(stranger)
    for page in ("", "check/", "draw/", "report.pdf"):
        answer = browser.get(f"/stock-takes/{take.number}/{page}")
        assert answer.status_code == 404, page
    assert take.number not in said(browser.get("/stock-takes/"))


def test_planned_reckoned_and_frozen(scene, keeper):
    packets(scene, 12)
    page = said(keeper.get("/stock-takes/new/", the_stratum(scene)))
    assert "12 envelopes" in page
    assert "Freeze the list" in page
    address = "/stock-takes/new/?" + "&".join(
        f"{name}={value}" for name, value in the_stratum(scene).items()
    )
    incomplete = keeper.post(address, {"purpose": "Yearly", "seed_announced": ""})
    assert incomplete.status_code == 400
    assert "Say which public numbers will decide" in said(incomplete)
    today = keeper.post(
        address,
        {
            "purpose": "Yearly",
            "seed_announced": "The lottery",
            "seed_on": given.TODAY.isoformat(),
        },
    )
    assert today.status_code == 400
    assert "Nobody may know the numbers yet" in said(today)
    frozen_ = keeper.post(
        address,
        {
            "purpose": "Yearly",
            "seed_announced": "The lottery",
            "seed_on": SEED_ON.isoformat(),
        },
    )
    take = StockTake.objects.get()
    assert frozen_["Location"] == f"/stock-takes/{take.number}/"
    page = said(keeper.get(frozen_["Location"]))
    assert take.list_digest in page
    assert "What it waits for" in page


def test_a_full_count_asks_for_no_numbers(scene, keeper):
    packets(scene, 3)
    given.a_shelved_box(scene)
    address = f"/stock-takes/new/?noun=box&room={scene.room}&lost=1&probability=0.95"
    assert "public numbers" not in said(keeper.get(address)).split("Freeze the list")[1]
    keeper.post(address, {"purpose": "All boxes"})
    take = StockTake.objects.get()
    assert (take.whole, take.state) == (True, "drawn")


def test_a_draw_before_its_day_is_refused_and_after_it_done(scene, keeper, monkeypatch):
    packets(scene, 12)
    take = frozen(scene)
    address = f"/stock-takes/{take.number}/draw/"
    early = keeper.post(address, {"seed": SEED, "again": SEED})
    assert early.status_code == 409
    assert "could be foreseen" in said(early)
    given.clock_at(monkeypatch, SEED_DAY)
    differing = keeper.post(address, {"seed": SEED, "again": SEED + " 46"})
    assert differing.status_code == 400
    assert "Compare both with the source" in said(differing)
    unclear = keeper.post(address, {"seed": "soon", "again": "soon"})
    assert unclear.status_code == 400
    done = keeper.post(address, {"seed": SEED, "again": SEED.replace(" / ", "/")})
    page = said(keeper.get(done["Location"]))
    assert "9319./2.5.8.10.12./9.18.26.34.41.45./" in page
    assert "repeat-draw" in page


def test_looking_with_the_scanner_shows_no_recorded_seal_before(
    scene, keeper, monkeypatch
):
    packets(scene, 12)
    take = drawn(scene)
    given.clock_at(monkeypatch, SEED_DAY)
    address = f"/stock-takes/{take.number}/check/"
    number = numbers_drawn(take)[0]
    page = said(keeper.get(address))
    assert number in page
    assert "W-10" not in page
    unsaid = keeper.post(address, {"scanned": number})
    assert unsaid.status_code == 400
    assert "Read the seal" in said(unsaid)
    other = keeper.post(address, {"scanned": "BX-000001-Q"})
    assert other.status_code == 400
    differs = keeper.post(
        address,
        {"scanned": number, "seal_read": "W-7", "finding": "intact-matches"},
        follow=True,
    )
    assert "is not in order. The seal: intact, number differs." in said(differs)
    again = keeper.post(
        address, {"scanned": number, "seal_read": "W-7", "finding": "intact-matches"}
    )
    assert again.status_code == 409


def test_concluded_with_what_was_not_looked_at(scene, keeper, monkeypatch):
    packets(scene, 12)
    take = drawn(scene)
    given.clock_at(monkeypatch, SEED_DAY)
    address = f"/stock-takes/{take.number}/conclude/"
    assert "counted as not looked at" in said(keeper.get(address))
    assert keeper.post(address, {"text": ""}).status_code == 400
    done = keeper.post(address, {"text": "The rack was blocked."}, follow=True)
    page = said(done)
    assert "The rack was blocked." in page
    assert "Nothing was put in their place" in page
    again = keeper.post(address, {"text": "Once more."})
    assert again.status_code == 409


def test_the_desk_tells_what_a_stock_take_waits_for(scene, keeper, monkeypatch):
    packets(scene, 12)
    take = frozen(scene)
    assert take.number not in said(keeper.get("/"))
    given.clock_at(monkeypatch, SEED_DAY)
    assert f"{take.number}: enter the public numbers" in said(keeper.get("/"))
    later = drawn(scene, who="auditor", purpose="Another")
    desk = said(given.browser_of(scene.cast.auditor).get("/"))
    assert f"{later.number}: {later.sample_size} to be looked at" in desk


def test_its_number_leads_to_its_page(scene, keeper):
    packets(scene, 12)
    take = frozen(scene)
    answer = keeper.get("/find/", {"q": take.number})
    assert answer["Location"] == f"/stock-takes/{take.number}/"
