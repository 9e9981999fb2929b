"""Every word that the page shows, in one place.

The marked-up ones are filled with ``str.format``; what is in braces stays.
"""

TITLE = "Rimtally"
LEAD = "One photo of your round: every stitch on its rim counted, marked and checked against your pattern."

# Start
DROP = "Drop or choose a photo of the round, or several at once"
DROP_ROUND = "Drop or choose a photo of round {n}"
CAMERA = "Use this device's camera"
CAMERA_LABEL = "Hold the camera straight above the round"
SAMPLES = "Or try one of these"
TIPS = (
    ("Flat and whole", "The whole rim in the picture, right side up, nothing lying on it."),
    ("Plain underneath", "A table or cloth of another colour than the yarn."),
    ("Light from the side", "By a window, phone straight above, as close as the rim allows."),
)
PRIVATE = "Your photo is counted where this page runs, and forgotten when you close this tab. Nothing is passed on."
PRIVATE_BOOK = (
    "Your photo is counted where this page runs, and forgotten when you close this tab, unless you keep it in the"
    " notebook. Nothing is passed on."
)
PRIVATE_HOME = (
    "Your photo stays on this computer. This browser remembers the last one until you go on to another;"
    " what you keep goes into your notebook."
)

# Left in an earlier tab
LEFT_HERE = "You were looking at this"
GO_ON = "Go on with it"
LET_LEFT_GO = "Let it go"

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
AND = " and "
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
ZOOM_IN, ZOOM_OUT, WHOLE = "Closer", "Further away", "Whole round"
DOUBTS = "Look here first"
DOUBT_OPEN = "Show it in the photo"

# The marks as a table
MARKS_TABLE = "The marks as a table"
MARKS_CAPTION = "{n} marks in working order"
MARKS_HEAD = ("Mark", "Near", "What to know")
MARK_FIRST = "the round starts here"
MARK_YOURS = "added by you"
MARK_DOUBT = "place {letter}: {why}"

# The rim laid straight
STRIP = "The rim laid straight, to count along"
STRIP_HINT = "On the straight rim a tap only shows the place in the photo."

# Places in doubt, asked
ASK_SPLIT = "One stitch or two here?"
ASK_LOOP = "Is this a stitch, or the loop?"
ASK_HIDDEN = "Does the loop hide a stitch here?"
ASK_NARROW = "Is this a stitch of its own?"
ASK_RIGHT = "Are the marks right here?"
ONE, TWO = "One", "Two"
YES, NO = "Yes", "No"
STITCH, LOOP = "A stitch", "The loop"
ONLY_LOOP, STITCH_TOO = "Only the loop", "A stitch, too"
AS_MARKED, ONE_FEWER, ONE_MORE = "Yes, as marked", "One fewer", "One more"
ASKED_DETAIL = "Still to look at: {left}."

SLIP = "Mark {marks}, near {clock}"
SLIPS = "Where it most likely went wrong"

# What to do
TAKE_UP = "Take it up in the next round. Work it like this:"
TWIN = "It must match a twin"
SINCE = "Rounds worked since then"

# Your pattern
PATTERN = "Your pattern"
PASTE = "Paste the rounds of one piece"
PASTE_EXAMPLE = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]

or only totals: 6, 12, 18, 24
or a rule: start 6, add 6"""
READ = "Read it"
UK = "UK terms"
PUT_AWAY = "Put the pattern away"
FINDINGS = "Worth a look in the pattern"
LINE = "Line {n}"
MORE_FINDINGS = "and {n} more"
CHOOSE = "The round on the hook"
LET_PHOTO_SAY = "Let the photo say"
LINK = "This page's address now holds the pattern and the round: bookmark it to go on later."
NO_LINK = "The pattern is too long for this page's address. It stays here until you close or reload the page."
HOOK = "On the hook"
ROUND_OF = "Round {n} of {last}"
ROUND_ROW = "Round {n} · {total}"
UNKNOWN = "?"
NO_TOTAL = "total not known"
WHICH = "Which round is it?"
WHICH_HINT = "Choose it here, or let the photo say."
BEFORE = "Round before"
NEXT = "Next round"
NEXT_PHOTO = "Next photo, next round"
LAST_ROUND = "That is the last round of your pattern."
NO_COMPARISON = "Can't compare with the pattern"

# Size and gauge
SIZE = "Size and gauge"
WIDE = "How wide is the piece, edge to edge?"
WIDE_EXAMPLE = "8.5 cm or 3 3/8 in"
COIN = "Or lay a bank card or the mat into the photo, or one of these coins:"
LOOKING = "Looking for a card, a coin or the mat…"
GAUGE = "Gauge"
TO_LENGTH = {100.0: "to 10 cm", 101.6: "to 4 in"}
ROUNDS_HEAD = "rounds"
SIZE_IS = "The piece is {size}"
SENTENCE = "{text}."
LIES = {
    "flat": "It lies flat",
    "a little cupped": "It cups a little",
    "cupped": "It cups",
    "cone": "It rises to a cone",
    "crowded": "It is crowded",
    "ruffled": "It ruffles",
}
MAT = "A mat to print: lay the piece in its middle, and every photo on it has its size."
MAT_PAPER = "Mat, {paper}"
MAT_NAME = "measuring-mat-{paper}.pdf"

# Two alike
ALIKE = "Two alike"
ALIKE_HINT = "Arms, legs, ears: keep this count, photograph the other piece, and see whether they match."
KEEP_FIRST = "Keep this as the first piece"
KEEP_INSTEAD = "Keep this one as the first instead"
FIRST_KEPT = "Kept as the first piece"
FIRST_WAITS = "First piece kept. Now its twin:"
FIRST_WAS = "The first piece"
SECOND = "Photograph the second"
LET_GO = "Let the first piece go"
PAIRS = {"match": "The totals match", "can't say": "Can't say yet whether they match"}
PAIR_OFF = "The totals differ by {n}"

# Several photos
COUNTING_OF = "Counting photo {n} of {all}…"
ALL_EXPECTED = "Every round should hold"
MORE_PHOTOS = "Add more photos"
LEFT_OUT = "The first {most} photos are here; {n} more were left out. Drop those by themselves."
NEEDS_YOU, TO_PUT_RIGHT, COUNTED, AGREES = "Needs you", "To put right", "Counted", "Agrees"
NO_COUNT = "No count"
STATES = {"not sure": "Not sure", "sure": "Sure", "counted by a person": "Counted by you"}
BROKEN_ONE = "something went wrong with it"
OPEN = "Open"
BACK = "Back to all"
SAVE_SHEET = "Save the sheet (CSV)"
SHEET_NAME = "counted-rounds.csv"
PUT_SHEET_AWAY = "Put these photos away"

# Afterwards
SAVE = "Save the marked picture"
SAVE_NAME = "marked-round.jpg"
AGAIN = "Another photo"
UNMADE = "This file could not be made. Nothing was changed: try again."
SAVE_PAGE = "One page to print (PDF)"
SAVE_PAGE_NAME = "counted-round.pdf"

# The notebook
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November"),
    "December",
)
NOTEBOOK = "Notebook"
BOOK_HEAD = "Your notebook"
KEEP = "Keep in the notebook"
KEEP_ALL = "Keep all in the notebook"
KEEPING = "Keeping them…"
KEPT = "Kept"
KEPT_ALL = "All are kept in the notebook."
ENTRY_TITLE = "What it is"
ENTRY_NOTE = "Note"
TO_BOOK = "Open the notebook"
BACK_TO_BOOK = "To the notebook"
BACK_TO_PHOTOS = "To the photos"
EMPTY = (
    "Counts that you keep stand here with photo, marks and your corrections: to find them again, go on with them,"
    " or take them to another device."
)
SEARCH = "Search"
SEARCH_EXAMPLE = "a word, a number, a date"
NOTHING_FOUND = "Nothing with that in it."
FOUND = "{n} kept"
FOUND_ONE = "1 kept"
OFF_BY = {-1: "Short by {n}", 1: "Over by {n}"}
ROUND_N = "round {n}"
MORE = "Show more"
MOVE = "Export, import, clear"
EXPORT = "Export all (zip)"
EXPORT_NAME = "notebook.zip"
EXPORT_HINT = "One zip with the photos, a table for spreadsheets (CSV) and every count as JSON."
IMPORT = "Import a zip that was exported here"
IMPORT_LARGE = "A zip of more than {most} MB comes in with this command, in a terminal:"
IMPORT_COMMAND = "rimtally notebook import {name}"
IMPORTED = "{added} came in, {already} were here already."
IMPORTING = "Looking through the zip…"
DELETE = "Delete for good"
DELETE_ASKED = "Delete for good?"
DELETE_ONE = "Photo, marks and note can't be brought back."
DELETE_MANY = "Photos, marks and notes of {n} counts can't be brought back."
DELETE_DO = "Delete"
DELETE_NOT = "Leave it"
DELETED = "Deleted for good."
DELETE_FOUND = "Delete all {n} for good"
DELETE_FOUND_ONE = "Delete this one for good"
BOOK_TROUBLE = "The notebook can't be opened"
DOOR = "On this server, each notebook opens only to its own code. Nobody else sees what is in yours."
CODE = "The code of your notebook"
CODE_EXAMPLE = "five groups of four"
OPEN_BOOK = "Open it"
BEGIN_BOOK = "Begin a new notebook"
CODE_HEAD = "Write this code down now"
CODE_HINT = "It is shown only this once and kept nowhere, and nothing else opens your notebook."
CODE_NOTED = "I have written it down"
NO_SUCH_BOOK = "No notebook has that code. Look for a letter taken for another: it has no 0 and no 1."
