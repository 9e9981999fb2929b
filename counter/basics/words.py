"""Every word that a person reads, in one place: another language is this file anew, beside it (`language.py`).

Sentences stand whole. What is in braces is filled in with ``str.format`` and
keeps its name, wherever in the sentence it comes to stand; keys of tables stay
as they are, for data goes by them. What a language does by its grammar
(plurals, lists, the first letter of a sentence) is done by the functions at
the end, which may be written anew as long as they take the same arguments.

What stays in the code: the signs of written rounds (sc, inc), names of fields
and columns that programs read, the command line's own help, and what only
programmers see.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

#: Of this file (BCP 47), what it calls itself, and what is written beside the choice of one.
LANGUAGE, LANGUAGE_NAME, LANGUAGES = "en", "English", "Language"

TITLE = "Rimtally"
LEAD = "One photo of your round, and every stitch is counted."

# Start
DROP = "A photo of the round, or several at once"
DROP_ROUND = "A photo of round {n}"
TAKE = "Take a photo"
CHOOSE_PHOTO = "Choose"
DROP_HERE = "Drop a photo here, or several"
MOST_SIZE = "Up to 25 MB each"
CAMERA = "Use this device's camera"
CAMERA_LABEL = "Hold the camera straight above the round"
SAMPLES = "Or try one of these"
TIPS_HEAD = "A photo that counts well"
TIPS = (
    ("Flat and whole", "The whole rim in the picture, right side up, nothing lying on it."),
    ("Plain underneath", "A table or cloth of another colour than the yarn."),
    ("Light from the side", "By a window, phone straight above, as close as the rim allows."),
)
PRIVATE = "Your photo is counted where this page runs and forgotten with this tab. Nothing is passed on."
PRIVATE_BOOK = (
    "Your photo is counted where this page runs and forgotten when you close this tab, unless you keep it in the"
    " notebook."
)
PRIVATE_HOME = (
    "Your photos stay on this computer. This browser remembers the last one until you go on; what you keep goes into"
    " your notebook."
)

# The phone beside the desk
SCAN = "Take the photos with your phone"
SCAN_PICTURE = "Code to scan with a phone"
SCAN_HINT = "Scan this with the phone's camera. Both must be in the same network."
SCAN_OPENS = "What this opens"
SCAN_EXPOSES = (
    "The code lets in one phone, which then sees this page and can send photos here. The way is not encrypted: others"
    " in the same network could read along."
)
SCAN_ENDS = "It ends when you close this page."
PHONE_IN, PHONES_IN = "A phone is connected.", "{n} phones are connected."
SHOW_SENT = "A photo came from the phone: show it"
SEND_ON, SENT_ON = "Show it on the computer", "It is on the computer's screen"
SEND_FULL = "Too many photos wait there: look at them first."
DOOR_CLOSED = "This door is closed"
DOOR_CLOSED_HINT = (
    "Scan the code on the computer's screen again: each code lets in one phone, while the page there is open."
)

# Left in an earlier tab
LEFT_HERE = "You were looking at this"
SHEET_LEFT_HERE = "You were looking at these"
PHOTOS, PHOTO = "{n} photos", "1 photo"
GO_ON_SHEET = "Go on with them"
LET_SHEET_GO = "Let them go"
GO_ON = "Go on with it"
LET_LEFT_GO = "Let it go"

# Put away with a tap
PUT_AWAY_IS, BRING_BACK = "Put away: {what}", "Bring it back"

# What a reload could not bring back
UNRETURNED = "{n} photos did not come back: drop them again."
UNRETURNED_ONE = "1 photo did not come back: drop it again."
IN_BOOK, IN_BOOK_ONE = "{n} that you kept are in your notebook.", "1 that you kept is in your notebook."

# While it works
READING = "Opening the photo…"
COUNTING = "Finding the rim and counting its stitches…"

# No count
REFUSED = "This photo can't be counted"
BROKEN = "Something went wrong with this photo"
BROKEN_HINT = "Nothing is lost. Try again, or take another photo."

# A way on
SHOW_PIECE = "Or show the piece:"
SHOW_MIDDLE = "Tap the middle of the piece."
SHOW_EDGE = "Tap its edge, or draw the line to it."
SHOW_COUNT, SHOW_AGAIN = "Count this", "Start again"
SHOW_FOUND = "Tap the piece that you mean."
SHOW_BY_HAND = "Put the marks myself"
BY_HAND_WHY = "Mark every stitch, then say that you are round."
BY_HAND_HINT = "Tap each stitch on the straight edge: a mark goes where you tap. A tap on a mark chooses it."
SHOW_PICTURE = "The photo that could not be counted"

# Count
STITCHES = "stitches"
TOTAL = "{n} stitches"
OR = " or "
AND = " and "
JOIN = " · "
PHOTO_SAYS = "The photo shows"
YOU_SAY = "Your count"
SO_FAR = "So far"
SURE = "Sure"
SURE_DETAIL = "Nothing on the edge is in doubt."
NOT_SURE = "Not sure"
UNSURE_START = "All is clear but where the round starts."
UNSURE_HIDDEN = "Part of the edge is hidden."
UNSURE_ONE = "All is clear but one place."
UNSURE_SEVERAL = "{n} places can be read in two ways."
UNSURE_UNCLEAR = "The stitches don't show clearly in this photo."
#: How likely a number is.
LIKELY = {"most": "most likely", "well": "quite likely", "may": "possible", "hardly": "hardly"}
OTHERS = "others"
DETAILS = "More about it"
YOURS = "Counted by you"
YOURS_DETAIL = "The photo by itself says {numbers}."
ROUNDS = "{n} rounds"
ROUND = "1 round"
CONFIRM = "I looked: it is {n}"
EXPECTED = "The round should hold"
EXPECTED_NONE = "not set"
EXPECTED_SHORT = "{n} expected"

# Verdict
VERDICTS = {"agrees": "It agrees", "can't say": "Can't say yet"}

# Rim picture
PICTURE = "Photo of the round with {n} numbered marks"
MARK = "Mark {n} of {total}, near {clock}"
HINT = "Tap the edge to look closer. A tap changes nothing yet."
KEYS = "Keys: arrows walk the edge · Del removes · Ins adds · Ctrl+Z undoes · Ctrl+Y redoes · + and − zoom · 0 for all"
#: Under the magnifier; what is in braces is filled in by the browser.
STITCH_HERE = "Stitch {n} of {total}"
BETWEEN_HERE = "Between two marks"
REMOVE_HERE, MORE_HERE = "Remove", "One more here"
STITCH_BEFORE, STITCH_AFTER = "The mark before", "The next mark"
LOUPE_OFF = "Close the magnifier"
STARTS_HERE, MADE_TO_HERE = "Round starts here", "Made up to here"
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
STRIP = "The edge laid straight, to count along"
STRIP_HINT = "The thin line in the photo shows which part this is."

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
#: Where a place is, and why it is asked about: by the kind of doubt, as a part of a sentence.
ASK_WHY = "Near {clock}: {why}."
WHY_ASKED = {
    "seam": "the round starts and ends here, and the loop can look like a stitch",
    "end": "it isn't clear where one stitch ends and the next begins",
    "two": "there is room for two",
    "wide": "this one is much wider than its neighbours",
    "narrow": "this one is much narrower than its neighbours",
    "hidden": "something lies on the edge here",
    "all hidden": "the whole edge is covered",
    "": "the photo isn't clear here",
}
ASKED_DETAIL = "Still to look at: {left}."

SLIP = "Mark {marks}, near {clock}"
SLIPS = "Where it most likely went wrong"

# What to do
TAKE_UP = "Make up for it in the next round. Work it like this:"
IS_FINISHED = "This round is"
FINISHED, NOT_YET = "finished", "not yet"
SHOW_LAST = "Tap the last stitch that you made, then \u201cMade up to here\u201d."
MADE, TO_GO, LEFT_BELOW = "made", "to go", "left below"
GO_ON_WITH = "Go on with:"
PLAIN_NEXT = "That takes a plain next round. What should it hold? Paste your pattern to have it worked in."
TWIN = "It must match a twin"
TWIN_HOLDS = "Its twin holds"
SINCE = "Rounds worked since then"

# Your pattern
PATTERN = "Your pattern"
PASTE = "Paste your pattern, one piece or several"
PASTE_EXAMPLE = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]

or only totals: 6, 12, 18, 24
or a rule: start 6, add 6"""
READ = "Read it"
UK = "UK terms"
PUT_AWAY = "Put the pattern away"
FINDINGS = "Worth a look in the pattern"
WHICH_PIECE = "The piece on the hook"
PIECE_MAKE = "{name} (make {n})"
WHICH_SIZE = "The size that you make"
CHAIN_COUNTS = "The first chain counts as a stitch"
LINE_BY_LINE = "Line by line: what each was taken for"
LINE_FOUND = "see above"
ROUNDS_N = "rounds {n} to {last}"
CLEAN_COPY = "A clean copy to work from"
STAGGER = "Shift increases so that no corner grows"
SAVE_LIST = "A list to tick off (PDF)"
SAVE_LIST_NAME = "rounds-to-tick-off.pdf"
LINE = "Line {n}"
MORE_FINDINGS = "and {n} more"
CHOOSE = "The round on the hook"
LET_PHOTO_SAY = "Let the photo say"
LINK = "This page's address now holds the pattern and the round: bookmark it."
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
MAT = "A mat to print: any photo of a piece in its middle has its size."
MAT_PAPER = "Mat, {paper}"
MAT_NAME = "measuring-mat-{paper}.pdf"

# Two alike
ALIKE = "Two alike"
ALIKE_HINT = "Arms, legs, ears: keep this count, photograph the other piece, see whether they match."
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
BEFORE_ONE = "One photo comes first. Yours starts by itself."
BEFORE_MANY = "{n} photos come first. Yours starts by itself."
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
AGAIN = "Next photo"
TO_START = "Start"
SAVE_OR_PRINT = "Save or print"
UNMADE = "This file could not be made. Nothing was changed: try again."
SAVE_PAGE = "One page to print (PDF)"
SAVE_PAGE_NAME = "counted-round.pdf"

# The notebook
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November"),
    "December",
)
DATE = "{day} {month} {year}"
NOTEBOOK = "Notebook"
BOOK_HEAD = "Your notebook"
KEEP = "Keep in the notebook"
KEEP_ALL = "Keep all in the notebook"
KEEPING = "Keeping them…"
KEPT = "Kept"
KEPT_ALL = "All are kept in the notebook."
KEPT_SOME = "{n} of {all} are kept in the notebook; the others hold no count."
ENTRY_TITLE = "What it is"
ENTRY_NOTE = "Note"
TO_BOOK = "Open the notebook"
BACK_TO_BOOK = "To the notebook"
BACK_TO_PHOTOS = "To the photos"
EMPTY = "Counts that you keep stand here, with photo, marks and corrections."
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
EXPORT_HINT = "One zip: the photos, a table (CSV), and every count as JSON."
IMPORT = "Import a zip that was exported here"
IMPORT_LARGE = "Or, over {most} MB: where the zip lies on this computer"
DROP_ZIP = "Drop the zip here"
IMPORT_NO_FILE = "There is no file {name}."
IMPORTED = "{added} came in, {already} were here already."
SERVER_GONE = "The page's server doesn't answer. Leave this page open: it goes on by itself once the server is back."
LEAVE_OUT = "Leave out what is damaged, and take in the others"
LEFT_OUT_ONE = "Left out: {name}."
DAMAGED_KEPT = "Count {key} is damaged and can't be shown. The others are as they were: export them."
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
CODE_HINT = (
    "It is shown only this once and kept nowhere, and nothing else opens your notebook. One in which nothing is kept"
    " goes after 30 days."
)
CODE_NOTED = "I have written it down"
NO_SUCH_BOOK = "No notebook has that code. Look for a letter taken for another: it has no 0 and no 1."

# Cautions

#: Said with everything that could make somebody rip back.
CAUTION = "Check by eye and finger before you rip anything back."
#: The same where the places have just been named.
CAUTION_PLACES = "Check these places by eye and finger before you rip anything back."

# What is said about one photo

PIECE_SAID = "{stitches}. {state}: {why}"
PIECE_ROUNDS = "{stitches}, {rounds}. {state}: {why}"
REFUSED_SAID = "refused. {reason} {hint}"
IN_LINE = "line {line}, column {column}: {what} {fix}"
NEAR_MARK = "near {clock}, at mark {mark}: {why}"

# The marked picture and the page to print

STATE_SURE = "sure"
STATE_NOT_SURE = "not sure"
STATE_YOURS = "counted by a person"
COMPLETE_ROUND = "1 complete round"
COMPLETE_ROUNDS = "{n} complete rounds"
HOOK_SAYS = "In the round on the hook {done} made, {left} left."
KEY_FIRST, KEY_STITCH, KEY_FIFTH, KEY_CENTRE = "first stitch", "stitch", "every fifth", "centre"
PAGE_TITLE = "A counted round"
PAGE_FOOT = "Counted from a photo with Rimtally. {caution}"
PAGE_MARKS = "The marks, and near which hour of a clock face each of them is"
PAGE_LEFT_OUT = "1 to {n} of {total}; the others are in the picture only"
PAGE_YOURS = "Counted by a person"
PAGE_SURENESS = "{state}: {why}"
PAGE_EXPECTED = "{stitches} expected"
PAGE_ADDED = "added"
STITCH_ALONE = "stitch"

# The sheet of several photos

SHEET_HEAD = (
    *("name", "a person is needed", "state", "stitches", "it may be", "probability", "expected", "round of the plan"),
    *("verdict", "off by", "rounds counted", "what to know"),
)
#: By what a photo needs: whether a person is needed.
NEEDS = {"refused": "yes", "not sure": "yes", "off": "to put it right", "counted": "no", "agrees": "no"}

# Numbers and places

ONE_STITCH = "1 stitch"
SURELY, HARDLY = "over 99%", "under 1%"
#: A place round the rim, as on a clock face.
CLOCK = "{hour} o'clock"
#: Between the members of a list that "and" or "or" ends.
COMMA = ", "

# Photos that can't be counted: code -> (reason, hint)

REFUSALS = {
    "missing": (
        "There is no such file.",
        "Check the name and the folder.",
    ),
    "empty": (
        "The file is empty.",
        "Take or copy the photo again.",
    ),
    "not a picture": (
        "This file is not a picture that can be read.",
        "Use a JPEG, PNG, WebP, TIFF or HEIC photo.",
    ),
    "truncated": (
        "The picture file is cut off or damaged.",
        "Copy it again from the camera or the phone.",
    ),
    "too large": (
        "The picture has more pixels than can be read safely.",
        "Save it smaller, best as a JPEG of at most 50 megapixels.",
    ),
    "too small": (
        "The picture is too small to show single stitches.",
        "Single stitches show from about 7 pixels each: go nearer, or use the photo itself instead of a reduced copy.",
    ),
    "animated": (
        "This is an animation, not a photo.",
        "Use a single still photo.",
    ),
    "several pictures": (
        "The file holds more than one picture.",
        "Save the photo of the piece as a file of its own.",
    ),
    "no piece": (
        "No worked round was found in the picture.",
        "Lay the piece flat on a plain background of another colour and fill most of the picture with it.",
    ),
    "several pieces": (
        "More than one piece is in the picture.",
        "Say which one is meant, or photograph one piece at a time.",
    ),
    "no such piece": (
        "There is no piece of that number in the picture.",
        "Pieces are numbered from 1, left to right.",
    ),
    "cut off": (
        "The piece runs out of the picture.",
        "Step back until the whole rim is in the picture.",
    ),
    "no stitches": (
        "Something round was found, but no stitches can be told apart on its rim.",
        "Come closer, hold the camera still and let light fall from the side.",
    ),
}
#: What was seen in one very photo, in brackets behind the reason.
FILE_IS_FOLDER = "it is a folder"
FILE_NOT_PLAIN = "it is not a plain file"
FILE_LARGE = "the file has {n} megabytes"
FILE_CLOSED = "it can't be opened"
FILE_NAME_NO_TEXT = "its name holds bytes that are no text: rename it"
PIXELS = "{width} x {height} pixels"
PIXELS_STRIP = "a strip of {width} x {height} pixels"
PIXELS_A_STITCH = "about {pitch:.1f} pixels a stitch"

# Places in doubt: kind -> what is in doubt there

IN_DOUBT = {
    "seam": "Here the round starts and ends: is this a stitch, or the loop and the yarn end?",
    "end": "it is not clear that one stitch ends here",
    "two": "there may be two stitches here",
    "wide": "this stitch is much wider than its neighbours",
    "narrow": "this stitch is much narrower than its neighbours",
    "hidden": "part of the rim is hidden here",
    "all hidden": "the whole rim is hidden",
}
#: A place in doubt with all that is known of it.
LOOK_AT = "Look near {clock}, at mark {mark}: {why}"
#: Why a count is not sure.
READ_IN_MORE_WAYS = "The stitches along the rim can be read in more than one way."

# A count against what it should be

#: By the verdict: as a part of a sentence.
SAID = {"agrees": "agrees", "can't say": "can't say", "short": "short by {n}", "over": "over by {n}"}
NOT_FINISHED = "The round is not finished: {stitches} made, {left} of the round below left; {expected} expected."
AS_EXPECTED = "{stitches}, as expected."
SHORT_OF = "{stitches}, short by {n}: {expected} expected."
OVER_IT = "{stitches}, over by {n}: {expected} expected."
UNSURE_OF = "Not sure: {numbers} stitches; {expected} expected."
UNSURE_NOT_AMONG = "Not sure: {numbers} stitches; {expected} expected, which is not among them."
LOOK_NEAR = "Look near {where}."
ON_HOOK = "In the round on the hook: {done} made, {left} left."

# What to do about a round that is off

GO_ON_NEXT = "Go on with the next round."
GO_ON_WRITTEN = "Go on with the next round: {text}"
SETTLE = "Settle the count at the places in doubt first."
COUNT_BY_EYE = "Count this round by eye first: the photo alone doesn't settle it."
GO_ON_FINISHED = "If this round is finished, {do}"
#: Questions that come before anything is ripped back.
ASK_FINISHED = (
    "Is this round finished? If not, nothing is wrong yet: on the way to its total it may well hold {n}."
    " Work on to its end, then photograph it again."
)
WORK_ON = "Work on to the end of this round, then photograph it again: until then nothing is wrong."
BEYOND_WAY = (
    "Finished or not, this round can't hold {n} on its way to {expected}: count it by eye before you work on, and make"
    " sure which round it is."
)
IF_FINISHED = "If it is finished, {do}"
SAY_FINISHED = "If it is finished, say so, and you are told what to do."
ASK_ROUND = (
    "Which round is it? That it is round {n} was only guessed from the photo: count the rounds of your piece and say"
    " which it is, before anything is undone."
)
HOLDS_BEFORE = (
    "It holds exactly what round {n} should ({stitches}): nothing needs ripping. Is round {next} still to be worked?"
    " Then go on with it: {text}"
)
WITHIN_ANOTHER = (
    "It may be round {n}, not finished yet: then nothing needs ripping. Count the rounds of your piece; if it is round"
    " {said}, and finished, say so."
)
HOLDS_ANOTHER = (
    "It holds exactly what round {n} should ({stitches}): if it is that round, nothing needs ripping. Count the rounds"
    " of your piece, and say which it is."
)
CHAIN_WITHIN = "The total of {expected} counts the chain that the round begins with as a stitch."
CHAIN_BESIDE = "The total of {expected} leaves out the chain that the round begins with."
ASK_CHAIN_SHORT = (
    "Is the chain at the start of the round among the {n} that are marked? The total counts it as a stitch: if it is"
    " not marked, the round holds {expected}, and nothing is wrong."
)
ASK_CHAIN_OVER = (
    "Is the chain at the start of the round among the {n} that are marked? The total doesn't count it: if it is"
    " marked, the round holds {expected}, and nothing is wrong."
)
NEAR_ANOTHER = (
    "Which round is it? It is {near} what round {n} should hold ({stitches}): count the rounds of your piece from its"
    " middle before anything is undone. Only if it is round {said}, and finished, is it off by {off}."
)
MAY_BE_ANOTHER = (
    "Which round is it? It may be round {n}, not finished yet: then nothing needs ripping. Count the rounds of your"
    " piece from its middle; only if it is round {said}, and finished, is it off by {off}."
)
AS_NEAR, NEARER = "as near to", "nearer to"
OUTSIDE_PLAN = (
    "No round of this plan comes near {n}: is it the right pattern, piece and size, and round {said}? Only then is it"
    " off by {off}."
)
IF_AS_SAID = "If it is finished, as you say: {do}"
TWIN_MATCHES = "It matches its twin ({stitches} each): nothing needs ripping."
ASK_TWIN = (
    "How many does its twin hold? If it holds {n} too, the two match and nothing needs ripping. If it holds {expected}:"
    " {do}"
)
TWIN_DIFFERS = "Its twin holds {twin}, and {expected} are expected: count both again before anything is undone."
WORK_MORE = "Make up for it in the next round: work it with {stitches} more."
WORK_FEWER = "Make up for it in the next round: work it with {stitches} fewer."
WORK_WRITTEN = "Make up for it in the next round: {text}"
TWIN_MUST_MATCH = "To match its twin, {do}"
AS_WRITTEN = {
    "increase": "It is an increase round: to have it as written, {do}",
    "decrease": "It is a decrease round: to have it as written, {do}",
}
#: A look comes before anything is undone.
COUNT_FIRST = "Count this round once more by eye, mark by mark. Only if it does hold {n}: {do}"
COUNT_ROUND_FIRST = (
    "Count this round once more by eye, mark by mark, and make sure that {expected} is what this very round should"
    " hold. Only if it does hold {n} then: {do}"
)
RIP_TO_MARK = (
    "Look at mark {mark} by eye and finger first; only if it went wrong there, rip back to mark {mark} and work the"
    " rest of the round again."
)
RIP_STITCHES = (
    "Look at mark {mark} by eye and finger first; only if it went wrong there, rip back to mark {mark} ({stitches}) and"
    " work the rest of the round again."
)
RIP_TO_AGREEING = "Rip back to the last round that agrees."
RIP_ROUND = (
    "Rip back this round, to the end of round {n}, and count that one, too; if it is off as well, go further back."
)
RIP_ROUNDS = (
    "Rip back {many} rounds, to the end of round {n}, and count that one, too; if it is off as well, go further back."
)

# Where it went wrong

#: By the kind of slip: what was most likely done, as a part of a sentence.
DONE = {
    "increase left out": "an increase was made as one plain stitch",
    "increase too many": "two stitches were made where one belongs",
    "decrease left out": "a decrease was made as two plain stitches",
    "stitch skipped": "a stitch was skipped or is missing from the round below",
    "stitch too many": "there is one stitch too many, here or in the round below",
}
SLIP_AT = "{done} {where}"
AT_MARK = "near {clock}, at mark {first}"
AT_MARKS = "near {clock}, at marks {first} and {last}"
BETWEEN_MARKS = "near {clock}, between marks {first} and {last}"
MOST_LIKELY = "Most likely {slip}."
MOST_LIKELY_BY = "Most likely {slip} ({p})."
PERHAPS = "The count may be off by one itself; if it stands, look first {where}: perhaps {done}."
USUAL_SHORT = "Short by one often means that the first stitch was skipped or the marker moved by one."
USUAL_OVER = (
    "Over by one often means a stitch worked into the joining slip stitch, or the marker's stitch worked twice."
)
#: Why no place is named.
NO_PLACE_TOTAL = "The plan doesn't say what the round holds."
NO_PLACE_SHORT = "With {n} stitches short no single place is to blame."
NO_PLACE_OVER = "With {n} stitches over no single place is to blame."
NO_PLACE_WRITTEN = "The plan doesn't say how the round is worked, so the photo can't tell where."
NO_PLACE_FITS = "The marks don't fit the written round anywhere."
NO_PLACE_RIGHT = "The round holds what it should."
NO_PLACE_PLAIN = "All its increases seem to be there: look for the error in the plain stitches, or a round below."
NO_PLACE_SEEN = "The photo doesn't show where."

# Which round of a plan it is

WHICH_NONE = "No round of the plan fits what was counted: it may be unfinished, or another piece."
WHICH_BOTH = (
    "Rounds {rounds} both hold {stitches} and can't be told apart in this photo:"
    " count the rounds, or say which one it is."
)
WHICH_ALL = (
    "Rounds {rounds} all hold {stitches} and can't be told apart in this photo:"
    " count the rounds, or say which one it is."
)
WHICH_BEST = "Most likely round {n} ({stitches} by the plan; {p})."
WHICH_TOO = (
    "Others hold {n}, too; only the rounds counted in the photo speak for this one, and they are off in about one photo"
    " of four: count them yourself, or say which it is."
)
WHICH_MORE = "The photo shows {n} more."
WHICH_FEWER = "The photo shows {n} fewer."
WHICH_ALSO = "It may also be round {rounds}."
PERHAPS_ROUND = "It holds what round {n} should ({stitches}): is it perhaps that round?"
#: Why a plan can't be held against a count, without a full stop.
TOTAL_OR_PLAN = "give an expected total or a plan, not both"
PLAN_WITHOUT_ROUNDS = "the plan holds no rounds that can be read"
PLAN_WITHOUT_ROUND = "the plan has no round {n}; it goes from {first} to {last}"
PLAN_WITHOUT_TOTAL = "the plan doesn't say how many stitches round {n} makes; write the total behind it"

# What is found in a written plan: (what is the matter, what to write instead)

HOW_TO_WRITE = "Write a round as in 'R4: (sc 2, inc) x 6 [24]', or totals as in '6, 12, 18, 24'."
ONE_PIECE = "Read one piece's rounds at a time."
FOUND_IN_PLAN = {
    "too long": ("The text is too long: {n:,} characters.", "Read one piece's rounds, up to {most:,} characters."),
    "no text": (
        "This isn't text: it holds signs that no pattern has.",
        "Save the pattern as plain text (UTF-8).",
    ),
    "deep": (
        "More than {most} brackets are open inside each other.",
        "Close each bracket where its repeat ends.",
    ),
    "no round": ("No round was found in this text.", HOW_TO_WRITE),
    "too much": ("The text is too long to be worked out.", ONE_PIECE),
    "more": ("There is more that can't be read.", "Put these right first."),
    "rows": (
        "This is worked in rows, not in rounds.",
        "Rows have no rim to count: give the rounds, as in 'R1: ...'.",
    ),
    "nothing said": ("Rnd {n} says nothing.", HOW_TO_WRITE),
    "line unused": (
        "This line is not read as a round.",
        "If it is one, begin it with its number, as in 'R5: ...'; if not, leave it.",
    ),
    "no end": (
        "This line doesn't say how many rounds it makes, so they are not counted.",
        "Write how many, as in 'R5-9: sc around', or count yours and write that.",
    ),
    "unclear": ("This round can't be read so that it comes out. Word by word: {what}", "{fix}"),
    "which size": ("This is written for several sizes ({sizes}); it is read for {size}.", "Say which one you make."),
    "no size": ("There is no size {size!r} here.", "Choose one of these: {sizes}."),
    "no piece": ("There is no piece {piece!r} here.", "Choose one of these: {pieces}."),
    "no stitch": ("Rnd {n} names no stitch that is known here.", HOW_TO_WRITE),
    "strange word": ("'{word}' is no stitch that is known here.", HOW_TO_WRITE),
    "again": ("Rnd {n} comes again after Rnd {last}.", "Number it {next}, or leave it out."),
    "one left out": ("Rnd {n} follows Rnd {last}.", "Add Rnd {next}, or number it {next}."),
    "several left out": ("Rnd {n} follows Rnd {last}.", "Add Rnds {next} to {before}, or number it {next}."),
    "late": ("Rnd {n} comes after Rnd {last}.", "Number it {next}, or move it up."),
    "impossible total": ("Rnd {n} can't hold {total} stitches.", "Write a total from 1 to {most:,}."),
    "many totals": ("There are too many totals in one line.", "Give up to {most} rounds."),
    "uneven totals": ("Here are {rounds} rounds and {totals} totals.", "Give one total for all, or one for each."),
    "no such growth": (
        "From {first} in steps of {step} no round comes to {limit}.",
        "Change the last total or the step.",
    ),
    "long round": ("The round is too long to be read.", "Write its repeats as '(...) x 6'."),
    "no source": ("Rnd {n} isn't in this plan.", "Write the round out, or repeat one that comes before it."),
    "US term": ("'{word}' is a US term; it never occurs in UK terms.", "Read this pattern in US terms."),
    "UK term": ("'{word}' is a UK term.", "Read this pattern in UK terms."),
    "backwards": ("The rounds {first} to {last} run backwards.", "Write the lower number first."),
    "high number": ("Round {n} is too high a number.", "Number the rounds from 1 to {most}."),
    "large number": ("{n} is more than a round can hold.", "Write a number up to {most:,}."),
    "not open": ("The bracket {bracket} closes nothing.", "Open it where the repeat begins, or take it out."),
    "not closed": ("The bracket {bracket} is never closed.", "Close it with {mate} where the repeat ends."),
    "unreadable": (
        "'{word}' can't be read here.",
        "Write the round as in '(sc 2, inc) x 6 [24]', or its total alone as in '[24]'.",
    ),
    "chain": (
        "Does the chain that Rnd {n} begins with count as a stitch? Without it Rnd {n} holds {made}, with it {more}.",
        "Write '(counts as a stitch)' or '(does not count)' behind it, or the round's total.",
    ),
    "two totals": ("Rnd {n} has two totals, and nothing tells which is meant.", "Write one, as in 'R5: 24'."),
    "left over": (
        "The round comes out without '{word}', so that is left out.",
        "If it belongs to the round, write it as in '(sc 2, inc) x 6 [24]'; if not, leave it out.",
    ),
    "nothing repeated": ("Nothing stands here that could be repeated.", HOW_TO_WRITE),
    "many repeats": ("Too many repeats stand inside each other.", "Close each repeat before the next begins."),
    "around inside": (
        "'Around' stands inside another repeat.",
        "Say how often: '(sc 2, inc) x 6' for '(sc 2, inc) around'.",
    ),
    "makes nothing": ("That makes {n} stitches.", "A round holds 1 to {most:,}."),
    "makes too much": ("That makes {n} stitches.", "A round holds up to {most:,}."),
}
#: The printed check list.
LIST_TITLE = "Rounds to tick off"
LIST_FOOT = "Written anew with Rimtally. A round is done when its total is counted."
LIST_PAGE = "{n} of {all}"
LIST_MAKE = "make {n}"
#: A piece of a pattern that has no name.
PIECE_N = "PIECE {n}"
#: What a line of a plan is that makes no stitches, by its kind.
REMARKS = {
    "heading": "heading",
    "term": "a term explained",
    "material": "material",
    "measure": "a measure",
    "finishing": "making up",
    "rule": "a line to divide",
    "note": "a remark",
}
#: What doesn't agree in a round that was read; "Rnd", "sc", "inc" and "dec" are signs of written rounds.
ROUND_MAKES = "Rnd {n} makes {made}, not {stated}."
ROUND_CANT_MAKE = "Rnd {n} can't make {stated}: its repeat makes {made} stitches at a time."
ROUND_USES = "Rnd {n} uses {used} of the {stitches} below."
ROUND_NEEDS = "Rnd {n} needs {stitches}, the round below has {below}."
ONE_LEFT_OVER = "The repeat of Rnd {n} takes {stitches}, which doesn't come out over {free}: {left} is left over."
LEFT_OVER = "The repeat of Rnd {n} takes {stitches}, which doesn't come out over {free}: {left} are left over."
#: What would.
MEND_TOTAL = {
    "again": "Write [{made}], or read the round again.",
    "one inc": "Write [{made}], or work one more inc.",
    "incs": "Write [{made}], or work {many} more inc.",
    "one inc fewer": "Write [{made}], or work one inc fewer.",
    "incs fewer": "Write [{made}], or work {many} inc fewer.",
    "one dec": "Write [{made}], or work one more dec.",
    "decs": "Write [{made}], or work {many} more dec.",
}
MEND_RING = "Write [{made}], or work {many} more {stitch}."
MEND_RING_FEWER = "Write [{made}], or work {many} {stitch} fewer."
MEND_START = "Write {text}, which makes {made}."
MEND_TEXT = "Write {text}, which makes {made} of {below}; or check the total of the round below."
MEND_BELOW_IS = "It fits {n} stitches below: see whether a round is missing between, or round {before} should hold {n}."
MEND_NEAR = "Write [{low}] or [{high}], or change the repeat."
MEND_NEAR_ONE = "Write [{high}], or change the repeat."
MEND_TIMES = "Write x {times}, or check the total of the round below."
MEND_TIMES_MAKES = "Write x {times}, which makes {made}, or check the total of the round below."
MEND_REPEAT = "Write ({text}) x {times}, or check the total of the round below."
MEND_ALL = "Write {stitch} {n} for all of it, or check the total of the round below."
MEND_MORE_ONE = "Work one more stitch, or check the total of the round below."
MEND_MORE = "Work {n} more stitches, or check the total of the round below."
MEND_FEWER_ONE = "Leave out one stitch, or check the total of the round below."
MEND_FEWER = "Leave out {n} stitches, or check the total of the round below."
MEND_INCS = "{text} makes {stated} of {room}; or check the total of the round below."
MEND_BELOW = "It comes out with {numbers} stitches below: check that total, or change the repeat."

# Whether a piece lies flat

#: What the piece does, as a part of a sentence; from cup to waves.
DOES = {
    "flat": "lies flat",
    "a little cupped": "cups a little",
    "cupped": "cups",
    "cone": "rises to a cone",
    "crowded": "is crowded and begins to wave",
    "ruffled": "ruffles",
}
#: The same of what is still to be worked.
WILL = {
    "a little cupped": "cup a little",
    "cupped": "cup",
    "cone": "rise to a cone",
    "crowded": "be crowded",
    "ruffled": "ruffle",
}
#: Names of the stitches in US and in UK terms (four independent charts).
STITCH_NAMES = {
    "sc": ("single crochet", "double crochet"),
    "hdc": ("half double crochet", "half treble"),
    "dc": ("double crochet", "treble"),
    "tr": ("treble crochet", "double treble"),
}
LIES_FLAT = "Lies flat."
LIE_FROM = "Will {will} from round {n} on."
LIE_FROM_HEAD = "Will {will} from round {n} on, as a toy's head should."
LIE_ADDS = "Will {will} from round {n} on: it adds {added} each round, and about {flat} would lie flat."
LIE_ADDS_HEAD = (
    "Will {will} from round {n} on: it adds {added} each round, and about {flat} would lie flat,"
    " as a toy's head should."
)
LIE_HYPERBOLIC = "Will {will} from round {n} on, as a hyperbolic surface does: every round grows by the same factor."
LIE_CLOSE = "It is close: within the error of the shape it may also be that it {does}."
LIE_CORNERS = "Its increases stand above each other: it grows {n} corners. Staggered ones make a circle."
LIE_BEFORE = "Before that it will {will}, from round {first} on."
LIE_UP_TO_FANS = "Judged up to round {n}: how long a round of fans is, its number of stitches doesn't say."
LIE_UP_TO = "Judged up to round {n}: the total of the next one is not known."
LIE_PIECE = "A piece of {stitches} in {rounds} {does}."
LIE_PIECE_OFF = "A piece of {stitches} in {rounds} {does}; about {n} would lie flat."
LIE_COUNTED = "The rounds were counted in the photo, which is often one off: give their number to be surer."
LIE_MEASURED = (
    "By the measured shape of the stitches (a round is {ratio} of a stitch's width high, give or take {error})"
    " a flat circle adds about {flat} each round."
)
LIE_TAUGHT = (
    "Not measured: {stitch} is taken to lie flat with {fewest} to {most} added each round, as is taught;"
    " measure a flat piece of your own to be surer."
)
LIE_APART = (
    "Not measured: the sources differ, {stitch} is said to lie flat with {fewest} to {most} added each round, and what"
    " lies between is taken to be flat; measure a flat piece of your own to be surer."
)
LIE_NO_ROUNDS = "There are no rounds to judge."
LIE_UNFINISHED = "The round is not finished. Whether it lies flat is not judged."
LIE_UNKNOWN = "The rounds can't be told in this photo. Whether it lies flat is not judged."
LIE_STITCH = "How many stitches of {stitch} lie flat is not known."

# What measures in the photo

NO_ROUNDS_TOLD = "The rounds can't be told in this photo."
FEW_HEIGHTS = "The heights of single rounds are told from {n} rounds on."
#: Why a count can't be measured, without a full stop.
NO_AREA = "the outline encloses no area"
NO_LINES = "The lines between the rounds are not clear enough in this photo."
#: Why there is no scale: code -> (reason, hint).
NO_SCALES = {
    "nothing": (
        "Nothing of known size was found in the picture.",
        "Lay the printed mat under the piece or a bank card beside it, or say how wide the piece is.",
    ),
    "which coin": (
        "There may be a coin in the picture, but not which one.",
        "Say which coin it is: {coins}.",
    ),
    "no coin": (
        "The coin was not found in the picture.",
        "Lay it flat and free beside the piece, on a ground of another colour.",
    ),
    "other coin": (
        "What looks like a coin in the picture has other metals than the one that was named.",
        "Say which coin it is, or use the printed mat or a bank card.",
    ),
    "several": (
        "More than one thing in the picture could be the one of known size.",
        "Leave only one of them in the picture.",
    ),
    "unlikely": (
        "By what was found in the picture, the stitches would have an unlikely size.",
        "Use the printed mat or a bank card, or say how wide the piece is.",
    ),
    "too uncertain": (
        "What is seen of the thing of known size is too little to measure by.",
        "Show all of it, as near to the piece as can be, and hold the camera straight above.",
    ),
}
#: What was seen in one very photo, in brackets behind the reason.
STITCH_WIDE = "{mm} mm wide"
CARDS = "{n} cards"
COINS_SEEN = "{n} coins"
NOT_COIN = "not {coin}"
MEASURED_BY = {
    "diameter": "Measured by the size that you gave: lengths are good to about {error}.",
    "mat": "Measured by the mat: lengths are good to about {error}.",
    "card": "Measured by the card: lengths are good to about {error}.",
}
MEASURED_COIN = "Measured by the {coin} coin: lengths are good to about {error}."
LIES_LOW = (
    "That is for a piece that lies flat: the rim of a cup is nearer to the camera, and each centimetre of height"
    " makes it look {p} larger."
)
FROM_FARTHER = "From farther away, about {cm} cm, it is more exact."
MM, CM = "{n} mm", "{n} cm"
BOTH_UNITS = "{metric} ({inches} in)"
#: What is wrong with a size that was typed, without a full stop.
NO_SIZE = '{text} is not a size: write a number and mm, cm or in, like "12.5 cm" or "5 in"'
NO_SUCH_SIZE = "a piece is {mm} mm to {m} m wide, not {text}"
PIECE_WIDE = "the piece must be {least} to {most} mm wide, not {mm}"
MUST_MEASURE = {
    "stitch": "a stitch must measure {least} to {most} mm, not {mm}",
    "round": "a round must measure {least} to {most} mm, not {mm}",
}

# Size, gauge and tension

SIZE_ACROSS = "{across} across, give or take {error} mm."
SIZE_BOTH = "{across} across, give or take {error} mm; {narrowest} where it is narrowest, {widest} where it is widest."
GAUGE_STITCHES = "{metric} stitches to 10 cm, {inches} to 4 in."
GAUGE_ROUNDS = "{metric} rounds to 10 cm, {inches} to 4 in."
#: Names of the categories of yarn, by number.
YARNS = {
    1: "super fine",
    2: "fine",
    3: "light",
    4: "medium",
    5: "bulky",
    6: "super bulky",
    7: "jumbo",
}
YARN = "{n} ({name})"
YARN_IS = "By the standard table that is yarn of category {yarn}."
YARN_BETWEEN = "By the standard table that is between {heavier} and {finer}."
YARN_FINER = "That is finer than any category of the standard table."
YARN_PERHAPS = "Within its error it may also be {yarn}."
YARN_GUIDELINE = "The table is only a guideline: toys are worked tighter, with a hook one to three sizes smaller."
#: By what is measured.
TENSION_FEW = {
    "stitches": "Too few rounds were measured to say whether the stitches change from round to round.",
    "rounds": "Too few rounds were measured to say whether the rounds change from round to round.",
}
TENSION_EVEN = {
    "stitches": "The tension is even: the stitches keep their size from round to round.",
    "rounds": "The tension is even: the rounds keep their size from round to round.",
}
TENSION_UNCLEAR = {
    "stitches": "The stitches differ too much among themselves to say whether the tension changes from round to round.",
    "rounds": "The rounds differ too much among themselves to say whether the tension changes from round to round.",
}
TENSION = {
    "tightens": {
        "stitches": (
            "The tension tightens: the stitches get {change} smaller from round to round (give or take {within})."
        ),
        "rounds": (
            "The tension tightens: the rounds get {change} smaller from round to round (give or take {within})."
        ),
    },
    "loosens": {
        "stitches": (
            "The tension loosens: the stitches get {change} larger from round to round (give or take {within})."
        ),
        "rounds": ("The tension loosens: the rounds get {change} larger from round to round (give or take {within})."),
    },
}
TENSION_UNDER, TENSION_WITHIN = "under 1%", "less than 1%"

# The mat

MAT_TITLE = "Rimtally measuring mat"
MAT_SUBJECT = "Print at 100% on {paper}"
MAT_USE = (
    "1.  Print at 100% (actual size), not \u201cfit to page\u201d."
    " Measure the line at the bottom: it must be 100 mm (3 15/16 in).",
    "2.  Lay the page flat and the piece in its white middle (up to 14 cm, 5 1/2 in)."
    " Keep the markers free, as many as you can.",
    "3.  Photograph from above with the whole piece and at least four markers in view; a slant does no harm.",
)
MAT_BELOW = "White or cream yarn shows better on a sheet of coloured paper in the middle; keep the markers free."
MAT_CHECK = "Measure this line: it must be 100 mm. Print at 100%."

# Two pieces that must match

PAIR_UNFINISHED = {
    "first": "The first piece has a round on the hook that is not finished: finish it, then compare.",
    "second": "The second piece has a round on the hook that is not finished: finish it, then compare.",
    "both": "Both pieces have a round on the hook that is not finished: finish it, then compare.",
}
PAIR_UNSURE = (
    "Not sure: the first piece has {first} stitches, the second {second}; the chance that they hold the same is {p}."
)
PAIR_DIFFERS = "Most likely they differ."
PAIR_SETTLE = "Settle the marks of each photo first, then compare."
PAIR_MATCHES = "The totals match: {stitches} each."
PAIR_OFF_BY = "The totals differ by {n}: {first} in the first piece, {second} in the second."
PAIR_EXPECTED = "Both should hold {n}."
PAIR_SEE = "See in the pattern which of the two is right."
PAIR_NEITHER = "Both should hold {n}: neither does."
PAIR_WRONG = {
    "first": "Both should hold {n}: the first one is off.",
    "second": "Both should hold {n}: the second one is off.",
}
PAIR_ASK = "Are both finished, and at the same round? If not, nothing is wrong yet."
PAIR_RIP = {
    "off": (
        "If they are, for true twins rip back the one that is off to the place where it went wrong,"
        " or to its last round that agrees."
    ),
    "each": (
        "If they are, for true twins rip back each to the place where it went wrong, or to its last round that agrees."
    ),
    "first": (
        "If they are, for true twins rip back the first one to the place where it went wrong,"
        " or to its last round that agrees."
    ),
    "second": (
        "If they are, for true twins rip back the second one to the place where it went wrong,"
        " or to its last round that agrees."
    ),
}
PAIR_TAKE_UP = (
    "If nothing lines up with the count, {stitches} can be made up for in the next round instead:"
    " an increase or a decrease where it does not show."
)
PAIR_ROUNDS_UNKNOWN = "The rounds can't be told in both photos: count them by hand."
PAIR_ROUNDS_SAME = "{n} rounds were counted in both; the photo's count is often off, so count them by hand."
PAIR_ROUNDS_DIFFER = "The rounds differ: {first} rounds were counted in the first piece, {second} in the second."
PAIR_ROUNDS_OFF = (
    "{first} rounds were counted in the first piece, {second} in the second;"
    " the photo's count is often off, so count them by hand."
)
PAIR_SIZES_SAME = "They are {first} and {second} across: no difference can be told."
PAIR_FIRST_LARGER = (
    "They are {first} and {second} across: the first one is {p} larger. With equal totals that is tension or stuffing."
)
PAIR_SECOND_LARGER = (
    "They are {first} and {second} across: the second one is {p} larger. With equal totals that is tension or stuffing."
)

# What keeps the notebook from doing as asked: code -> (what is the matter, what to do)

TROUBLES = {
    "full": ("The disk is full.", "Nothing was changed. Make room and try again."),
    "read-only": (
        "The notebook can't be written here.",
        "Nothing was changed. Make its file and its folder writable and try again.",
    ),
    "locked": ("Another window or program is using the notebook.", "Wait a moment and try again."),
    "damaged": (
        "The notebook's file is damaged.",
        "It was left as it is. Move it somewhere else, start again, and import your last export.",
    ),
    "damaged count": (
        "This count is damaged and can't be read.",
        "The others are as they were: export them, and import your last export again.",
    ),
    "not ours": (
        "The file where the notebook should be is something else.",
        "It was left as it is. Move it somewhere else and start again.",
    ),
    "newer": ("The notebook was written by a newer version of this program.", "Update the program."),
    "no file": (
        "The notebook's file can't be opened.",
        "See that its folder is there and may be used, and start again.",
    ),
    "disk": ("The disk could not be read or written.", "See that it is connected and sound, and try again."),
    "gone": ("This count is no longer in the notebook.", "It was deleted in another window."),
    "changed elsewhere": (
        "This count was changed in another window.",
        "Open it again from the list to go on with the newer one.",
    ),
    "too many": (
        "The notebook is full ({most} counts).",
        "Export it, then delete counts that you no longer need.",
    ),
    "not tidied": (
        "It was deleted and overwritten, but the file could not be made smaller.",
        "The next deletion tries again.",
    ),
    "import": ("This file can't be imported.", "Nothing was changed. Choose a zip that a notebook was exported to."),
    "no more notebooks": ("This server can't hold more notebooks.", "Ask whoever runs it."),
}
#: What is the matter in one very case, in brackets behind it.
FILE_UNMADE = "it can't be made"
NOT_TIDIED = {
    "full": "full",
    "read-only": "read-only",
    "locked": "locked",
    "damaged": "damaged",
    "no file": "no file",
    "disk": "disk",
}
DISK_LEFT = "under {n} MB would be left"
ZIP = {
    "no zip": "it is not a zip",
    "many": "it holds too many files",
    "packed": "it is packed in another way",
    "strange": "it holds files that don't belong there",
    "part": "it is not whole",
    "other": "it is not a notebook",
    "newer": "it was written by a newer version of this program",
    "damaged": "it is damaged",
    "large": "one of its files is too large",
    "changed": "it changed while it was read",
}
ZIP_COUNT = "count {key}: {detail}"
#: A count that can't be shown, by the beginning of its key.
COUNT_NAMED = "count {key}"
KEPT_WRONG = {
    "other key": "its key is another one",
    "date": "a date can't be",
    "fields": "its fields are not those of a kept count",
    "by hand": "it doesn't say whether marks were changed by hand",
    "probabilities": "its probabilities can't be",
    "likely": "the numbers shown are not among its counts",
    "twice": "two marks come from the same one",
    "answers": "there are more answers than places in doubt",
    "place": "the place of a mark must be a number",
    "outside": "a place lies far outside of its photo",
    "doubt": "a place is in doubt for no reason that is known here",
    "pixels": "a photo has too many pixels",
    "colour": "a photo is not in colour as ours are",
    "photo": "a photo can't be read",
    "more": "its photo holds more than a picture",
    "large": "it is too large",
    "another photo": "its photo is not the one that was counted",
}
KEPT_SWITCH = "a switch must be true or false"
KEPT_AT = "what stands at {where} can't be"
KEPT_MARKS = "there must be {least} to {most} marks, not {n}"
KEPT_TEXT = "{what} must be a text of at most {most:,} characters"
KEPT_CHARACTERS = "{what} holds characters that can't be kept"
KEPT_WHOLE = "{what} must be a whole number from {low} to {high}"
KEPT_NUMBER = "{what} must be a number from {low:g} to {high:g}"
#: The parts of a kept count that the lines above speak of.
KEPT_PARTS = {
    "a reason": "a reason",
    "an answer": "an answer",
    "the expected total": "the expected total",
    "the note": "the note",
    "the number of a mark": "the number of a mark",
    "the place of a mark": "the place of a mark",
    "the plan": "the plan",
    "the round": "the round",
    "the rounds worked since": "the rounds worked since",
    "the title": "the title",
    "what the other one holds": "what the other one holds",
}
BOOK_SHEET_HEAD = (
    *("key", "kept", "changed", "title", "note", "stitches", "it may be", "state", "expected", "off by"),
    *("round of the plan", "rounds counted", "added", "removed", "moved", "photo"),
)

# Groups: many makers, many rounds

GROUP_NO_FOLDER = "There is no such folder."
GROUP_NOT_FOLDER = "This is no folder; name the folder that holds the photos."
GROUP_SHUT = "The folder {folder} can't be looked into ({why})."
GROUP_TOO_MANY = "There are more than {most} photos; choose a folder that holds fewer."
GROUP_EMPTY = "There is no photo in the folder; put JPEG, PNG, WebP, TIFF or HEIC photos there."
GROUP_NO_PLAN = "Give the plan of the rounds: a text file with the pattern's rounds or a list of totals."
GROUP_PATTERN = "The pattern {pattern} must hold {{maker}} and {{round}} once each, as in {{maker}}_r{{round}}."
GROUP_TABLE_LARGE = "The table has more than {most} megabytes; it can't be the one that names the photos."
GROUP_TABLE_HEAD = "The table's first line must name the columns photo, maker and round; missing: {missing}."
GROUP_TABLE_ROUND = "Line {line} of the table: the round must be a whole number, not {round}."
GROUP_TABLE_TWICE = "Line {line} of the table names {photo} once more; leave one of the lines out."
GROUP_TABLE_BROKEN = "Line {line} of the table can't be read ({why})."
GROUP_TABLE_EMPTY = "The table names no photo."
#: Why a photo has no place among the makers and rounds.
GROUP_UNPLACED = "Nothing says whose it is and which round."
GROUP_NO_MAKER = "Nothing says whose it is."
GROUP_NO_ROUND = "Nothing says which round it is."
GROUP_OUTSIDE = "The plan has no round {n} with a known total; it has {first} to {last}."
GROUP_NO_TOTALS = "The plan has no round with a known total."
#: How a group stands, in one line.
GROUP_AGREE = "{n} of {all} agree"
GROUP_MANY = {
    "off": "{n} off",
    "look": "{n} to look at",
    "again": "{n} to take again",
    "counted": "{n} counted, held against nothing",
}
GROUP_WAITING = "{n} not counted yet"
GROUP_UNPLACED_MANY = "{photos} without a maker and round of the plan."
GROUP_TWICE = "{maker}, round {n}: {photos} of one round; the surest counts ({photo}), all are listed."
GROUP_PIECES = "{maker}, round {n}: {pieces} pieces in one photo ({photo}); the surest counts, all are listed."
GROUP_SAME_NAME = "{maker}: the same name in several folders, taken for different makers: {as_}."
GROUP_AGAIN_SAID = "You said that this photo must be taken again."
GROUP_BY_HAND = "Counted in the hand: {stitches}."
#: What is given away: headings, the table's columns.
GROUP_TITLE = "Makers and rounds"
GROUP_GRID = "Makers by rounds"
GROUP_REST = "Without a maker and round"
GROUP_OF = "of {expected}"
GROUP_MAKER_N, GROUP_PHOTO_N = "Maker {n}", "photo {n}"
GROUP_CSV_HEAD = (
    *("photo", "piece", "maker", "round", "matched by", "needs", "state", "stitches", "it may be", "probability"),
    *("expected", "verdict", "off by", "where", "counts for the round", "counted by the program"),
    *("state of that count", "said by a person at", "before that", "what to know"),
)
#: What to tell a maker.
GROUP_TOLD_AGREE = "As the pattern says: {rounds}."
GROUP_TOLD_OFF = "Round {n}: {said} ({likely} instead of {expected})."
GROUP_TOLD_WHERE = "Most likely near {where}."
GROUP_TOLD_PATTERN = "{alike} of {makers} makers came out so: the pattern is the likelier cause."
GROUP_TOLD_LOOK = "Round {n}: not settled, {stitches}."
GROUP_TOLD_AGAIN = "Round {n}: please send the photo again. {why}"
GROUP_NO_GAUGE = "Gauge: no photo was looked through for something of known size, or shows any."
GROUP_GAUGE_ALONE = "Gauge: {own} stitches to 10 cm; no other maker's is known."
GROUP_GAUGE = {
    "like": "Gauge: {own} stitches to 10 cm, like the others ({others}).",
    "tighter": "Gauge: {own} stitches to 10 cm, tighter than the others ({others}).",
    "looser": "Gauge: {own} stitches to 10 cm, looser than the others ({others}).",
}
GROUP_NO_TENSION = "Tension from round to round: these photos can't tell."
GROUP_TENSION_ALONE = (
    "Tension: the height of the rounds changes by {own} from round to round; no other maker's is known."
)
GROUP_TENSION = {
    "like": "Tension: the height of the rounds changes by {own} from round to round, like the others' ({others}).",
    "larger": "Tension: the height of the rounds changes by {own} from round to round; the others' by {others}.",
    "smaller": "Tension: the height of the rounds changes by {own} from round to round; the others' by {others}.",
}
#: The page of a group.
GROUP_LINK = "Makers and rounds"
GROUP_AWAY = "A folder of photos is opened only at the machine on which the page runs."
GROUP_LEAD = "Everybody's rounds at once: who is off where, and is it the pattern?"
GROUP_FOLDER = "Folder with the photos"
GROUP_FOLDER_HELP = "On this machine. The photos stay where they are; what is counted is kept in one file beside them."
GROUP_PLAN = "Pattern"
GROUP_PLAN_HELP = "The written rounds, or a list of totals. Leave it empty to use that of the last time."
GROUP_OPEN = "Open the folder"
GROUP_NAMING = "Whose is which photo?"
GROUP_NAMES = "How the photos are named"
GROUP_NAMES_HELP = "{maker} and {round} stand for what differs, * for anything; a / parts folders."
GROUP_USE_NAMES = "That is so: count them"
GROUP_LOOKS = "One look each"
GROUP_HEADS = {"off": "Really off", "again": "Take again", "counted": "Counted", "agrees": "Agree"}
GROUP_AGAIN = "Take again"
GROUP_HAND = "Counted in the hand"
GROUP_BACK = "Take back"
GROUP_CHANGED = "it is another photo by now; count again"
GROUP_COUNTING = "Counted {n} of {all}"
GROUP_LEFT = "about {time} left"
GROUP_STOP = "Stop for now"
GROUP_COUNT = "Count {photos}"
GROUP_CALL = "Makers are called by"
GROUP_CALLED = {"names": "names", "initials": "initials", "numbers": "numbers"}
GROUP_SAVE_PAGE, GROUP_SAVE_PDF, GROUP_SAVE_CSV = "Save as a page", "Save to print (PDF)", "Save as a table (CSV)"
GROUP_WHOSE = "Whose is which photo"
GROUP_WHOSE_HEAD = ("photo", "maker", "round", "what is missing")
SECONDS, MINUTES, HOURS = "{n} s", "{n} min", "{n} h"
#: Whose doing it is, as sentences.
GROUP_PATTERN_OFF = "Look at the pattern's round {n}: {alike} of {makers} makers came out {by}."
GROUP_MAKER_OFF = "{maker} was off at {rounds}."
GROUP_MAKER_PERHAPS = "{maker} was probably off at {rounds}; settle the count first."
ONE_SHORT, ONE_OVER, MANY_SHORT, MANY_OVER = "one short", "one over", "{n} short", "{n} over"
GROUP_AT_ROUND, GROUP_AT_ROUNDS = "round {rounds}", "rounds {rounds}"
GROUP_NONE_OFF = "No round speaks against the pattern."
#: Where it stays open whether the pattern is right.
GROUP_HIDDEN = "At {rounds} the photos are too few or not sure enough to show an error of the pattern."
GROUP_ALL_HIDDEN = (
    "Whether the pattern is right stays open: its rounds have too few photos or none that are sure enough."
)
GROUP_TOO_FEW = "Whether the pattern is right stays open: that takes the same round from three makers."
GROUP_UNSETTLED_ONE = "One of these counts is not sure: settle it first."
GROUP_UNSETTLED = "{n} of these counts are not sure: settle them first."
#: Which photo is whose.
GROUP_MATCHED = "{n} of {all} photos have a maker and a round: {makers} makers, {rounds} rounds."
GROUP_MISSING = "The table names it, but it is not in the folder."
#: What a photo needs, and what its sign in the table means.
GROUP_NEEDS = {
    "again": "take again",
    "look": "one look",
    "off": "really off",
    "counted": "counted",
    "agrees": "agrees",
}
GROUP_SIGNS = "= agrees, -1 one short, +1 one over, ? needs a look, x take the photo again."
GROUP_PIECE = "piece {n}"
GROUP_AND_MORE = "and {n} more"
#: What keeps a cluster from counting; what was counted is kept.
GROUP_NO_DASK = "Counting on a cluster needs the extra 'cluster': pip install 'rimtally[cluster]'."
GROUP_NO_SCHEDULER = "No scheduler answers at {address}. Start it there, or count without --scheduler."
GROUP_NO_WORKERS = "The scheduler at {address} has no workers. Start some, or count without --scheduler."
GROUP_LOST = "The scheduler at {address} was lost. What was counted is kept: start again to go on."
GROUP_KILLED = (
    "One photo ended several workers of the cluster, perhaps for want of memory. What was counted is kept: start again "
    "without --scheduler to find out which one."
)
GROUP_OTHER_PROGRAM = "The cluster's workers run another version ({theirs}) than this machine ({ours}). Update them."
#: What keeps a group's file from being used.
GROUP_TROUBLES = {
    "full": "The disk is full: {file} can't be written. What was counted is kept; make room and start again.",
    "read-only": "{file} can't be written in the folder. Make the folder writable, or copy the photos elsewhere.",
    "locked": "Another window or program is writing {file}. Wait a moment and start again.",
    "damaged": "{file} is damaged and was left as it is. Move it somewhere else and start again.",
    "not ours": "{file} is something else and was left as it is. Move it somewhere else and start again.",
    "newer": "{file} was written by a newer version of this program and was left as it is. Update the program.",
    "disk": "The disk could not be read or written. See that it is connected and sound, and start again.",
}

# Grammar --------------------------------------------------------------------


#: What was seen where another number of pieces was asked for.
PIECES_SEEN = "{number} seen"


def pieces_seen(number: int) -> str:
    """How many pieces were seen."""
    return PIECES_SEEN.format(number=number)


def stitches(number: int | str) -> str:
    """Say a number of stitches.

    Parameters
    ----------
    number : int or str
        A number, or several as of :func:`either`.

    Returns
    -------
    str
        "1 stitch", "24 stitches".
    """
    return ONE_STITCH if str(number) == "1" else TOTAL.format(n=number)


def rounds(number: int) -> str:
    """Say a number of rounds: "1 round", "4 rounds"."""
    return ROUND if number == 1 else ROUNDS.format(n=number)


def photos(number: int) -> str:
    """Say a number of photos: "1 photo", "4 photos"."""
    return PHOTO if number == 1 else PHOTOS.format(n=number)


def duration(seconds: float) -> str:
    """Say how long something takes: "40 s", "12 min", "1.5 h"."""
    if seconds < 90:
        return SECONDS.format(n=round(seconds))
    return MINUTES.format(n=round(seconds / 60)) if seconds < 5400 else HOURS.format(n=round(seconds / 3600, 1))


def off_alike(by: int) -> str:
    """Say by how much makers are off alike: "one short", "2 over"."""
    if abs(by) == 1:
        return ONE_SHORT if by < 0 else ONE_OVER
    return (MANY_SHORT if by < 0 else MANY_OVER).format(n=abs(by))


def complete_rounds(number: int) -> str:
    """Say a number of complete rounds: "1 complete round", "4 complete rounds"."""
    return COMPLETE_ROUND if number == 1 else COMPLETE_ROUNDS.format(n=number)


def any_of(parts: Iterable[str]) -> str:
    """Say that it is one of some things: "a", "a or b", "a, b or c"."""
    *others, last = parts
    return COMMA.join(others) + OR + last if others else last


def all_of(parts: Iterable[str]) -> str:
    """Say that it is all of some things: "a", "a and b", "a, b and c"."""
    *others, last = parts
    return COMMA.join(others) + AND + last if others else last


def either(numbers: Iterable[int]) -> str:
    """Say that it is one of some numbers.

    Parameters
    ----------
    numbers : iterable of int
        At least one.

    Returns
    -------
    str
        "24", "23 or 24", "22, 23 or 24".
    """
    return any_of(str(n) for n in sorted(numbers))


def percent(probability: float) -> str:
    """Say a probability so that it claims neither more nor less than is known.

    Parameters
    ----------
    probability : float
        0 to 1.

    Returns
    -------
    str
        Whole percents, or "over 99%", or "under 1%".
    """
    return SURELY if probability > 0.99 else HARDLY if probability < 0.01 else f"{probability:.0%}"


def date(moment: datetime) -> str:
    """A date: "4 May 2031"."""
    return DATE.format(day=moment.day, month=MONTHS[moment.month - 1], year=moment.year)


def finding(kind: str, **values: object) -> tuple[str, str]:
    """What is the matter in a plan, and what to write instead.

    Parameters
    ----------
    kind : str
        A key of :data:`FOUND_IN_PLAN`.
    **values
        What is filled in.

    Returns
    -------
    what, fix : str
    """
    what, fix = (text.format(**values) for text in FOUND_IN_PLAN[kind])
    return what, fix


def together(*sentences: str) -> str:
    """Sentences, empty ones left out, one behind the other."""
    return " ".join(filter(None, sentences))


def begun(text: str) -> str:
    """A part of a sentence as its beginning: "it agrees" -> "It agrees"."""
    return text[:1].upper() + text[1:]


def carried_on(sentence: str) -> str:
    """A sentence as the end of another one, behind a colon or a comma: "Go on." -> "go on."."""
    return sentence[:1].lower() + sentence[1:]


def sentence(text: str) -> str:
    """What has neither a capital nor a full stop as a sentence."""
    return SENTENCE.format(text=begun(text))


def with_detail(sentence: str, detail: str) -> str:
    """A sentence with what is the matter in this very case: in brackets, before its full stop."""
    return f"{sentence[:-1]} ({detail}){sentence[-1]}" if detail else sentence


def said(off_by: int | None) -> str:
    """A verdict as a part of a sentence.

    Parameters
    ----------
    off_by : int or None
        Stitches counted less stitches expected; None where it can't be said.

    Returns
    -------
    str
        "agrees", "short by 2", "over by 1", "can't say".
    """
    if off_by is None:
        return SAID["can't say"]
    return SAID["short" if off_by < 0 else "over" if off_by else "agrees"].format(n=abs(off_by))


def headline(off_by: int | None) -> str:
    """A verdict as the page's headline: "It agrees", "Short by 2"; the parameter is that of :func:`said`."""
    if off_by:
        return OFF_BY[1 if off_by > 0 else -1].format(n=abs(off_by))
    return VERDICTS["can't say" if off_by is None else "agrees"]


def slip_place(skipped: bool, clock: str, first: int, last: int) -> str:
    """Where a round left its plan, as a part of a sentence.

    Parameters
    ----------
    skipped : bool
        A stitch was skipped: it lies between the marks.
    clock : str
        As of :data:`CLOCK`.
    first, last : int
        Numbers of the marks, which may be the same.

    Returns
    -------
    str
        "near 4 o'clock, at marks 15 and 16".
    """
    place = BETWEEN_MARKS if skipped else AT_MARK if first == last else AT_MARKS
    return place.format(clock=clock, first=first, last=last)
