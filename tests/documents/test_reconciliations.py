"""The papers of reconciliation and of seals, read back from the PDF."""

import io

import pytest
from pypdf import PdfReader

from registry.usecases import material_looks, reconciliation
from tests import given
from tests.usecases.test_materials import issued

pytestmark = pytest.mark.django_db


def read(paper):
    pages = PdfReader(io.BytesIO(paper.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.fixture
def scene():
    scene = given.a_scene()
    issued(scene)
    given.a_shelved_box(scene)
    return scene


def made(scene, make):
    return make(
        contest=scene.contests["11"],
        form="pdf",
        actor=scene.cast.auditor,
        at=given.NOW,
    )


def test_the_report_of_a_reconciliation(scene):
    paper = made(scene, reconciliation.make_reconciliation_report)
    text = read(paper)
    assert paper.file_name.startswith(f"reconciliation-{scene.contests['11']}")
    assert "Poll slips 4 1 1 1 1 0 0 0 0 3" in text
    assert "Poll slips of station 002 Net Loft Hall" in text
    assert "Computed dates are an aid" in text
    for signer in ("Custodian", "Returning officer", "Checked by"):
        assert signer in text


def test_the_account_of_seals(scene):
    text = read(made(scene, material_looks.make_material_report))
    assert "PS-0001 to PS-0006" in text
    assert "PS-0002 to PS-0006: 5 seals are issued and neither applied" in text
    assert "Spoilt seals and fragments are kept" in text
    assert "Returning officer" in text
