"""History of every record: who wrote each version, when, and in which act."""

from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Self

from django.db import models
from simple_history.models import HistoricalRecords


@dataclass(frozen=True)
class ActInHand:
    """The act that is being carried out; the door of the use cases sets it."""

    name: str
    person_id: int | None
    at: datetime


act_in_hand: ContextVar[ActInHand | None] = ContextVar("act_in_hand", default=None)


class NoActInHand(RuntimeError):
    """A record was written outside a use case."""


class RecordHistory(HistoricalRecords):
    """Versions stamped with the act in hand, never with the clock of the moment.

    A record that is saved outside a use case has nobody to answer for it, so it is
    refused here, whatever code does it.
    """

    def create_historical_record(
        self, instance: models.Model, history_type: str, using: str | None = None
    ) -> None:
        act = act_in_hand.get()
        if act is None:
            raise NoActInHand(
                f"{instance._meta.label} may be written only by a use case."
            )
        instance._history_date = act.at  # type: ignore[attr-defined]
        instance._history_user_id = act.person_id  # type: ignore[attr-defined]
        instance._change_reason = act.name  # type: ignore[attr-defined]
        super().create_historical_record(instance, history_type, using)

    def get_history_user(self, instance: models.Model) -> Any:
        """Return who acts; simple_history asks for the person, not for the id."""
        act = act_in_hand.get()
        if act is None or act.person_id is None:
            return None
        version = getattr(instance, self.manager_name).model
        person = version._meta.get_field("history_user").related_model
        return person(pk=act.person_id)


class NeverDeleted(RuntimeError):
    """Somebody asked to delete a record; records end, they are not deleted."""


class RecordQuerySet(models.QuerySet):
    """Rows of records: read freely, written one by one or with their history."""

    def delete(self) -> Any:
        """Refuse; the database refuses as well."""
        raise NeverDeleted(f"{self.model._meta.verbose_name} rows are never deleted.")

    def update(self, **kwargs: Any) -> int:
        """Refuse, since an update of rows writes no history."""
        raise NoActInHand("Rows change through save(), which keeps their history.")

    def numbered(self, number: str) -> Self:
        """The record of this register number."""
        return self.filter(number=number)


class Record(models.Model):
    """A row of the register: a short number, a history, no end by deletion."""

    number = models.CharField(max_length=16, unique=True, editable=False)

    history = RecordHistory(inherit=True)
    objects = RecordQuerySet.as_manager()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.number

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        """Refuse; the database refuses as well."""
        raise NeverDeleted(f"{self.number} is never deleted.")


class NumberSeries(models.Model):
    """The last serial issued for each kind of register number."""

    prefix = models.CharField(max_length=2, primary_key=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.prefix} up to {self.last}"
