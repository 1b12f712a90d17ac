"""What outcomes of runs and readings are called wherever a person reads them."""

OUTCOMES = {
    "nothing": "Nothing",
    "part": "A part of it out",
    "prepared": "Fish prepared for the next run",
    "top_damaged": "Top damaged",
    "reads_workable": "It reads workable",
    "reads_stubborn": "It reads stubborn",
    "recovered": "Fish out",
    "string_lost": "Fishing string lost",
    "hole_lost": "Hole lost",
    "unfinished": "Stopped half way",
    "lost": "String or hole lost",
}
