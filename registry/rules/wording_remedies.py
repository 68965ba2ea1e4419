"""What to do about each thing that stands in the way of opening or disposal."""

_ASK_THE_LEGAL_OFFICER = "Ask the legal officer"
_ASK_FOR_A_NEW_ORDER = (
    "Nothing can be done under it. Ask the authority's desk for a new order."
)
_RESOLVE = "Resolve its open discrepancies, then release it from quarantine."

REMEDIES = {
    "held-by-case": (
        "Wait until the case is finally settled and the time for an appeal is over. If "
        "the court has decided already, ask the legal officer to enter it."
    ),
    "held-by-window": (
        "Wait until that day is over. An appeal that comes before then holds it again."
    ),
    "held-by-unsettled-case": (
        f"{_ASK_THE_LEGAL_OFFICER}: the case lacks an event or a date, or the schedule "
        "says nothing of the time for an appeal."
    ),
    "held-by-order": (
        "Only those who made the order can lift it. The legal officer enters the "
        "lifting when the paper is there."
    ),
    "held-by-order-until": "Wait until that day is over, or until the order is lifted.",
    "held-by-term": (
        "Wait until that day is over. Nobody can shorten this time in the register."
    ),
    "held-by-unknown": (
        f"{_ASK_THE_LEGAL_OFFICER} to find the date and its paper and to enter it. "
        "What is not known is kept."
    ),
    "retention-not-worked-out": (
        "Find out which contest it stands for. Until then it is kept."
    ),
    "kind-without-rules": (
        "Ask the administrator which schedule provides for this content. Until then it "
        "is kept."
    ),
    "no-confirmation": (
        f"{_ASK_THE_LEGAL_OFFICER} to obtain it from the court's registry after the "
        "last window has run out, and to enter it."
    ),
    "confirmation-of-another-contest": (
        f"{_ASK_THE_LEGAL_OFFICER} to obtain one that speaks of this contest."
    ),
    "confirmation-dated-ahead": f"{_ASK_THE_LEGAL_OFFICER} to check its date.",
    "confirmation-too-old": f"{_ASK_THE_LEGAL_OFFICER} to obtain a newer one.",
    "no-permission": (
        "Ask the authority's desk for an order that permits this act and names this "
        "very container."
    ),
    "not-countersigned": "Another person at the authority's desk countersigns it.",
    "countersigned-later": "Have the clock of this machine put right.",
    "not-yet-valid": "Wait until that day.",
    "expired": _ASK_FOR_A_NEW_ORDER,
    "revoked": _ASK_FOR_A_NEW_ORDER,
    "another-act": (
        "One act never implies another. Ask for an order that permits this act."
    ),
    "another-authority": "Ask the authority that the schedule names for an order.",
    "not-covered": (
        "The list was frozen when the order was countersigned. Ask for an order that "
        "names this one as well."
    ),
    "condition-unmet": "Meet the condition, then tick it.",
    "discrepancy-open": "Resolve it with a reason, on its own page.",
    "incident-open": (
        "Follow the incident up on its own page. It is closed, with a reason, once it "
        "was reported or a direction was received."
    ),
    "incident-without-direction": (
        "Report the incident to the authority and enter its direction on the page of "
        "the incident."
    ),
    "quarantined": _RESOLVE,
    "already-disposed": "Nothing more is to be done with it. Check the number.",
    "not-held": "Check the number, and where the container is.",
    "not-present": (
        "It must stand here before anything is done with it. Find it, or have it "
        "brought back, and record that first."
    ),
    "lies-in-box": (
        "Dispose of the whole box; or open the box and take this envelope out first, "
        "each under a permission that names it."
    ),
    "box-not-opened": "Open the box first today, under a permission that names it.",
    "seal-not-checked": (
        "Go to it, read the seal, and record the check; each seal has a check of its "
        "own."
    ),
    "seal-check-ahead": "Have the clock of this machine put right.",
    "seal-check-too-old": "Go to it, read the seal again, and record the check.",
    "seal-not-intact": (
        "It counts as tampered with until the discrepancy is resolved with a reason."
    ),
    "too-few-witnesses": (
        "Name two people who see it from the first container to the last."
    ),
    "witness-is-custodian": "Name somebody else.",
    "no-custodian": "Log in with your own name.",
    "no-method": "Say how it is destroyed.",
    "no-level": "Choose the level that the machine's output was measured to have.",
    "unknown-level": "Choose one from the list.",
    "level-too-coarse": "Use a finer machine.",
}
