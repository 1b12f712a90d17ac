"""Sentences of the AFE supplement as they are written: with fields, and those that never change.

What fills the fields and which of them are said is in `econ.reports.supplement.words`. Text of a
user may fill a field of those that are plain text; no template of a formula has a place for it.
"""

from __future__ import annotations

TEMPLATES = {  # of the request and of what is in it; what is shared with other reports is there
    "approve": "You are asked to approve {gross} {currency} gross{net}; the total becomes {total}, "
    "{percent}; P90 of the total {p90}{reply}.",
    "approve_nets": ", of which each partner's net stands below",
    "approve_own": "You are asked to approve {net} {currency} net for your interest, of {gross} "
    "gross; the total becomes {total} gross, {percent}, and your share of it {own}{p90}{reply}.",
    "approve_own_p90": "; P90 of your share {p90}",
    "approve_percent": "{percent} or {change} against the {approved} approved",
    "approve_new": "the operator names no line of an authority, so that nothing counts as approved",
    "approve_reply": "; reply by {reply}",
    "p90_below": "The P90 is below the total because the total takes every run as failed and the "
    "fallback on top, while in {chance} of the cases no fallback is needed: more than the total is "
    "spent in fewer than 1 case of 10.",
    "p90_above": "The P90 is above the total because the total takes every run as failed and the "
    "fallback on top, but both at their mean cost: more than the total is spent in over 1 case of "
    "10, and that would need another supplement.",
    "p90_above_lapses": "The P90 is above the total because the total takes the fallback, and what "
    "lapses with it, at their means: with the fish out, or by another fallback, more of the "
    "approved work is still to come. More than the total is spent in over 1 case of 10, and that "
    "would need another supplement.",
    "p90_below_stop": "The P90 is below the total because a few dear cases raise the mean at which "
    "the total takes the fallback: more than the total is spent in fewer than 1 case of 10.",
    "p90_above_stop": "The P90 is above the total because the total takes the fallback at its mean "
    "cost: more than the total is spent in over 1 case of 10, and that would need another "
    "supplement.",
    "p90_same": "The P90 is the total.",
    "dearest": " By the dearest of the fallbacks, in {chance} of all cases, the total becomes "
    "{total}, and what is over the total granted needs another supplement.",
    "fish_out": " With the fish out, in {chance} of all cases, nothing lapses, and the total "
    "becomes {out} on average.",
    "asked_run": "In the amount, and the first run: {run}.",
    "asked_none": "No run is in the amount. As listed the runs do not pay, and what is asked for "
    "goes by the list; the verdict is by a plan, which begins with {run}. To ask for the plan, "
    "list its runs in its order and make this paper again.",
    "asked_plug_back": "Asked for: authority to plug back and sidetrack, without a further run: "
    "{fallback}.",
    "asked_first": "In the amount, and done first: {first}.",
    "asked_plan": "At most {limit}; within the stop rule the operator may leave out runs or change "
    "their order after each outcome, and what goes beyond needs another vote. "
    "Amounts and chances here are those of the order listed.",
    "reason": "Why this and not the next best: from now on it costs {one.mean:,.0f} on average, "
    'P90 {one.p90:,.0f}, against {two.mean:,.0f}, P90 {two.p90:,.0f}, for "{other}"{given_up}. '
    "{plan}All options: sheet Choices.",
    "reason_plan": "The plan, which within the same runs may leave out one or change their order, "
    "costs {mean:,.0f} on average, brings the fish in {chance} and is what is followed. ",
    "reason_given_up": ", the value of the well that a fallback gives up counted as a cost",
    "reason_beyond": "A plan of up to {runs} costs {mean:,.0f} on average and brings the fish in "
    "{chance}; what of it goes beyond the stop rule needs another vote. ",
    "mixed": "whichever costs least where it is needed{counted}, of all cases {each}",
    "mixed_counted": ", the value of the well given up counted as a cost",
    "asked_gives_up": "In what is granted the operator may give up value of the well. It states "
    "that value, net of the work that is then saved, as {each} on average. It is compared and not "
    "spent, and is in no amount here; a partner who wants a vote of its own before it says so as "
    "its counter-proposal.",
    "asked_reading": "{place}: a measurement in the hole before the next run is chosen, {reading}, "
    "{hours} h, {price}; it saves {worth} on average before that price. Chances and the "
    "other amounts here are those without it.",
    "reading_advised": "Advised before it, and in the amount as contingency",
    "reading_first": "In the amount as contingency, and done first",
    "asked_duties": "Safety and the duties of a source are in the amount only where the operator "
    "has put them into the hours and charges that it states. Which runs the licensee has agreed to "
    "is not stated: ask for the letter ({who}). The wait for the approval of a plug over the "
    "source is ",
    "asked_care": "What the dangers in the fish ask for (sheet Choices) is in the amount only "
    "where the operator has put it into the hours and charges that it states.",
    "asked_approval": "in slice 2, with {hours} h.",
    "asked_no_approval": "in no amount, because it is not stated either: each day of it costs "
    "{day} {currency} at the spread.",
    "asked_new": "Of the amount asked, {released} was approved before, {where}{less}; {change} is "
    "new money.",
    "asked_less": " ({given}, less {over} that fishing so far and the approved work take beyond "
    "what was approved for them)",
    "asked_all_new": "All of the amount asked is new money.",
    "asked_authority": "The operator's file has {given} as granted for this event from now on. "
    "That is not taken off here: what partners have granted of it on this AFE belongs under "
    "earlier supplements, and of the rest ask {who}.",
    "asked_none_new": "Nothing of the amount asked is new money: it was approved before, {where}.",
    "asked_log": "The log has {made} made before this issue, for {spent}: that is in the total and "
    "not in the amount asked. No earlier supplement is stated. If one was granted, its amounts and "
    "the next number belong on this paper. If none was, it is not stated whether consent takes a "
    "share of what those runs cost: ask {who}.{beyond}",
    "asked_beyond": " {made} of them {was} made although a stop was advised then (sheet Choices).",
    "waiting_not_stated": "Not in the amount asked: the rig standing by while the reply is waited "
    "for, {cost} {currency} gross{reply} if nothing else is done. Whether the work goes on until "
    "then is not stated: ask the operator.",
    "waiting_works_on": "The work goes on while the reply is waited for, as the operator states. "
    "Were the rig to stand by instead{reply}, it would cost {cost} {currency} gross more.",
    "waiting_stands_by": "The rig stands by while the reply is waited for, as the operator states: "
    "{cost} {currency} gross{reply}, which is not in the amount asked.",
    "waiting_until": " until {reply}",
    "trigger_not_stated": "The trigger test stands on the total without the rig standing by, "
    "{percent} against what is approved: {state}. With it, {with_wait}: {with_state}; the rig "
    "waits only where the work does not go on before the reply.{vote}",
    "trigger_works_on": "The trigger test: {percent} against what is approved, {state}.{vote}",
    "trigger_stands_by": "The trigger test stands on the total without the rig standing by, "
    "{percent} against what is approved: {state}. With it, {with_wait}: {with_state}.{vote}",
    "trigger_vote": " A vote is asked within the trigger too, because fishing or a sidetrack was "
    "not approved (common practice, no source; the clause decides).",
    "liable": "Own share of {first}: {one}; of {second}: {two}; contingency: {more}; in all {all}.",
    "approve_again": "Run econ again before you sign: {reason}.",
    "approve_bad": "Do not sign: {bad}.",
}
OPTIONS = {
    "fallback": "Now: {name}",
    "limit": "Fish to the limit, then the fallback",
    "end": "Fish to the end of the program",
    "plan": "The plan, first {name}",
    "reading": "Read first: {name}",
    "suspend": "Suspend, the rig on standby",
    "nothing": "No answer until the reply is due",
}
SHOWN = (
    "Odds and the plan are shown, not recomputed: they do not follow a change of a price. Who "
    "doubts them changes the scenario and runs the program again, or turns them on the what-if "
    "page."
)
PERCENTILES = (
    "P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %. Reserves are quoted "
    "the other way round. Percentiles of lines must not be added; means may."
)
ONE_SLICE = (
    "Granted: the mean where it is drawn. A P90 is not exceeded 9 times in 10; P90s of slices "
    "never sum, and that of the total is worked out for itself."
)
DEADLINE = (
    "All operations are to end by {by}. They are late in {chance} of all cases, and what that "
    "costs is in slices 1b and 2."
)
RULE = {True: "Stop rule: whichever comes first", False: "No further run is asked for"}
MIXED = "   of 2: {name}"  # a fallback below its slice
WHOLE = (
    "Gross amounts are in whole units of currency, and what is shown adds up to its sums; nets are "
    "to the last decimal and add up as well; shares of a P90 are rounded each by itself. Amounts "
    "before rounding stand on the sheets Estimate and Rounding."
)
SLICED = (
    "1b is drawn instead of 2. Granted: 1a if every run to the limit fails, 2 at its mean over all "
    "cases that need it, those with a string or hole lost among them. On average: chance x mean, "
    "contingency in none. A P90 is that of the slice where it is drawn, so that of 1a may lie "
    "below or above what is granted; P90s never sum. 1a alone leaves the fish in the hole."
)
STOPPING = (
    "Fishing also stops when the fish is out, or string or hole is lost; a run in the hole is "
    "finished. Moments are of the issue. The days that the runs take are an expectation; what "
    "binds is the count of runs, the last start and the money. The money is slice 1a as granted, "
    "whose P90 may be higher{measured}. Where the money is reached "
    "first, no further run begins without another vote, and the fallback follows as granted. "
    "Chances and amounts here are those of the count of runs alone."
)
MEASURED = ", and the measurement that is advised"
GETTING_OFF = (
    " Getting off the fish, once, where fishing stops, is in the money with {own:,.0f} {currency}, "
    "so that runs may use {runs:,.0f}, and in none of the days."
)
QUANTITIES = (
    "A row is the mean of a quantity, or of a quantity times prices that are ranges, over the "
    "draws of the issue. Factor: the prices that are single numbers or edited; 0 where another "
    "row of the product counts. Cost of a limit: the sum of factor x row."
)
SPENT = (
    "Money spent before the costs are counted from is on every branch. It stands in the cost table "
    "and enters no comparison."
)
NOT_COVERED = (
    "What an insurer, a tool owner or another third party may pay back or claim, but for what is "
    "shown below the line.",
    "Lost or deferred production, lost reservoir access, effects on the rig schedule.",
    "Injury, spill, damage to reputation, penalties.",
    "Trouble after the well is back at depth, and trouble of another kind than listed here.",
    "Taxes, carried interests and back-in after payout: the nets are plain working interests.",
)
QUESTIONS = (
    "What a partner loses who does not consent to slice 2, and who then carries that "
    "interest, is in the agreement: read it before the vote.",
    "With the rig standing, a vote costs the spread for as long as it takes. Slice 2 is therefore "
    "asked for now, to take effect without a further vote if the stop rule is met.",
)
