"""The certificate of a disposal: what is gone, by whose leave, before whose eyes."""

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import date, datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Enclosure, Paper, render
from registry.rules.wording import shown

# Two persons who were there (common practice, no published source).
WITNESSES = 2


class CertificateIncomplete(ValueError):
    """Something without which the paper would certify nothing is missing."""


@dataclass(frozen=True)
class PermissionGiven:
    """The order under which the disposal was done."""

    number: str
    authority: str
    order_ref: str
    dated: date
    valid_until: date
    recorded_by: str
    countersigned_by: str


@dataclass(frozen=True)
class DisposedContainer:
    """One container that is gone, and the reasoning that let it go.

    Attributes:
        retain_through: the last day it had to be kept.
        governed_by: the term, case or order that decided that day.
        why: the reasoning in words, as it stood at the instant of disposal.
        old_covers: numbers of the opened covers that were kept with it and went with
            it, parted by commas.
    """

    number: str
    noun: str
    content_title: str
    station: str
    retain_through: date
    governed_by: str
    why: str
    old_covers: str = ""


@dataclass(frozen=True)
class NotDone:
    """A container of the batch that was not disposed of, and the reason."""

    number: str
    reason: str


@dataclass(frozen=True)
class Certificate:
    """A disposal, as certified.

    Attributes:
        number: the certificate's own.
        batch: the disposal's.
        confirmations: the court registry's words that nothing is pending, one a line.
        level_ordered: particle level of ISO/IEC 21964-1, such as "P-4"; empty where
            the method makes no particles.
        level_achieved: the level measured on a sample; empty where none was measured.
        witnesses: two or more, each with name and post.
        not_done: what was in the batch and still stands.
    """

    number: str
    batch: str
    election: str
    permission: PermissionGiven
    confirmations: tuple[str, ...]
    method: str
    level_ordered: str
    level_achieved: str
    place: str
    disposed_at: datetime
    disposed_by: str
    witnesses: tuple[str, ...]
    containers: tuple[DisposedContainer, ...]
    made_at: datetime
    made_by: str
    not_done: tuple[NotDone, ...] = ()
    remarks: str = ""


def certificate_pdf(certificate: Certificate) -> bytes:
    """Return a disposal certificate as a PDF that carries its list inside.

    Raises CertificateIncomplete without a container, a method or two witnesses.
    """
    _require_whole(certificate)
    listed = canonical_list(certificate.containers)
    shown_facts = {
        "kind": "Certificate of disposal",
        "number": certificate.number,
        "certificate": certificate,
        "facts": _facts(certificate),
        "permission_facts": _permission_facts(certificate.permission),
        "digest": list_digest(certificate.containers),
        "signers": (
            f"Disposed of by: {certificate.disposed_by}",
            *(f"Witness: {witness}" for witness in certificate.witnesses),
            "For the authority",
        ),
    }
    paper = Paper(
        template="documents/certificate.html",
        facts=shown_facts,
        title=f"Certificate of disposal {certificate.number}",
        made_at=certificate.made_at,
        made_by=certificate.made_by,
        enclosures=(
            Enclosure(
                f"{certificate.number}-containers.json",
                listed.decode(),
                "The containers disposed of, as their digest was taken",
            ),
        ),
    )
    return render(paper)


def canonical_list(containers: tuple[DisposedContainer, ...]) -> bytes:
    """Return the list of containers in one form only, as UTF-8 JSON.

    RFC 8785 for what stands here, which is strings alone: keys sorted, no spaces,
    dates as YYYY-MM-DD, old covers only where there are any. The containers keep
    their order.
    """
    rows = [
        {**asdict(container), "retain_through": container.retain_through.isoformat()}
        for container in containers
    ]
    for row in rows:
        if not row["old_covers"]:
            del row["old_covers"]
    return json.dumps(
        rows, ensure_ascii=False, sort_keys=True, separators=(",", ":")
    ).encode()


def list_digest(containers: tuple[DisposedContainer, ...]) -> str:
    """Return the SHA-256 of the canonical list, in hexadecimal."""
    return hashlib.sha256(canonical_list(containers)).hexdigest()


def _require_whole(certificate: Certificate) -> None:
    named = {name.strip().casefold() for name in certificate.witnesses if name.strip()}
    if len(named) < WITNESSES:
        raise CertificateIncomplete(
            "A certificate of disposal names two different witnesses who were there."
        )
    if not certificate.method.strip():
        raise CertificateIncomplete(
            "A certificate of disposal says by which method the containers were "
            "disposed of."
        )
    if not certificate.containers:
        raise CertificateIncomplete(
            "A certificate of disposal lists at least one container."
        )


def _facts(certificate: Certificate) -> tuple[tuple[str, str], ...]:
    levels = (
        ("Particle level ordered", certificate.level_ordered),
        ("Particle level achieved", certificate.level_achieved or "not measured"),
    )
    return (
        ("Election", certificate.election),
        ("Disposal", certificate.batch),
        ("Containers disposed of", str(len(certificate.containers))),
        ("Method", certificate.method),
        *(levels if certificate.level_ordered else ()),
        ("Place", certificate.place),
        ("Time", written_moment(certificate.disposed_at)),
        ("Disposed of by", certificate.disposed_by),
        *(("Witness", witness) for witness in certificate.witnesses),
    )


def _permission_facts(permission: PermissionGiven) -> tuple[tuple[str, str], ...]:
    return (
        ("Permission", permission.number),
        ("Authority", permission.authority),
        ("Order", f"{permission.order_ref}, dated {shown(permission.dated)}"),
        ("Valid until", shown(permission.valid_until)),
        ("Recorded by", permission.recorded_by),
        ("Countersigned by", permission.countersigned_by),
    )
