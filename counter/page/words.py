"""Every word that the page shows, in one place.

The marked-up ones are filled with ``str.format``; what is in braces stays.
"""

TITLE = "Rimtally"
LEAD = "One photo of your round: every stitch on its rim counted, marked and checked against your pattern."

# Start
DROP = "Drop or choose a photo of the round"
CAMERA = "Use this device's camera"
CAMERA_LABEL = "Hold the camera straight above the round"
SAMPLES = "Or try one of these"
TIPS = (
    ("Flat and whole", "The whole rim in the picture, right side up, nothing lying on it."),
    ("Plain underneath", "A table or cloth of another colour than the yarn."),
    ("Light from the side", "By a window, phone straight above, as close as the rim allows."),
)
PRIVATE = "Your photo is counted where this page runs and forgotten when you leave. Nothing is kept or passed on."

# While it works
READING = "Opening the photo…"
COUNTING = "Finding the rim and counting its stitches…"

# No count
REFUSED = "This photo can't be counted"
BROKEN = "Something went wrong with this photo"
BROKEN_HINT = "Nothing is lost on your side. Try it once more, or take another photo."

# Count
STITCHES = "stitches"
TOTAL = "{n} stitches"
MARKED = "{n} marked"
OR = " or "
JOIN = " · "
PHOTO_SAYS = "The photo shows"
YOU_SAY = "Your count"
SURE = "Sure"
SURE_DETAIL = "{p} certain"
NOT_SURE = "Not sure"
NOT_SURE_DETAIL = "Look at the marks; your eye decides."
YOURS = "Counted by you"
YOURS_DETAIL = "The photo by itself says {numbers}."
ROUNDS = "{n} rounds"
ROUND = "1 round"
IN_PROGRESS = "Round under way: {done} made, {left} left to work into."
CONFIRM = "I looked: it is {n}"
LOOK = "Have a look first"
EXPECTED = "The round should hold"
EXPECTED_NONE = "not set"
EXPECTED_HELP = "Your pattern's total for this round. Leave it empty if you only want the count."

# Verdict
VERDICTS = {"agrees": "It agrees", "can't say": "Can't say yet"}

# Rim picture
PICTURE = "Photo of the round with {n} numbered marks"
MARK = "Mark {n} of {total}, near {clock}"
HINT = "Tap a gap to add a mark, tap a mark to remove it, drag one to move it."
KEYS = "Keys: arrows walk the rim · Del removes · Ins adds · Ctrl+Z undoes · Ctrl+Y redoes · + and − zoom · 0 shows all"
UNDO, REDO, RESTART = "Undo", "Redo", "Back to the photo's own marks"
ZOOM_IN, ZOOM_OUT, WHOLE = "Closer", "Further away", "Whole photo"
DOUBTS = "Look here first"
DOUBT = "Mark {mark}, near {clock}"
DOUBT_OPEN = "Show it in the photo"

# Afterwards
SAVE = "Save the marked picture"
SAVE_NAME = "marked-round.jpg"
AGAIN = "Another photo"
