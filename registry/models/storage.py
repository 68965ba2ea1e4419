"""Strong rooms, their bays and shelves."""

from typing import ClassVar

from django.db import models

from registry.models.history import Record


class StrongRoom(Record):
    """A locked room in which boxes are kept."""

    name = models.CharField(max_length=120, unique=True)
    site = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return self.name


class Bay(Record):
    """A run of shelves in a strong room."""

    room = models.ForeignKey(StrongRoom, on_delete=models.PROTECT, related_name="bays")
    code = models.CharField(max_length=20)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["room", "code"], name="one_bay_per_room_code"
            )
        ]

    def __str__(self) -> str:
        return f"{self.room}, bay {self.code}"


class Shelf(Record):
    """A shelf of a bay; its capacity is counted in boxes."""

    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="shelves")
    code = models.CharField(max_length=20)
    capacity = models.PositiveIntegerField()
    level = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="From the floor, 1 is the lowest."
    )

    class Meta:
        verbose_name_plural = "shelves"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["bay", "code"], name="one_shelf_per_bay_code"
            )
        ]

    def __str__(self) -> str:
        return f"{self.bay}, shelf {self.code}"
