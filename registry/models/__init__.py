"""The records of the registry: what is true, and what the database refuses."""

from registry.models.access import AccessEntry, AccessShown
from registry.models.authority import (
    Certificate,
    DisposalBatch,
    DisposalItem,
    Opening,
    Permission,
    PermissionItem,
)
from registry.models.containers import (
    CONTENT_TITLES,
    Box,
    ContainerState,
    Envelope,
    MarkedContainer,
    Paper,
    Whereabouts,
    written_field,
)
from registry.models.custody import CustodyMovement, Intake
from registry.models.discrepancies import DISCREPANCY_TITLES, Discrepancy
from registry.models.doors import DoorPresence, DoorPurpose, DoorSession
from registry.models.elections import (
    ClosedDays,
    Contest,
    CourtCalendar,
    Election,
    LimitExtension,
    PollingStation,
    RetentionSchedule,
    ScheduleChange,
    UnitSet,
)
from registry.models.fallback import FallbackForm, FallbackUse, FormKind
from registry.models.history import (
    ActInHand,
    NeverDeleted,
    NoActInHand,
    NumberSeries,
    Record,
    act_in_hand,
)
from registry.models.incidents import Incident, IncidentItem, IncidentKind, IncidentStep
from registry.models.inspections import ClimateReading, InspectionRound, Sighting
from registry.models.keys import Key, KeyHolding, KeyState, Lock
from registry.models.law import (
    Case,
    CaseEvent,
    CaseKind,
    CaseLink,
    CaseScope,
    Document,
    NoPetitionConfirmation,
    OrderScope,
    PreservationOrder,
)
from registry.models.materials import MaterialEnd, MaterialIssue, MaterialKind
from registry.models.moves import Production, Transfer, TransferItem
from registry.models.people import ElectionDesk, RoomCharge, User
from registry.models.sealing import SealingAnswer, StationSealing
from registry.models.seals import (
    SEAL_TITLES,
    Seal,
    SealAct,
    SealEvent,
    SealFinding,
    SealState,
)
from registry.models.stock import ChargeHandOver, StockTake, StockTakeItem
from registry.models.storage import Bay, Shelf, StrongRoom

__all__ = [
    "CONTENT_TITLES",
    "DISCREPANCY_TITLES",
    "SEAL_TITLES",
    "AccessEntry",
    "AccessShown",
    "ActInHand",
    "Bay",
    "Box",
    "Case",
    "CaseEvent",
    "CaseKind",
    "CaseLink",
    "CaseScope",
    "Certificate",
    "ChargeHandOver",
    "ClimateReading",
    "ClosedDays",
    "ContainerState",
    "Contest",
    "CourtCalendar",
    "CustodyMovement",
    "Discrepancy",
    "DisposalBatch",
    "DisposalItem",
    "Document",
    "DoorPresence",
    "DoorPurpose",
    "DoorSession",
    "Election",
    "ElectionDesk",
    "Envelope",
    "FallbackForm",
    "FallbackUse",
    "FormKind",
    "Incident",
    "IncidentItem",
    "IncidentKind",
    "IncidentStep",
    "InspectionRound",
    "Intake",
    "Key",
    "KeyHolding",
    "KeyState",
    "LimitExtension",
    "Lock",
    "MarkedContainer",
    "MaterialEnd",
    "MaterialIssue",
    "MaterialKind",
    "NeverDeleted",
    "NoActInHand",
    "NoPetitionConfirmation",
    "NumberSeries",
    "Opening",
    "OrderScope",
    "Paper",
    "Permission",
    "PermissionItem",
    "PollingStation",
    "PreservationOrder",
    "Production",
    "Record",
    "RetentionSchedule",
    "RoomCharge",
    "ScheduleChange",
    "Seal",
    "SealAct",
    "SealEvent",
    "SealFinding",
    "SealState",
    "SealingAnswer",
    "Shelf",
    "Sighting",
    "StationSealing",
    "StockTake",
    "StockTakeItem",
    "StrongRoom",
    "Transfer",
    "TransferItem",
    "UnitSet",
    "User",
    "Whereabouts",
    "act_in_hand",
    "written_field",
]
