"""The sentences of keeping and releasing; registry.rules.wording looks here too."""

RETENTION_SENTENCES = {
    # registry.rules.cases
    "case.event": "Case {case}: {event} on {on}, in the {court}.",
    "case.event-late": (
        "Case {case}: {event} on {on}, in the {court}; the register learnt of it on "
        "{recorded_on}. It counts from {on}."
    ),
    "case.event-struck": (
        "Case {case}: “{event}” on {on}, in the {court}, was entered in error and has "
        "been struck; it counts for nothing."
    ),
    "case.pending": (
        "Case {case} ({title}) is pending in the {court}, {event} on {on}: it holds "
        "without an end date."
    ),
    "case.window": (
        "Case {case} ({title}), {event} on {on} in the {court}, is not settled before "
        "{through} is over: {window} ({clause}, {source})."
    ),
    "case.window-cannot-be-counted": (
        "Case {case} ({title}), {event} on {on} in the {court}: {window} ({clause}, "
        "{source}) cannot be counted. {problem} Until it can, the case holds."
    ),
    "case.no-window": (
        "Case {case} ({title}), {event} on {on} in the {court}: the schedule "
        "“{schedule}”, version {version}, does not say how long an appeal may come. "
        "Keep until the last court has decided or the schedule says so."
    ),
    "case.last-court": (
        "Case {case} ({title}), {event} on {on} by the {court}, from which the "
        "schedule knows no further window: it holds through that day."
    ),
    "case.overtaken": (
        "Case {case}: the decision of {on} in the {court} is overtaken by a later one."
    ),
    "case.without-events": (
        "Case {case} ({title}) is entered without any event: what happened is not "
        "known, so it holds without an end date."
    ),
    "case.expected": (
        "Case {case} ({title}) is known; {event} in the {court} is dated {on}, which "
        "lies ahead: it holds already, without an end date."
    ),
    "case.not-begun": (
        "Case {case} ({title}): no event counts yet on this day, so it holds nothing."
    ),
    # registry.rules.retention
    "term.trigger": (
        "{contest}: {event} on {on}; it bears on “{term}” ({clause}, {source})."
    ),
    "term.trigger-unknown": (
        "{contest}: no date is known for the {event}, so “{term}” ({clause}, {source}) "
        "cannot be counted; unknown means keep."
    ),
    "term.trigger-ahead": (
        "{contest}: the {event} is dated {on}, which lies ahead; a day to come starts "
        "nothing, so “{term}” ({clause}, {source}) cannot be counted; unknown means "
        "keep."
    ),
    "term.cannot-be-counted": (
        "“{term}” ({clause}, {source}) cannot be counted; unknown means keep. {problem}"
    ),
    "term.class-not-in-schedule": (
        "The schedule “{schedule}”, version {version}, says nothing of {kind}; unknown "
        "means keep."
    ),
    "term.ends": "“{term}” ({clause}, {source}): keep through {through}.",
    "order.without-end": (
        "Preservation order {order} ({title}) holds from {from_on} until it is lifted."
    ),
    "order.until": (
        "Preservation order {order} ({title}) holds from {from_on} through {until_on}."
    ),
    "order.lifted": (
        "Preservation order {order} ({title}) held from {from_on} and was lifted on "
        "{lifted_on}; that day is still kept."
    ),
    "order.ends-before-it-begins": (
        "Preservation order {order} ({title}) is entered as ending on {until_on}, "
        "before it begins on {from_on}: it holds without an end date until this is "
        "corrected."
    ),
    "retention.free-from": (
        "Kept through {through}, that day included; disposal may come from "
        "{free_from}, never earlier, where nothing else stands in the way."
    ),
    "retention.case-pending-no-end": (
        "Keep without an end date: {governing} is pending."
    ),
    "retention.preservation-order-no-end": (
        "Keep without an end date: {governing} holds until it is lifted."
    ),
    "retention.unknown-input-no-end": (
        "Keep without an end date: what {governing} needs is not known."
    ),
    "retention.appeal-window-no-end": (
        "Keep without an end date: {governing} was decided, but it cannot be said when "
        "it is settled."
    ),
    "retention.appeal-window-ends": (
        "Keep through {through}: {governing} was decided, but is not settled before "
        "that day is over; disposal may come from {free_from} at the earliest."
    ),
    "retention.preservation-order-ends": (
        "Keep through {through}: {governing} holds until then; disposal may come from "
        "{free_from} at the earliest."
    ),
    "retention.term-ends": (
        "Keep through {through}: {governing} runs until then; disposal may come from "
        "{free_from} at the earliest."
    ),
    "retention.over": (
        "The time of keeping ended on {through} with {governing}; disposal may come "
        "from {free_from} where nothing else stands in the way."
    ),
    # registry.rules.disposals
    "disposal.held-by-case": (
        "{container} must be kept: {governing} is pending, without an end date."
    ),
    "disposal.held-by-window": (
        "{container} must be kept through {through}: {governing} was decided, but is "
        "not settled before that day is over."
    ),
    "disposal.held-by-unsettled-case": (
        "{container} must be kept: {governing} was decided, but it cannot be said when "
        "it is settled."
    ),
    "disposal.held-by-order": (
        "{container} must be kept: {governing} holds until it is lifted."
    ),
    "disposal.held-by-order-until": (
        "{container} must be kept through {through}: {governing} holds until then."
    ),
    "disposal.held-by-term": (
        "{container} must be kept through {through}: {governing} still runs."
    ),
    "disposal.held-by-unknown": (
        "{container} must be kept: what {governing} needs is not known."
    ),
    "disposal.retention-not-worked-out": (
        "{container}: nothing is known of how long it must be kept; unknown means keep."
    ),
    "disposal.kind-without-rules": (
        "The schedule “{schedule}”, version {version}, says nothing of {kind}; such a "
        "container may not be disposed of."
    ),
    "disposal.no-confirmation": (
        "No confirmation of the court's registry is on file that no petition or appeal "
        "is pending ({clause})."
    ),
    "disposal.confirmation-of-another-contest": (
        "Confirmation {confirmation} speaks of {contest}, not of {wanted}."
    ),
    "disposal.confirmation-dated-ahead": (
        "Confirmation {confirmation} is dated {dated}, which lies ahead of {on}."
    ),
    "disposal.confirmation-too-old": (
        "Confirmation {confirmation}, dated {dated}, speaks of the time through "
        "{covers_through}; it must be given after {needed} and speak of the time "
        "through that day ({clause})."
    ),
    "disposal.no-permission": "No permission for this act is on file.",
    "disposal.not-countersigned": (
        "Permission {permission} has no force: a second person has not countersigned "
        "it."
    ),
    "disposal.countersigned-later": (
        "Permission {permission} was countersigned only on {countersigned_on}, after "
        "{on}."
    ),
    "disposal.not-yet-valid": (
        "Permission {permission} is valid from {valid_from} only."
    ),
    "disposal.expired": "Permission {permission} expired after {valid_until}.",
    "disposal.revoked": "Permission {permission} was revoked on {revoked_on}.",
    "disposal.another-act": (
        "Permission {permission} is for another act: it permits “{permitted}”, not "
        "“{wanted}”."
    ),
    "disposal.another-authority": (
        "Permission {permission} is of the {authority}; to {act} {state} is for the "
        "{entitled} to permit ({clause})."
    ),
    "disposal.not-covered": "Permission {permission} does not name {container}.",
    "disposal.condition-unmet": (
        "Permission {permission} has a condition that is not met: {condition}."
    ),
    "disposal.discrepancy-open": (
        "{container} has an open discrepancy, {discrepancy}; it must be resolved first."
    ),
    "disposal.incident-open": (
        "{container} is touched by an open incident, {incident} ({title}); until that "
        "is closed nothing is destroyed."
    ),
    "disposal.incident-without-direction": (
        "{container} is touched by an open incident, {incident} ({title}); until the "
        "authority has given its direction, nothing is opened or taken out."
    ),
    "disposal.quarantined": "{container} is in quarantine.",
    "disposal.already-disposed": "{container} has already been disposed of.",
    "disposal.not-held": "{container} is not held here: its state is “{state}”.",
    "disposal.not-present": "{container} is not present: it is {whereabouts}.",
    "disposal.lies-in-box": "{container} lies in box {box}, which is to be kept whole.",
    "disposal.box-not-opened": (
        "{container} lies in box {box}, which has not been opened today."
    ),
    "disposal.seal-not-checked": (
        "{container}: its seal has not been checked; where it bears several, each "
        "must be."
    ),
    "disposal.seal-check-ahead": (
        "{container}: its seal check is dated {checked_on}, which lies ahead of {on}."
    ),
    "disposal.seal-check-too-old": (
        "{container}: its seal was last checked on {checked_on}; the check may be "
        "{days} old at most, so check it again."
    ),
    "disposal.seal-not-intact": (
        "{container}: its seal is not intact. Stop, do not touch it, call the second "
        "key holder."
    ),
    "disposal.too-few-witnesses": (
        "Two different witnesses must be named; there is {found}."
    ),
    "disposal.witness-is-custodian": (
        "{witness} is the custodian and cannot be a witness of this disposal."
    ),
    "disposal.no-custodian": "The custodian who disposes is not named.",
    "disposal.no-method": "The method of destruction is not named.",
    "disposal.no-level": (
        "The level of destruction is not named; for “{kind}” the schedule asks for "
        "{asked} or finer."
    ),
    "disposal.unknown-level": (
        "“{level}” is no level of destruction; name one of P-1 to P-7, {asked} or "
        "finer."
    ),
    "disposal.level-too-coarse": (
        "Level {level} leaves larger pieces than the schedule allows; for “{kind}” it "
        "asks for {asked} or finer."
    ),
}
