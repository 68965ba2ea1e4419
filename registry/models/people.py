"""People who hold a post in the registry."""

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from registry.models.history import NeverDeleted, RecordHistory
from registry.rules.powers import ROLE_TITLES, Role


class UserManager(BaseUserManager):
    """People, found by the name they log in with."""


class User(AbstractBaseUser):
    """A person with one post; accounts end, they are never deleted or shared."""

    # Django would write this at each log-in, outside any use case; the access
    # entries tell the same and more.
    last_login: ClassVar[None] = None  # type: ignore[misc]

    number = models.CharField(max_length=16, unique=True, editable=False)
    username = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    post = models.CharField(max_length=160, blank=True)
    role = models.CharField(
        max_length=20, choices=[(r.value, ROLE_TITLES[r]) for r in Role]
    )
    is_active = models.BooleanField(default=True)

    # The password is left out: a history of hashes would outlive its use.
    history = RecordHistory(excluded_fields=["password"])
    objects = UserManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name", "role"]

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(role__in=[r.value for r in Role]),
                name="person_has_a_known_role",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        """Refuse; the database refuses as well."""
        raise NeverDeleted("People are never deleted; end their appointment instead.")


class RoomCharge(models.Model):
    """A custodian's charge of a strong room, from a day until it is ended."""

    person = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="room_charges"
    )
    room = models.ForeignKey(
        "registry.StrongRoom", on_delete=models.PROTECT, related_name="charges"
    )
    ended = models.BooleanField(default=False)

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "room"], name="one_charge_per_person_and_room"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} has charge of {self.room}"


class ElectionDesk(models.Model):
    """A legal officer's work for an election, until it is ended."""

    person = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="election_desks"
    )
    election = models.ForeignKey(
        "registry.Election", on_delete=models.PROTECT, related_name="desks"
    )
    ended = models.BooleanField(default=False)

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "election"], name="one_desk_per_person_and_election"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} works for {self.election}"
