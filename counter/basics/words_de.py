"""Jedes Wort, das ein Mensch liest, auf Deutsch: an Stelle von ``words.py``, Name für Name.

Fachwörter und woher sie sind:

- feste Masche (fM), Kettmasche (Km), Luftmasche (Lm), halbes Stäbchen (hStb), Fadenring (FR), Abnahme (Abn): Liste der
  Häkelzeichen auf code-knacker.de/haekelschrift.htm; dieselben ohne Abnahme auf craftery.de, "Die wichtigsten
  Häkelmaschen"; Fadenring und Runde auch auf kreativehaekelideen.de, "Reihen & Runden häkeln".
- Stäbchen (Stb), Doppelstäbchen: craftery.de, ebenda.
- Zunahme ("eine Masche verdoppeln") und Abnahme ("zwei Maschen zusammenhäkeln"): so in deutschen Anleitungen für
  Figuren; Zunahme als Hauptwort aus dem Gedächtnis.
- Maschenmarkierer, Maschenprobe, Arbeitsschlinge, aufribbeln, Randmaschen, Fadenspannung: aus dem Gedächtnis.

Die Zeichen geschriebener Runden (sc, inc, dec) bleiben englisch: so werden sie gelesen.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

LANGUAGE, LANGUAGE_NAME, LANGUAGES = "de", "Deutsch", "Sprache"

TITLE = "Rimtally"
LEAD = "Ein Foto deiner Runde, und jede Masche ist gezählt."

# Start
DROP = "Ein Foto der Runde, oder mehrere auf einmal"
DROP_ROUND = "Ein Foto von Runde {n}"
TAKE = "Foto machen"
CHOOSE_PHOTO = "Auswählen"
DROP_HERE = "Hier ein Foto ablegen, oder mehrere"
MOST_SIZE = "Je bis zu 25 MB"
CAMERA = "Kamera dieses Geräts benutzen"
CAMERA_LABEL = "Halte die Kamera gerade über die Runde"
SAMPLES = "Oder probier eines von diesen"
TIPS_HEAD = "Ein Foto, das sich gut zählen lässt"
TIPS = (
    ("Flach und ganz", "Der ganze Rand im Bild, rechte Seite oben, nichts liegt darauf."),
    ("Ruhiger Grund", "Ein Tisch oder Tuch in anderer Farbe als das Garn."),
    ("Licht von der Seite", "Am Fenster, Handy gerade darüber, so nah, wie der Rand es erlaubt."),
)
PRIVATE = "Dein Foto wird dort gezählt, wo diese Seite läuft, und mit diesem Tab vergessen. Nichts wird weitergegeben."
PRIVATE_BOOK = (
    "Dein Foto wird dort gezählt, wo diese Seite läuft, und vergessen, wenn du diesen Tab schließt, außer du behältst"
    " es im Notizbuch."
)
PRIVATE_HOME = (
    "Deine Fotos bleiben auf diesem Rechner. Dieser Browser merkt sich das letzte, bis du weitermachst; was du"
    " behältst, kommt in dein Notizbuch."
)

# The phone beside the desk
SCAN = "Fotografiere mit dem Handy"
SCAN_PICTURE = "Code zum Scannen mit dem Handy"
SCAN_HINT = "Scanne das mit der Handykamera. Beide müssen im selben Netz sein."
SCAN_OPENS = "Was das öffnet"
SCAN_EXPOSES = (
    "Der Code lässt ein Handy herein, das dann diese Seite sieht und Fotos hierher schicken kann. Der Weg ist nicht"
    " verschlüsselt: andere im selben Netz könnten mitlesen."
)
SCAN_ENDS = "Es endet, wenn du diese Seite schließt."
PHONE_IN, PHONES_IN = "Ein Handy ist verbunden.", "{n} Handys sind verbunden."
SHOW_SENT = "Ein Foto vom Handy ist da: zeig es"
SEND_ON, SENT_ON = "Am Rechner zeigen", "Es ist auf dem Bildschirm des Rechners"
SEND_FULL = "Dort warten zu viele Fotos: sieh dir erst die an."
DOOR_CLOSED = "Diese Tür ist zu"
DOOR_CLOSED_HINT = (
    "Scanne den Code auf dem Bildschirm des Rechners noch einmal: jeder Code lässt ein Handy herein, solange die Seite"
    " dort offen ist."
)

# Left in an earlier tab
LEFT_HERE = "Das hast du gerade angesehen"
SHEET_LEFT_HERE = "Diese hast du gerade angesehen"
PHOTOS, PHOTO = "{n} Fotos", "1 Foto"
GO_ON_SHEET = "Damit weitermachen"
LET_SHEET_GO = "Gehen lassen"
GO_ON = "Damit weitermachen"
LET_LEFT_GO = "Gehen lassen"

# Put away with a tap
PUT_AWAY_IS, BRING_BACK = "Weggelegt: {what}", "Zurückholen"

# What a reload could not bring back
UNRETURNED = "{n} Fotos kamen nicht zurück: leg sie noch einmal ab."
UNRETURNED_ONE = "1 Foto kam nicht zurück: leg es noch einmal ab."
IN_BOOK, IN_BOOK_ONE = (
    "{n}, die du behalten hast, sind in deinem Notizbuch.",
    "1, das du behalten hast, ist in deinem Notizbuch.",
)

# While it works
READING = "Das Foto wird geöffnet …"
COUNTING = "Der Rand wird gesucht, seine Maschen werden gezählt …"

# No count
REFUSED = "Dieses Foto lässt sich nicht zählen"
BROKEN = "Mit diesem Foto ist etwas schiefgegangen"
BROKEN_HINT = "Nichts ist verloren. Versuch es noch einmal, oder nimm ein anderes Foto."

# A way on
SHOW_PIECE = "Oder zeig das Stück:"
SHOW_MIDDLE = "Tippe auf die Mitte des Stücks."
SHOW_EDGE = "Tippe auf seinen Rand, oder zieh die Linie dorthin."
SHOW_COUNT, SHOW_AGAIN = "Das zählen", "Neu beginnen"
SHOW_FOUND = "Tippe auf das Stück, das du meinst."
SHOW_BY_HAND = "Marken selbst setzen"
BY_HAND_WHY = "Markiere jede Masche, dann sag, dass du herum bist."
BY_HAND_HINT = (
    "Tippe am gerade gelegten Rand auf jede Masche: dort entsteht eine Marke. Ein Tipp auf eine Marke wählt sie."
)
SHOW_PICTURE = "Das Foto, das sich nicht zählen ließ"

# Count
STITCHES = "Maschen"
TOTAL = "{n} Maschen"
OR = " oder "
AND = " und "
JOIN = " · "
PHOTO_SAYS = "Das Foto zeigt"
YOU_SAY = "Deine Zählung"
SO_FAR = "Bis jetzt"
SURE = "Sicher"
SURE_DETAIL = "Am Rand ist nichts zweifelhaft."
NOT_SURE = "Nicht sicher"
UNSURE_START = "Alles ist klar, nur nicht, wo die Runde beginnt."
UNSURE_HIDDEN = "Ein Teil des Rands ist verdeckt."
UNSURE_ONE = "Alles ist klar, nur eine Stelle nicht."
UNSURE_SEVERAL = "{n} Stellen lassen sich auf zwei Arten lesen."
UNSURE_UNCLEAR = "Die Maschen sind auf diesem Foto nicht deutlich."
#: How likely a number is.
LIKELY = {"most": "am ehesten", "well": "gut möglich", "may": "möglich", "hardly": "kaum"}
OTHERS = "andere"
DETAILS = "Mehr dazu"
YOURS = "Von dir gezählt"
YOURS_DETAIL = "Das Foto allein sagt {numbers}."
ROUNDS = "{n} Runden"
ROUND = "1 Runde"
CONFIRM = "Ja, es sind {n}"
EXPECTED = "Die Runde soll haben"
EXPECTED_NONE = "offen"
EXPECTED_SHORT = "{n} erwartet"

# Verdict
VERDICTS = {"agrees": "Es stimmt", "can't say": "Noch nicht zu sagen"}

# Rim picture
PICTURE = "Foto der Runde mit {n} nummerierten Marken"
MARK = "Marke {n} von {total}, bei {clock}"
HINT = "Tippe auf den Rand, um näher hinzusehen. Ein Tipp ändert noch nichts."
KEYS = (
    "Tasten: Pfeile gehen am Rand entlang · Entf entfernt · Einfg setzt · Strg+Z macht rückgängig · Strg+Y wiederholt"
    " · + und − für näher und weiter · 0 für alles"
)
#: Under the magnifier; what is in braces is filled in by the browser.
STITCH_HERE = "Masche {n} von {total}"
BETWEEN_HERE = "Zwischen zwei Marken"
REMOVE_HERE, MORE_HERE = "Entfernen", "Hier noch eine"
STITCH_BEFORE, STITCH_AFTER = "Die Marke davor", "Die nächste Marke"
LOUPE_OFF = "Lupe schließen"
STARTS_HERE, MADE_TO_HERE = "Runde beginnt hier", "Bis hier gehäkelt"
UNDO, REDO, RESTART = "Rückgängig", "Wiederholen", "Zurück zu den Marken des Fotos"
ZOOM_IN, ZOOM_OUT, WHOLE = "Näher", "Weiter weg", "Ganze Runde"
DOUBTS = "Sieh hier zuerst nach"
DOUBT_OPEN = "Im Foto zeigen"

# The marks as a table
MARKS_TABLE = "Die Marken als Tabelle"
MARKS_CAPTION = "{n} Marken in Arbeitsrichtung"
MARKS_HEAD = ("Marke", "Bei", "Was zu wissen ist")
MARK_FIRST = "hier beginnt die Runde"
MARK_YOURS = "von dir gesetzt"
MARK_DOUBT = "Stelle {letter}: {why}"

# The rim laid straight
STRIP = "Der Rand, gerade gelegt, zum Mitzählen"
STRIP_HINT = "Die dünne Linie im Foto zeigt, welcher Teil das ist."

# Places in doubt, asked
ASK_SPLIT = "Eine Masche hier oder zwei?"
ASK_LOOP = "Ist das eine Masche oder die Schlinge?"
ASK_HIDDEN = "Verdeckt die Schlinge hier eine Masche?"
ASK_NARROW = "Ist das eine eigene Masche?"
ASK_RIGHT = "Stimmen die Marken hier?"
ONE, TWO = "Eine", "Zwei"
YES, NO = "Ja", "Nein"
STITCH, LOOP = "Eine Masche", "Die Schlinge"
ONLY_LOOP, STITCH_TOO = "Nur die Schlinge", "Auch eine Masche"
AS_MARKED, ONE_FEWER, ONE_MORE = "Ja, wie markiert", "Eine weniger", "Eine mehr"
#: Where a place is, and why it is asked about: by the kind of doubt, as a part of a sentence.
ASK_WHY = "Bei {clock}: {why}."
WHY_ASKED = {
    "seam": "hier beginnt und endet die Runde, und die Schlinge kann wie eine Masche aussehen",
    "end": "es ist nicht klar, wo eine Masche endet und die nächste beginnt",
    "two": "hier ist Platz für zwei",
    "wide": "diese ist viel breiter als ihre Nachbarn",
    "narrow": "diese ist viel schmaler als ihre Nachbarn",
    "hidden": "hier liegt etwas auf dem Rand",
    "all hidden": "der ganze Rand ist verdeckt",
    "": "das Foto ist hier nicht deutlich",
}
ASKED_DETAIL = "Noch anzusehen: {left}."

SLIP = "Marke {marks}, bei {clock}"
SLIPS = "Wo es am ehesten schiefging"

# What to do
TAKE_UP = "Gleich es in der nächsten Runde aus. Häkle sie so:"
IS_FINISHED = "Diese Runde ist"
FINISHED, NOT_YET = "fertig", "noch nicht"
SHOW_LAST = "Tippe auf die letzte Masche, die du gehäkelt hast, dann auf „Bis hier gehäkelt“."
MADE, TO_GO, LEFT_BELOW = "gehäkelt", "fehlen noch", "unten übrig"
GO_ON_WITH = "Weiter mit:"
PLAIN_NEXT = "Das setzt eine Runde ohne Zunahmen voraus. Was soll sie haben? Füg dafür deine Anleitung ein."
TWIN = "Es muss zu einem Gegenstück passen"
TWIN_HOLDS = "Sein Gegenstück hat"
SINCE = "Runden, die seitdem gehäkelt sind"

# Your pattern
PATTERN = "Deine Anleitung"
PASTE = "Füg deine Anleitung ein, ein Teil oder mehrere"
PASTE_EXAMPLE = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]

oder nur Zahlen: 6, 12, 18, 24
oder eine Regel: start 6, add 6"""
READ = "Lesen"
UK = "Britische Begriffe"
PUT_AWAY = "Anleitung weglegen"
FINDINGS = "In der Anleitung anzusehen"
WHICH_PIECE = "Das Teil auf der Nadel"
PIECE_MAKE = "{name} ({n}-mal)"
WHICH_SIZE = "Die Größe, die du häkelst"
CHAIN_COUNTS = "Die ersten Luftmaschen zählen als Masche"
LINE_BY_LINE = "Zeile für Zeile: wofür jede gehalten wurde"
LINE_FOUND = "siehe oben"
ROUNDS_N = "Runden {n} bis {last}"
CLEAN_COPY = "Eine saubere Abschrift zum Häkeln"
STAGGER = "Zunahmen versetzen, damit keine Ecken entstehen"
SAVE_LIST = "Eine Liste zum Abhaken (PDF)"
SAVE_LIST_NAME = "runden-zum-abhaken.pdf"
LINE = "Zeile {n}"
MORE_FINDINGS = "und {n} weitere"
CHOOSE = "Die Runde auf der Nadel"
LET_PHOTO_SAY = "Das Foto entscheiden lassen"
LINK = "Die Adresse dieser Seite enthält jetzt Anleitung und Runde: leg ein Lesezeichen an."
NO_LINK = (
    "Die Anleitung ist zu lang für die Adresse dieser Seite. Sie bleibt hier, bis du die Seite schließt oder neu lädst."
)
HOOK = "Auf der Nadel"
ROUND_OF = "Runde {n} von {last}"
ROUND_ROW = "Runde {n} · {total}"
UNKNOWN = "?"
NO_TOTAL = "Zahl unbekannt"
WHICH = "Welche Runde ist es?"
WHICH_HINT = "Wähl sie hier, oder lass das Foto entscheiden."
BEFORE = "Runde davor"
NEXT = "Nächste Runde"
NEXT_PHOTO = "Nächstes Foto, nächste Runde"
LAST_ROUND = "Das ist die letzte Runde deiner Anleitung."
NO_COMPARISON = "Mit der Anleitung nicht zu vergleichen"

# Size and gauge
SIZE = "Größe und Maschenprobe"
WIDE = "Wie breit ist das Stück, von Rand zu Rand?"
WIDE_EXAMPLE = "8,5 cm"
COIN = "Oder leg eine Bankkarte oder die Messmatte mit ins Foto, oder eine dieser Münzen:"
LOOKING = "Gesucht wird nach Karte, Münze oder Matte …"
GAUGE = "Maschenprobe"
TO_LENGTH = {100.0: "auf 10 cm", 101.6: "auf 4 in"}
ROUNDS_HEAD = "Runden"
SIZE_IS = "Das Stück misst {size}"
SENTENCE = "{text}."
LIES = {
    "flat": "Es liegt flach",
    "a little cupped": "Es wölbt sich etwas",
    "cupped": "Es wölbt sich",
    "cone": "Es steigt zum Kegel an",
    "crowded": "Es ist gedrängt",
    "ruffled": "Es rüscht sich",
}
MAT = "Eine Matte zum Drucken: jedes Foto eines Stücks in ihrer Mitte hat seine Größe."
MAT_PAPER = "Matte, {paper}"
MAT_NAME = "messmatte-{paper}.pdf"

# Two alike
ALIKE = "Zwei gleiche"
ALIKE_HINT = "Arme, Beine, Ohren: behalte diese Zählung, fotografiere das andere Stück, sieh, ob sie passen."
KEEP_FIRST = "Als erstes Stück behalten"
KEEP_INSTEAD = "Stattdessen dieses als erstes behalten"
FIRST_KEPT = "Als erstes Stück behalten"
FIRST_WAITS = "Das erste Stück ist behalten. Jetzt sein Gegenstück:"
FIRST_WAS = "Das erste Stück"
SECOND = "Das zweite fotografieren"
LET_GO = "Das erste Stück gehen lassen"
PAIRS = {"match": "Die Zahlen passen", "can't say": "Ob sie passen, ist noch nicht zu sagen"}
PAIR_OFF = "Die Zahlen unterscheiden sich um {n}"

# Several photos
BEFORE_ONE = "Ein Foto kommt vorher. Deins beginnt von selbst."
BEFORE_MANY = "{n} Fotos kommen vorher. Deins beginnt von selbst."
COUNTING_OF = "Foto {n} von {all} wird gezählt …"
ALL_EXPECTED = "Jede Runde soll haben"
MORE_PHOTOS = "Mehr Fotos dazu"
LEFT_OUT = "Die ersten {most} Fotos sind hier; {n} weitere blieben weg. Leg die für sich ab."
NEEDS_YOU, TO_PUT_RIGHT, COUNTED, AGREES = "Braucht dich", "Zu berichtigen", "Gezählt", "Stimmt"
NO_COUNT = "Keine Zählung"
STATES = {"not sure": "Nicht sicher", "sure": "Sicher", "counted by a person": "Von dir gezählt"}
BROKEN_ONE = "damit ist etwas schiefgegangen"
OPEN = "Öffnen"
BACK = "Zurück zu allen"
SAVE_SHEET = "Tabelle speichern (CSV)"
SHEET_NAME = "gezaehlte-runden.csv"
PUT_SHEET_AWAY = "Diese Fotos weglegen"

# Afterwards
SAVE = "Markiertes Bild speichern"
SAVE_NAME = "markierte-runde.jpg"
AGAIN = "Nächstes Foto"
TO_START = "Anfang"
SAVE_OR_PRINT = "Speichern oder drucken"
UNMADE = "Diese Datei konnte nicht erstellt werden. Nichts wurde geändert: versuch es noch einmal."
SAVE_PAGE = "Eine Seite zum Ausdrucken (PDF)"
SAVE_PAGE_NAME = "gezaehlte-runde.pdf"

# The notebook
MONTHS = (
    *("Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November"),
    "Dezember",
)
DATE = "{day}. {month} {year}"
NOTEBOOK = "Notizbuch"
BOOK_HEAD = "Dein Notizbuch"
KEEP = "Im Notizbuch behalten"
KEEP_ALL = "Alle im Notizbuch behalten"
KEEPING = "Sie werden behalten …"
KEPT = "Behalten"
KEPT_ALL = "Alle sind im Notizbuch behalten."
KEPT_SOME = "{n} von {all} sind im Notizbuch behalten; die anderen haben keine Zählung."
ENTRY_TITLE = "Was es ist"
ENTRY_NOTE = "Notiz"
TO_BOOK = "Notizbuch öffnen"
BACK_TO_BOOK = "Zum Notizbuch"
BACK_TO_PHOTOS = "Zu den Fotos"
EMPTY = "Zählungen, die du behältst, stehen hier mit Foto, Marken und Berichtigungen."
SEARCH = "Suchen"
SEARCH_EXAMPLE = "ein Wort, eine Zahl, ein Datum"
NOTHING_FOUND = "Nichts, das das enthält."
FOUND = "{n} behalten"
FOUND_ONE = "1 behalten"
OFF_BY = {-1: "{n} zu wenig", 1: "{n} zu viel"}
ROUND_N = "Runde {n}"
MORE = "Mehr zeigen"
MOVE = "Ausgeben, einlesen, leeren"
EXPORT = "Alles ausgeben (zip)"
EXPORT_NAME = "notizbuch.zip"
EXPORT_HINT = "Ein Zip: die Fotos, eine Tabelle (CSV) und jede Zählung als JSON."
IMPORT = "Ein Zip einlesen, das hier ausgegeben wurde"
IMPORT_LARGE = "Oder, über {most} MB: wo das Zip auf diesem Rechner liegt"
DROP_ZIP = "Das Zip hier ablegen"
IMPORT_NO_FILE = "Es gibt keine Datei {name}."
IMPORTED = "{added} kamen dazu, {already} waren schon hier."
SERVER_GONE = (
    "Der Server der Seite antwortet nicht. Lass diese Seite offen: sie macht von selbst weiter, sobald er wieder da"
    " ist."
)
LEAVE_OUT = "Beschädigtes weglassen und die anderen einlesen"
LEFT_OUT_ONE = "Weggelassen: {name}."
DAMAGED_KEPT = "Zählung {key} ist beschädigt und lässt sich nicht zeigen. Die anderen sind, wie sie waren: gib sie aus."
IMPORTING = "Das Zip wird durchgesehen …"
DELETE = "Endgültig löschen"
DELETE_ASKED = "Endgültig löschen?"
DELETE_ONE = "Foto, Marken und Notiz lassen sich nicht zurückholen."
DELETE_MANY = "Fotos, Marken und Notizen von {n} Zählungen lassen sich nicht zurückholen."
DELETE_DO = "Löschen"
DELETE_NOT = "Lassen"
DELETED = "Endgültig gelöscht."
DELETE_FOUND = "Alle {n} endgültig löschen"
DELETE_FOUND_ONE = "Diese eine endgültig löschen"
BOOK_TROUBLE = "Das Notizbuch lässt sich nicht öffnen"
DOOR = (
    "Auf diesem Server öffnet sich jedes Notizbuch nur mit seinem eigenen Code. Niemand sonst sieht, was in deinem"
    " steht."
)
CODE = "Der Code deines Notizbuchs"
CODE_EXAMPLE = "fünf Gruppen zu vier"
OPEN_BOOK = "Öffnen"
BEGIN_BOOK = "Ein neues Notizbuch beginnen"
CODE_HEAD = "Schreib dir diesen Code jetzt auf"
CODE_HINT = (
    "Er wird nur dieses eine Mal gezeigt und nirgends aufgehoben, und nichts sonst öffnet dein Notizbuch. Eines, in dem"
    " nichts behalten wird, verschwindet nach 30 Tagen."
)
CODE_NOTED = "Ich habe ihn aufgeschrieben"
NO_SUCH_BOOK = (
    "Kein Notizbuch hat diesen Code. Sieh nach, ob ein Buchstabe verwechselt ist: er hat keine 0 und keine 1."
)

# Cautions

#: Said with everything that could make somebody rip back.
CAUTION = "Prüf es mit Auge und Finger, bevor du etwas aufribbelst."
#: The same where the places have just been named.
CAUTION_PLACES = "Prüf diese Stellen mit Auge und Finger, bevor du etwas aufribbelst."

# What is said about one photo

PIECE_SAID = "{stitches}. {state}: {why}"
PIECE_ROUNDS = "{stitches}, {rounds}. {state}: {why}"
REFUSED_SAID = "abgelehnt. {reason} {hint}"
IN_LINE = "Zeile {line}, Spalte {column}: {what} {fix}"
NEAR_MARK = "bei {clock}, an Marke {mark}: {why}"

# The marked picture and the page to print

STATE_SURE = "sicher"
STATE_NOT_SURE = "nicht sicher"
STATE_YOURS = "von Hand gezählt"
COMPLETE_ROUND = "1 ganze Runde"
COMPLETE_ROUNDS = "{n} ganze Runden"
HOOK_SAYS = "In der Runde auf der Nadel {done} gehäkelt, {left} übrig."
KEY_FIRST, KEY_STITCH, KEY_FIFTH, KEY_CENTRE = "erste Masche", "Masche", "jede fünfte", "Mitte"
PAGE_TITLE = "Eine gezählte Runde"
PAGE_FOOT = "Mit Rimtally aus einem Foto gezählt. {caution}"
PAGE_MARKS = "Die Marken, und bei welcher Stunde eines Zifferblatts jede liegt"
PAGE_LEFT_OUT = "1 bis {n} von {total}; die anderen stehen nur im Bild"
PAGE_YOURS = "Von Hand gezählt"
PAGE_SURENESS = "{state}: {why}"
PAGE_EXPECTED = "{stitches} erwartet"
PAGE_ADDED = "gesetzt"
STITCH_ALONE = "Masche"

# The sheet of several photos

SHEET_HEAD = (
    *("Name", "ein Mensch muss hin", "Stand", "Maschen", "es können sein", "Wahrscheinlichkeit", "erwartet"),
    *("Runde der Anleitung", "Urteil", "Abweichung", "gezählte Runden", "was zu wissen ist"),
)
#: By what a photo needs: whether a person is needed.
NEEDS = {"refused": "ja", "not sure": "ja", "off": "zum Berichtigen", "counted": "nein", "agrees": "nein"}

# Numbers and places

ONE_STITCH = "1 Masche"
SURELY, HARDLY = "über 99 %", "unter 1 %"
#: A place round the rim, as on a clock face.
CLOCK = "{hour} Uhr"
#: Between the members of a list that "and" or "or" ends.
COMMA = ", "

# Photos that can't be counted: code -> (reason, hint)

REFUSALS = {
    "missing": ("Diese Datei gibt es nicht.", "Prüf Name und Ordner."),
    "empty": ("Die Datei ist leer.", "Nimm oder kopiere das Foto noch einmal."),
    "not a picture": (
        "Diese Datei ist kein lesbares Bild.",
        "Nimm ein Foto als JPEG, PNG, WebP, TIFF oder HEIC.",
    ),
    "truncated": (
        "Die Bilddatei ist abgeschnitten oder beschädigt.",
        "Kopiere sie noch einmal von Kamera oder Handy.",
    ),
    "too large": (
        "Das Bild hat mehr Bildpunkte, als sich sicher lesen lassen.",
        "Speichere es kleiner, am besten als JPEG mit höchstens 50 Megapixeln.",
    ),
    "too small": (
        "Das Bild ist zu klein, um einzelne Maschen zu zeigen.",
        "Maschen sind ab etwa 7 Bildpunkten zu sehen: Geh näher heran oder nimm das Foto selbst statt einer Kopie.",
    ),
    "animated": ("Das ist eine Animation, kein Foto.", "Nimm ein einzelnes Standbild."),
    "several pictures": (
        "Die Datei enthält mehr als ein Bild.",
        "Speichere das Foto des Stücks als eigene Datei.",
    ),
    "no piece": (
        "Im Bild ist keine gehäkelte Runde zu finden.",
        "Leg das Stück flach auf ruhigen Grund in anderer Farbe und füll das Bild damit.",
    ),
    "several pieces": (
        "Im Bild ist mehr als ein Stück.",
        "Sag, welches gemeint ist, oder fotografiere eines nach dem anderen.",
    ),
    "no such piece": (
        "Im Bild ist kein Stück mit dieser Nummer.",
        "Die Stücke sind von links nach rechts nummeriert, ab 1.",
    ),
    "cut off": (
        "Das Stück ragt aus dem Bild.",
        "Geh etwas zurück, bis der ganze Rand im Bild ist.",
    ),
    "no stitches": (
        "Etwas Rundes ist da, aber an seinem Rand sind keine Maschen zu unterscheiden.",
        "Geh näher heran, halt die Kamera ruhig und lass Licht von der Seite darauf fallen.",
    ),
}
#: What was seen in one very photo, in brackets behind the reason.
FILE_IS_FOLDER = "es ist ein Ordner"
FILE_NOT_PLAIN = "es ist keine einfache Datei"
FILE_LARGE = "die Datei hat {n} Megabyte"
FILE_CLOSED = "sie lässt sich nicht öffnen"
FILE_NAME_NO_TEXT = "ihr Name enthält Bytes, die kein Text sind: benenn sie um"
PIXELS = "{width} x {height} Bildpunkte"
PIXELS_STRIP = "ein Streifen von {width} x {height} Bildpunkten"
PIXELS_A_STITCH = "etwa {pitch:.1f} Bildpunkte je Masche"

# Places in doubt: kind -> what is in doubt there

IN_DOUBT = {
    "seam": "Hier beginnt und endet die Runde: ist das eine Masche, oder die Schlinge und das Fadenende?",
    "end": "es ist nicht klar, ob hier eine Masche endet",
    "two": "hier könnten zwei Maschen sein",
    "wide": "diese Masche ist viel breiter als ihre Nachbarn",
    "narrow": "diese Masche ist viel schmaler als ihre Nachbarn",
    "hidden": "ein Teil des Rands ist hier verdeckt",
    "all hidden": "der ganze Rand ist verdeckt",
}
#: A place in doubt with all that is known of it.
LOOK_AT = "Sieh bei {clock} nach, an Marke {mark}: {why}"
#: Why a count is not sure.
READ_IN_MORE_WAYS = "Die Maschen am Rand lassen sich auf mehr als eine Art lesen."

# A count against what it should be

#: By the verdict: as a part of a sentence.
SAID = {"agrees": "stimmt", "can't say": "nicht zu sagen", "short": "{n} zu wenig", "over": "{n} zu viel"}
NOT_FINISHED = "Die Runde ist nicht fertig: {stitches} gehäkelt, {left} der Runde darunter übrig; {expected} erwartet."
AS_EXPECTED = "{stitches}, wie erwartet."
SHORT_OF = "{stitches}, {n} zu wenig: {expected} erwartet."
OVER_IT = "{stitches}, {n} zu viel: {expected} erwartet."
UNSURE_OF = "Nicht sicher: {numbers} Maschen; {expected} erwartet."
UNSURE_NOT_AMONG = "Nicht sicher: {numbers} Maschen; {expected} erwartet, und das ist nicht darunter."
LOOK_NEAR = "Sieh bei {where} nach."
ON_HOOK = "In der Runde auf der Nadel: {done} gehäkelt, {left} übrig."

# What to do about a round that is off

GO_ON_NEXT = "Mach mit der nächsten Runde weiter."
GO_ON_WRITTEN = "Mach mit der nächsten Runde weiter: {text}"
SETTLE = "Klär zuerst die Stellen, die zweifelhaft sind."
COUNT_BY_EYE = "Zähl diese Runde zuerst mit dem Auge: das Foto allein klärt es nicht."
GO_ON_FINISHED = "Wenn diese Runde fertig ist, {do}"
#: Questions that come before anything is ripped back.
ASK_FINISHED = (
    "Ist diese Runde fertig? Wenn nicht, ist noch nichts falsch: auf dem Weg zu ihrer Zahl kann sie gut {n} haben."
    " Häkle sie zu Ende, dann fotografiere sie noch einmal."
)
WORK_ON = "Häkle diese Runde zu Ende, dann fotografiere sie noch einmal: bis dahin ist nichts falsch."
BEYOND_WAY = (
    "Fertig oder nicht, auf dem Weg zu {expected} kann diese Runde nicht {n} haben: zähl sie mit dem Auge, bevor du"
    " weiterhäkelst, und prüf, welche Runde es ist."
)
IF_FINISHED = "Wenn sie fertig ist, {do}"
SAY_FINISHED = "Wenn sie fertig ist, sag es, und du erfährst, was zu tun ist."
ASK_ROUND = (
    "Welche Runde ist es? Dass es Runde {n} ist, war nur aus dem Foto geraten: zähl die Runden deines Stücks und sag,"
    " welche es ist, bevor etwas aufgeribbelt wird."
)
HOLDS_BEFORE = (
    "Es hat genau, was Runde {n} haben soll ({stitches}): nichts muss aufgeribbelt werden. Ist Runde {next} noch zu"
    " häkeln? Dann mach damit weiter: {text}"
)
WITHIN_ANOTHER = (
    "Es kann Runde {n} sein, noch nicht fertig: dann muss nichts aufgeribbelt werden. Zähl die Runden deines Stücks;"
    " ist es Runde {said}, und fertig, dann sag es."
)
HOLDS_ANOTHER = (
    "Es hat genau, was Runde {n} haben soll ({stitches}): ist es diese Runde, muss nichts aufgeribbelt werden. Zähl die"
    " Runden deines Stücks und sag, welche es ist."
)
CHAIN_WITHIN = "Die Zahl {expected} zählt die Luftmaschen am Anfang der Runde als eine Masche."
CHAIN_BESIDE = "Die Zahl {expected} lässt die Luftmaschen am Anfang der Runde weg."
ASK_CHAIN_SHORT = (
    "Sind die Luftmaschen am Anfang der Runde unter den {n} markierten? Die Zahl zählt sie als eine Masche: sind sie"
    " nicht markiert, hat die Runde {expected}, und nichts ist falsch."
)
ASK_CHAIN_OVER = (
    "Sind die Luftmaschen am Anfang der Runde unter den {n} markierten? Die Zahl zählt sie nicht: sind sie markiert,"
    " hat die Runde {expected}, und nichts ist falsch."
)
NEAR_ANOTHER = (
    "Welche Runde ist es? Es ist {near}, was Runde {n} haben soll ({stitches}): zähl die Runden deines Stücks von der"
    " Mitte aus, bevor etwas aufgeribbelt wird. Nur wenn es Runde {said} ist, und fertig, weicht es um {off} ab."
)
MAY_BE_ANOTHER = (
    "Welche Runde ist es? Es kann Runde {n} sein, noch nicht fertig: dann muss nichts aufgeribbelt werden. Zähl die"
    " Runden deines Stücks von der Mitte aus; nur wenn es Runde {said} ist, und fertig, weicht es um {off} ab."
)
AS_NEAR, NEARER = "ebenso nah an dem", "näher an dem"
OUTSIDE_PLAN = (
    "Keine Runde dieser Anleitung kommt an {n} heran: ist es die richtige Anleitung, das richtige Teil und die richtige"
    " Größe, und Runde {said}? Nur dann weicht es um {off} ab."
)
IF_AS_SAID = "Wenn sie fertig ist, wie du sagst: {do}"
TWIN_MATCHES = "Es passt zu seinem Gegenstück (je {stitches}): nichts muss aufgeribbelt werden."
ASK_TWIN = (
    "Wie viele hat sein Gegenstück? Sind es auch {n}, passen die zwei, und nichts muss aufgeribbelt werden. Sind es"
    " {expected}: {do}"
)
TWIN_DIFFERS = (
    "Sein Gegenstück hat {twin}, und die Anleitung sagt {expected}: zähl beide noch einmal, bevor etwas aufgeribbelt"
    " wird."
)
WORK_MORE = "Gleich es in der nächsten Runde aus: häkle sie mit {stitches} mehr."
WORK_FEWER = "Gleich es in der nächsten Runde aus: häkle sie mit {stitches} weniger."
WORK_WRITTEN = "Gleich es in der nächsten Runde aus: {text}"
TWIN_MUST_MATCH = "Damit es zu seinem Gegenstück passt, {do}"
AS_WRITTEN = {
    "increase": "Es ist eine Runde mit Zunahmen: damit sie ist, wie sie geschrieben steht, {do}",
    "decrease": "Es ist eine Runde mit Abnahmen: damit sie ist, wie sie geschrieben steht, {do}",
}
#: A look comes before anything is undone.
COUNT_FIRST = "Zähl diese Runde noch einmal mit dem Auge, Marke für Marke. Nur wenn sie wirklich {n} hat: {do}"
COUNT_ROUND_FIRST = (
    "Zähl diese Runde noch einmal mit dem Auge, Marke für Marke, und prüf, ob genau diese Runde {expected} haben soll."
    " Nur wenn sie dann wirklich {n} hat: {do}"
)
RIP_TO_MARK = (
    "Schau dir zuerst Marke {mark} mit Auge und Finger an; nur wenn es dort schiefging, ribble bis Marke {mark} auf und"
    " häkle den Rest der Runde neu."
)
RIP_STITCHES = (
    "Schau dir zuerst Marke {mark} mit Auge und Finger an; nur wenn es dort schiefging, ribble bis Marke {mark} auf"
    " ({stitches}) und häkle den Rest der Runde neu."
)
RIP_TO_AGREEING = "Ribble bis zur letzten Runde auf, die stimmt."
RIP_ROUND = (
    "Ribble diese Runde auf, bis zum Ende von Runde {n}, und zähl auch die; stimmt sie auch nicht, geh weiter zurück."
)
RIP_ROUNDS = (
    "Ribble {many} Runden auf, bis zum Ende von Runde {n}, und zähl auch die; stimmt sie auch nicht, geh weiter zurück."
)

# Where it went wrong

#: By the kind of slip: what was most likely done, as a part of a sentence.
DONE = {
    "increase left out": "eine Zunahme wurde als eine einzelne Masche gehäkelt",
    "increase too many": "zwei Maschen wurden gehäkelt, wo eine hingehört",
    "decrease left out": "eine Abnahme wurde als zwei einzelne Maschen gehäkelt",
    "stitch skipped": "eine Masche wurde übersprungen, oder sie fehlt in der Runde darunter",
    "stitch too many": "eine Masche ist zu viel, hier oder in der Runde darunter",
}
SLIP_AT = "{done}, {where}"
AT_MARK = "bei {clock}, an Marke {first}"
AT_MARKS = "bei {clock}, an den Marken {first} und {last}"
BETWEEN_MARKS = "bei {clock}, zwischen den Marken {first} und {last}"
MOST_LIKELY = "Am ehesten: {slip}."
MOST_LIKELY_BY = "Am ehesten: {slip} ({p})."
PERHAPS = "Die Zählung kann selbst um eins danebenliegen; stimmt sie, sieh zuerst {where} nach: vielleicht {done}."
USUAL_SHORT = (
    "Eine zu wenig heißt oft, dass die erste Masche übersprungen wurde oder der Maschenmarkierer um eine verrutscht"
    " ist."
)
USUAL_OVER = (
    "Eine zu viel heißt oft, dass in die Kettmasche am Rundenende gehäkelt wurde oder die Masche am Markierer zweimal."
)
#: Why no place is named.
NO_PLACE_TOTAL = "Die Anleitung sagt nicht, was die Runde haben soll."
NO_PLACE_SHORT = "Bei {n} Maschen zu wenig ist es nicht eine einzelne Stelle."
NO_PLACE_OVER = "Bei {n} Maschen zu viel ist es nicht eine einzelne Stelle."
NO_PLACE_WRITTEN = "Die Anleitung sagt nicht, wie die Runde gehäkelt wird; so kann das Foto nicht sagen, wo."
NO_PLACE_FITS = "Die Marken passen nirgends zur geschriebenen Runde."
NO_PLACE_RIGHT = "Die Runde hat, was sie haben soll."
NO_PLACE_PLAIN = "Alle Zunahmen scheinen da zu sein: such den Fehler bei den einfachen Maschen, oder eine Runde tiefer."
NO_PLACE_SEEN = "Das Foto zeigt nicht, wo."

# Which round of a plan it is

WHICH_NONE = "Keine Runde der Anleitung passt zur Zählung: sie kann unfertig sein, oder ein anderes Stück."
WHICH_BOTH = (
    "Die Runden {rounds} haben beide {stitches} und lassen sich auf diesem Foto nicht unterscheiden: zähl die Runden,"
    " oder sag, welche es ist."
)
WHICH_ALL = (
    "Die Runden {rounds} haben alle {stitches} und lassen sich auf diesem Foto nicht unterscheiden: zähl die Runden,"
    " oder sag, welche es ist."
)
WHICH_BEST = "Am ehesten Runde {n} ({stitches} nach der Anleitung; {p})."
WHICH_TOO = (
    "Andere haben auch {n}; für diese sprechen nur die Runden, die im Foto gezählt wurden, und die sind bei etwa einem"
    " von vier Fotos falsch: zähl sie selbst, oder sag, welche es ist."
)
WHICH_MORE = "Das Foto zeigt {n} mehr."
WHICH_FEWER = "Das Foto zeigt {n} weniger."
WHICH_ALSO = "Es kann auch Runde {rounds} sein."
PERHAPS_ROUND = "Es hat, was Runde {n} haben soll ({stitches}): ist es vielleicht die?"
#: Why a plan can't be held against a count, without a full stop.
TOTAL_OR_PLAN = "gib eine erwartete Zahl oder eine Anleitung, nicht beides"
PLAN_WITHOUT_ROUNDS = "die Anleitung enthält keine lesbaren Runden"
PLAN_WITHOUT_ROUND = "die Anleitung hat keine Runde {n}; sie geht von {first} bis {last}"
PLAN_WITHOUT_TOTAL = "die Anleitung sagt nicht, wie viele Maschen Runde {n} ergibt; schreib die Zahl dahinter"

# What is found in a written plan: (what is the matter, what to write instead)

HOW_TO_WRITE = "Schreib eine Runde wie 'R4: (sc 2, inc) x 6 [24]', oder Zahlen wie '6, 12, 18, 24'."
ONE_PIECE = "Lies die Runden eines Teils auf einmal."
FOUND_IN_PLAN = {
    "too long": ("Der Text ist zu lang: {n} Zeichen.", "Lies die Runden eines Teils, bis zu {most} Zeichen."),
    "no text": (
        "Das ist kein Text: es enthält Zeichen, die keine Anleitung hat.",
        "Speichere die Anleitung als einfachen Text (UTF-8).",
    ),
    "deep": (
        "Mehr als {most} Klammern stehen offen ineinander.",
        "Schließ jede Klammer, wo ihre Wiederholung endet.",
    ),
    "no round": ("In diesem Text ist keine Runde zu finden.", HOW_TO_WRITE),
    "too much": ("Der Text ist zu lang, um ihn durchzurechnen.", ONE_PIECE),
    "more": ("Noch mehr lässt sich nicht lesen.", "Berichtige erst das hier."),
    "rows": (
        "Das ist in Reihen gehäkelt, nicht in Runden.",
        "Reihen haben keinen Rand zum Zählen: gib die Runden, wie 'R1: ...'.",
    ),
    "nothing said": ("Rd {n} sagt nichts.", HOW_TO_WRITE),
    "line unused": (
        "Diese Zeile wird nicht als Runde gelesen.",
        "Ist sie eine, beginn sie mit ihrer Nummer, wie 'R5: ...'; wenn nicht, lass sie.",
    ),
    "no end": (
        "Diese Zeile sagt nicht, wie viele Runden sie meint; so werden sie nicht gezählt.",
        "Schreib, wie viele, wie 'R5-9: sc around', oder zähl deine und schreib das.",
    ),
    "unclear": ("Diese Runde lässt sich nicht so lesen, dass sie aufgeht. Wort für Wort: {what}", "{fix}"),
    "which size": (
        "Das ist für mehrere Größen geschrieben ({sizes}); gelesen wird es für {size}.",
        "Sag, welche du häkelst.",
    ),
    "no size": ("Eine Größe {size!r} gibt es hier nicht.", "Wähl eine von diesen: {sizes}."),
    "no piece": ("Ein Teil {piece!r} gibt es hier nicht.", "Wähl eines von diesen: {pieces}."),
    "no stitch": ("Rd {n} nennt keine Masche, die hier bekannt ist.", HOW_TO_WRITE),
    "strange word": ("'{word}' ist keine Masche, die hier bekannt ist.", HOW_TO_WRITE),
    "again": ("Rd {n} kommt nach Rd {last} noch einmal.", "Gib ihr die Nummer {next}, oder lass sie weg."),
    "one left out": ("Rd {n} folgt auf Rd {last}.", "Ergänze Rd {next}, oder gib ihr die Nummer {next}."),
    "several left out": (
        "Rd {n} folgt auf Rd {last}.",
        "Ergänze Rd {next} bis {before}, oder gib ihr die Nummer {next}.",
    ),
    "late": ("Rd {n} kommt nach Rd {last}.", "Gib ihr die Nummer {next}, oder stell sie weiter nach oben."),
    "impossible total": ("Rd {n} kann nicht {total} Maschen haben.", "Schreib eine Zahl von 1 bis {most}."),
    "many totals": ("In einer Zeile stehen zu viele Zahlen.", "Gib bis zu {most} Runden."),
    "uneven totals": (
        "Hier sind {rounds} Runden und {totals} Zahlen.",
        "Gib eine Zahl für alle, oder eine für jede.",
    ),
    "no such growth": (
        "Von {first} in Schritten von {step} kommt keine Runde auf {limit}.",
        "Ändere die letzte Zahl oder den Schritt.",
    ),
    "long round": ("Die Runde ist zu lang zum Lesen.", "Schreib ihre Wiederholungen als '(...) x 6'."),
    "no source": ("Rd {n} steht nicht in dieser Anleitung.", "Schreib die Runde aus, oder wiederhol eine davor."),
    "US term": (
        "'{word}' ist ein US-Begriff; in britischen kommt er nie vor.",
        "Lies diese Anleitung in US-Begriffen.",
    ),
    "UK term": ("'{word}' ist ein britischer Begriff.", "Lies diese Anleitung in britischen Begriffen."),
    "backwards": ("Die Runden {first} bis {last} laufen rückwärts.", "Schreib die kleinere Zahl zuerst."),
    "high number": ("Runde {n} ist eine zu hohe Nummer.", "Nummeriere die Runden von 1 bis {most}."),
    "large number": ("{n} ist mehr, als eine Runde haben kann.", "Schreib eine Zahl bis {most}."),
    "not open": (
        "Die Klammer {bracket} schließt nichts.",
        "Öffne sie, wo die Wiederholung beginnt, oder lass sie weg.",
    ),
    "not closed": (
        "Die Klammer {bracket} wird nie geschlossen.",
        "Schließ sie mit {mate}, wo die Wiederholung endet.",
    ),
    "unreadable": (
        "'{word}' lässt sich hier nicht lesen.",
        "Schreib die Runde wie '(sc 2, inc) x 6 [24]', oder nur ihre Zahl wie '[24]'.",
    ),
    "chain": (
        "Zählen die Luftmaschen am Anfang von Rd {n} als Masche? Ohne sie ergibt Rd {n} {made}, mit ihnen {more}.",
        "Schreib '(counts as a stitch)' oder '(does not count)' dahinter, oder die Zahl der Runde.",
    ),
    "two totals": ("Rd {n} hat zwei Zahlen, und nichts sagt, welche gemeint ist.", "Schreib eine, wie 'R5: 24'."),
    "left over": (
        "Die Runde geht ohne '{word}' auf; das bleibt also weg.",
        "Gehört es zur Runde, schreib es wie '(sc 2, inc) x 6 [24]'; wenn nicht, lass es weg.",
    ),
    "nothing repeated": ("Hier steht nichts, was sich wiederholen ließe.", HOW_TO_WRITE),
    "many repeats": (
        "Zu viele Wiederholungen stehen ineinander.",
        "Schließ jede, bevor die nächste beginnt.",
    ),
    "around inside": (
        "'Around' steht in einer anderen Wiederholung.",
        "Sag, wie oft: '(sc 2, inc) x 6' für '(sc 2, inc) around'.",
    ),
    "makes nothing": ("Das ergibt {n} Maschen.", "Eine Runde hat 1 bis {most}."),
    "makes too much": ("Das ergibt {n} Maschen.", "Eine Runde hat bis zu {most}."),
}
#: The printed check list.
LIST_TITLE = "Runden zum Abhaken"
LIST_FOOT = "Mit Rimtally neu geschrieben. Eine Runde ist fertig, wenn ihre Zahl nachgezählt ist."
LIST_PAGE = "{n} von {all}"
LIST_MAKE = "{n}-mal"
#: A piece of a pattern that has no name.
PIECE_N = "TEIL {n}"
#: What a line of a plan is that makes no stitches, by its kind.
REMARKS = {
    "heading": "Überschrift",
    "term": "ein erklärter Begriff",
    "material": "Material",
    "measure": "ein Maß",
    "finishing": "Fertigstellen",
    "rule": "eine Trennlinie",
    "note": "eine Bemerkung",
}
#: What doesn't agree in a round that was read; "sc", "inc" and "dec" are signs of written rounds.
ROUND_MAKES = "Rd {n} ergibt {made}, nicht {stated}."
ROUND_CANT_MAKE = "Rd {n} kann nicht {stated} ergeben: ihre Wiederholung ergibt je {made} Maschen."
ROUND_USES = "Rd {n} braucht {used} von den {stitches} darunter."
ROUND_NEEDS = "Rd {n} braucht {stitches}, die Runde darunter hat {below}."
ONE_LEFT_OVER = "Die Wiederholung von Rd {n} braucht {stitches}, das geht über {free} nicht auf: {left} bleibt übrig."
LEFT_OVER = "Die Wiederholung von Rd {n} braucht {stitches}, das geht über {free} nicht auf: {left} bleiben übrig."
#: What would.
MEND_TOTAL = {
    "again": "Schreib [{made}], oder lies die Runde noch einmal.",
    "one inc": "Schreib [{made}], oder häkle ein inc mehr.",
    "incs": "Schreib [{made}], oder häkle {many} inc mehr.",
    "one inc fewer": "Schreib [{made}], oder häkle ein inc weniger.",
    "incs fewer": "Schreib [{made}], oder häkle {many} inc weniger.",
    "one dec": "Schreib [{made}], oder häkle ein dec mehr.",
    "decs": "Schreib [{made}], oder häkle {many} dec mehr.",
}
MEND_RING = "Schreib [{made}], oder häkle {many} {stitch} mehr."
MEND_RING_FEWER = "Schreib [{made}], oder häkle {many} {stitch} weniger."
MEND_START = "Schreib {text}, das ergibt {made}."
MEND_TEXT = "Schreib {text}, das macht {made} aus {below}; oder prüf die Zahl der Runde darunter."
MEND_BELOW_IS = (
    "Es passt zu {n} Maschen darunter: sieh, ob dazwischen eine Runde fehlt, oder ob Runde {before} {n} haben soll."
)
MEND_NEAR = "Schreib [{low}] oder [{high}], oder ändere die Wiederholung."
MEND_NEAR_ONE = "Schreib [{high}], oder ändere die Wiederholung."
MEND_TIMES = "Schreib x {times}, oder prüf die Zahl der Runde darunter."
MEND_TIMES_MAKES = "Schreib x {times}, das ergibt {made}, oder prüf die Zahl der Runde darunter."
MEND_REPEAT = "Schreib ({text}) x {times}, oder prüf die Zahl der Runde darunter."
MEND_ALL = "Schreib {stitch} {n} für alles, oder prüf die Zahl der Runde darunter."
MEND_MORE_ONE = "Häkle eine Masche mehr, oder prüf die Zahl der Runde darunter."
MEND_MORE = "Häkle {n} Maschen mehr, oder prüf die Zahl der Runde darunter."
MEND_FEWER_ONE = "Lass eine Masche weg, oder prüf die Zahl der Runde darunter."
MEND_FEWER = "Lass {n} Maschen weg, oder prüf die Zahl der Runde darunter."
MEND_INCS = "{text} macht {stated} aus {room}; oder prüf die Zahl der Runde darunter."
MEND_BELOW = "Es geht mit {numbers} Maschen darunter auf: prüf diese Zahl, oder ändere die Wiederholung."

# Whether a piece lies flat

#: What the piece does, as a part of a sentence; from cup to waves.
DOES = {
    "flat": "liegt flach",
    "a little cupped": "wölbt sich etwas",
    "cupped": "wölbt sich",
    "cone": "steigt zum Kegel an",
    "crowded": "ist gedrängt und beginnt Wellen zu schlagen",
    "ruffled": "rüscht sich",
}
#: The same of what is still to be worked.
WILL = {
    "a little cupped": "sich etwas wölben",
    "cupped": "sich wölben",
    "cone": "zum Kegel ansteigen",
    "crowded": "gedrängt sein",
    "ruffled": "sich rüschen",
}
#: Names of the stitches; British terms are English only.
STITCH_NAMES = {
    "sc": ("feste Masche", "feste Masche"),
    "hdc": ("halbes Stäbchen", "halbes Stäbchen"),
    "dc": ("Stäbchen", "Stäbchen"),
    "tr": ("Doppelstäbchen", "Doppelstäbchen"),
}
LIES_FLAT = "Liegt flach."
LIE_FROM = "Wird ab Runde {n} {will}."
LIE_FROM_HEAD = "Wird ab Runde {n} {will}, wie es der Kopf einer Figur soll."
LIE_ADDS = "Wird ab Runde {n} {will}: es kommen je Runde {added} dazu, und etwa {flat} lägen flach."
LIE_ADDS_HEAD = (
    "Wird ab Runde {n} {will}: es kommen je Runde {added} dazu, und etwa {flat} lägen flach, wie es der Kopf einer"
    " Figur soll."
)
LIE_HYPERBOLIC = (
    "Wird ab Runde {n} {will}, wie es eine hyperbolische Fläche tut: jede Runde wächst um denselben Faktor."
)
LIE_CLOSE = "Es ist knapp: im Rahmen des Fehlers gilt vielleicht auch: es {does}."
LIE_CORNERS = "Die Zunahmen stehen übereinander: es bekommt {n} Ecken. Versetzte ergeben einen Kreis."
LIE_BEFORE = "Davor wird es ab Runde {first} {will}."
LIE_UP_TO_FANS = "Beurteilt bis Runde {n}: wie lang eine Runde aus Fächern ist, sagt ihre Maschenzahl nicht."
LIE_UP_TO = "Beurteilt bis Runde {n}: die Zahl der nächsten ist nicht bekannt."
LIE_PIECE = "Ein Stück aus {stitches} in {rounds} {does}."
LIE_PIECE_OFF = "Ein Stück aus {stitches} in {rounds} {does}; etwa {n} lägen flach."
LIE_COUNTED = "Die Runden sind im Foto gezählt, was oft um eine danebenliegt: nenn ihre Zahl, dann ist es sicherer."
LIE_MEASURED = (
    "Nach der gemessenen Form der Maschen (eine Runde ist {ratio} Maschenbreiten hoch, auf {error} genau) kommen bei"
    " einem flachen Kreis je Runde etwa {flat} dazu."
)
LIE_TAUGHT = (
    "Nicht gemessen: {stitch} gilt mit {fewest} bis {most} mehr je Runde als flach, wie es gelehrt wird; miss ein"
    " flaches Stück von dir, dann ist es sicherer."
)
LIE_APART = (
    "Nicht gemessen: die Quellen sind uneins, {stitch} soll mit {fewest} bis {most} mehr je Runde flach liegen, und was"
    " dazwischen ist, gilt als flach; miss ein flaches Stück von dir, dann ist es sicherer."
)
LIE_NO_ROUNDS = "Es sind keine Runden zu beurteilen."
LIE_UNFINISHED = "Die Runde ist nicht fertig. Ob es flach liegt, wird nicht beurteilt."
LIE_UNKNOWN = "Die Runden sind auf diesem Foto nicht zu erkennen. Ob es flach liegt, wird nicht beurteilt."
LIE_STITCH = "Wie viele Maschen ({stitch}) flach liegen, ist nicht bekannt."

# What measures in the photo

NO_ROUNDS_TOLD = "Die Runden sind auf diesem Foto nicht zu erkennen."
FEW_HEIGHTS = "Die Höhe einzelner Runden ist ab {n} Runden zu sagen."
#: Why a count can't be measured, without a full stop.
NO_AREA = "der Umriss schließt keine Fläche ein"
NO_LINES = "Die Linien zwischen den Runden sind auf diesem Foto nicht deutlich genug."
#: Why there is no scale: code -> (reason, hint).
NO_SCALES = {
    "nothing": (
        "Im Bild ist nichts von bekannter Größe.",
        "Leg die gedruckte Matte unter das Stück oder eine Bankkarte daneben, oder sag, wie breit das Stück ist.",
    ),
    "which coin": (
        "Vielleicht ist eine Münze im Bild, aber nicht klar, welche.",
        "Sag, welche Münze es ist: {coins}.",
    ),
    "no coin": (
        "Die Münze ist im Bild nicht zu finden.",
        "Leg sie flach und frei neben das Stück, auf Grund in anderer Farbe.",
    ),
    "other coin": (
        "Was im Bild wie eine Münze aussieht, ist aus anderem Metall als die genannte.",
        "Sag, welche Münze es ist, oder nimm die gedruckte Matte oder eine Bankkarte.",
    ),
    "several": (
        "Mehr als ein Ding im Bild könnte das von bekannter Größe sein.",
        "Lass nur eines davon im Bild.",
    ),
    "unlikely": (
        "Nach dem, was im Bild ist, hätten die Maschen eine unwahrscheinliche Größe.",
        "Nimm die gedruckte Matte oder eine Bankkarte, oder sag, wie breit das Stück ist.",
    ),
    "too uncertain": (
        "Vom Ding bekannter Größe ist zu wenig zu sehen, um danach zu messen.",
        "Zeig es ganz, so nah am Stück wie möglich, und halt die Kamera gerade darüber.",
    ),
}
#: What was seen in one very photo, in brackets behind the reason.
STITCH_WIDE = "{mm} mm breit"
CARDS = "{n} Karten"
COINS_SEEN = "{n} Münzen"
NOT_COIN = "nicht {coin}"
MEASURED_BY = {
    "diameter": "Gemessen nach deiner Größe: Längen sind auf etwa {error} genau.",
    "mat": "Gemessen nach der Matte: Längen sind auf etwa {error} genau.",
    "card": "Gemessen nach der Karte: Längen sind auf etwa {error} genau.",
}
MEASURED_COIN = "Gemessen nach der Münze {coin}: Längen sind auf etwa {error} genau."
LIES_LOW = (
    "Das gilt für ein Stück, das flach liegt: der Rand eines Bechers ist näher an der Kamera, und jeder Zentimeter Höhe"
    " lässt ihn {p} größer aussehen."
)
FROM_FARTHER = "Von weiter weg, etwa {cm} cm, ist es genauer."
MM, CM = "{n} mm", "{n} cm"
BOTH_UNITS = "{metric} ({inches} in)"
#: What is wrong with a size that was typed, without a full stop.
NO_SIZE = '{text} ist keine Größe: schreib eine Zahl und mm, cm oder in, wie "12.5 cm" oder "5 in"'
NO_SUCH_SIZE = "ein Stück ist {mm} mm bis {m} m breit, nicht {text}"
PIECE_WIDE = "das Stück muss {least} bis {most} mm breit sein, nicht {mm}"
MUST_MEASURE = {
    "stitch": "eine Masche muss {least} bis {most} mm messen, nicht {mm}",
    "round": "eine Runde muss {least} bis {most} mm messen, nicht {mm}",
}

# Size, gauge and tension

SIZE_ACROSS = "{across} Durchmesser, auf {error} mm genau."
SIZE_BOTH = (
    "{across} Durchmesser, auf {error} mm genau; {narrowest} an der schmalsten, {widest} an der breitesten Stelle."
)
GAUGE_STITCHES = "{metric} Maschen auf 10 cm, {inches} auf 4 in."
GAUGE_ROUNDS = "{metric} Runden auf 10 cm, {inches} auf 4 in."
#: Names of the categories of yarn, by number.
YARNS = {
    1: "sehr fein",
    2: "fein",
    3: "leicht",
    4: "mittel",
    5: "dick",
    6: "sehr dick",
    7: "überdick",
}
YARN = "{n} ({name})"
YARN_IS = "Nach der üblichen Tabelle ist das Garn der Stärke {yarn}."
YARN_BETWEEN = "Nach der üblichen Tabelle liegt das zwischen {heavier} und {finer}."
YARN_FINER = "Das ist feiner als jede Stärke der üblichen Tabelle."
YARN_PERHAPS = "Im Rahmen des Fehlers kann es auch {yarn} sein."
YARN_GUIDELINE = (
    "Die Tabelle ist nur ein Anhalt: Figuren häkelt man fester, mit einer ein bis drei Stärken dünneren Nadel."
)
#: By what is measured.
TENSION_FEW = {
    "stitches": "Zu wenige Runden sind gemessen, um zu sagen, ob sich die Maschen von Runde zu Runde ändern.",
    "rounds": "Zu wenige Runden sind gemessen, um zu sagen, ob sich die Runden von Runde zu Runde ändern.",
}
TENSION_EVEN = {
    "stitches": "Die Fadenspannung ist gleichmäßig: die Maschen behalten von Runde zu Runde ihre Größe.",
    "rounds": "Die Fadenspannung ist gleichmäßig: die Runden behalten ihre Größe.",
}
TENSION_UNCLEAR = {
    "stitches": "Die Maschen sind zu verschieden, um zu sagen, ob sich die Fadenspannung von Runde zu Runde ändert.",
    "rounds": "Die Runden sind zu verschieden, um zu sagen, ob sich die Fadenspannung von Runde zu Runde ändert.",
}
TENSION = {
    "tightens": {
        "stitches": "Es wird fester: die Maschen werden von Runde zu Runde {change} kleiner (auf {within} genau).",
        "rounds": "Es wird fester: die Runden werden von Runde zu Runde {change} kleiner (auf {within} genau).",
    },
    "loosens": {
        "stitches": "Es wird lockerer: die Maschen werden von Runde zu Runde {change} größer (auf {within} genau).",
        "rounds": "Es wird lockerer: die Runden werden von Runde zu Runde {change} größer (auf {within} genau).",
    },
}
TENSION_UNDER, TENSION_WITHIN = "unter 1 %", "weniger als 1 %"

# The mat

MAT_TITLE = "Rimtally-Messmatte"
MAT_SUBJECT = "Mit 100 % drucken, auf {paper}"
MAT_USE = (
    "1.  Mit 100 % drucken (tatsächliche Größe), nicht „an Seite anpassen“."
    " Miss die Linie unten: sie muss 100 mm lang sein.",
    "2.  Leg das Blatt flach und das Stück in seine weiße Mitte (bis 14 cm). Lass die Zeichen frei, so viele es geht.",
    "3.  Fotografiere von oben, mit dem ganzen Stück und mindestens vier Zeichen; etwas schräg schadet nicht.",
)
MAT_BELOW = "Weißes oder helles Garn sieht man besser auf farbigem Papier in der Mitte; lass die Zeichen frei."
MAT_CHECK = "Miss diese Linie: sie muss 100 mm lang sein. Mit 100 % drucken."

# Two pieces that must match

PAIR_UNFINISHED = {
    "first": "Das erste Stück hat eine Runde auf der Nadel, die nicht fertig ist: häkle sie fertig, dann vergleich.",
    "second": "Das zweite Stück hat eine Runde auf der Nadel, die nicht fertig ist: häkle sie fertig, dann vergleich.",
    "both": "Beide Stücke haben eine Runde auf der Nadel, die nicht fertig ist: häkle sie fertig, dann vergleich.",
}
PAIR_UNSURE = (
    "Nicht sicher: das erste Stück hat {first} Maschen, das zweite {second}; dass beide gleich viele haben, ist zu {p}"
    " wahrscheinlich."
)
PAIR_DIFFERS = "Am ehesten unterscheiden sie sich."
PAIR_SETTLE = "Klär zuerst die Marken jedes Fotos, dann vergleich."
PAIR_MATCHES = "Die Zahlen passen: je {stitches}."
PAIR_OFF_BY = "Die Zahlen unterscheiden sich um {n}: {first} im ersten Stück, {second} im zweiten."
PAIR_EXPECTED = "Beide sollen {n} haben."
PAIR_SEE = "Sieh in der Anleitung nach, welches der beiden stimmt."
PAIR_NEITHER = "Beide sollen {n} haben: keines hat sie."
PAIR_WRONG = {
    "first": "Beide sollen {n} haben: das erste hat sie nicht.",
    "second": "Beide sollen {n} haben: das zweite hat sie nicht.",
}
PAIR_ASK = "Sind beide fertig, und bei derselben Runde? Wenn nicht, ist noch nichts falsch."
PAIR_RIP = {
    "off": (
        "Wenn ja, ribble für echte Gegenstücke das falsche bis zu der Stelle auf, wo es schiefging, oder bis zu seiner"
        " letzten Runde, die stimmt."
    ),
    "each": (
        "Wenn ja, ribble für echte Gegenstücke jedes bis zu der Stelle auf, wo es schiefging, oder bis zu seiner"
        " letzten Runde, die stimmt."
    ),
    "first": (
        "Wenn ja, ribble für echte Gegenstücke das erste bis zu der Stelle auf, wo es schiefging, oder bis zu seiner"
        " letzten Runde, die stimmt."
    ),
    "second": (
        "Wenn ja, ribble für echte Gegenstücke das zweite bis zu der Stelle auf, wo es schiefging, oder bis zu seiner"
        " letzten Runde, die stimmt."
    ),
}
PAIR_TAKE_UP = (
    "Wenn nichts an der Zahl ausgerichtet ist, lässt sich das stattdessen in der nächsten Runde ausgleichen"
    " ({stitches}): eine Zunahme oder Abnahme, wo man sie nicht sieht."
)
PAIR_ROUNDS_UNKNOWN = "Die Runden sind nicht auf beiden Fotos zu erkennen: zähl sie von Hand."
PAIR_ROUNDS_SAME = "In beiden sind {n} Runden gezählt; das Foto liegt da oft daneben, zähl sie also von Hand."
PAIR_ROUNDS_DIFFER = "Die Runden unterscheiden sich: {first} Runden sind im ersten Stück gezählt, {second} im zweiten."
PAIR_ROUNDS_OFF = (
    "{first} Runden sind im ersten Stück gezählt, {second} im zweiten; das Foto liegt da oft daneben, zähl sie also von"
    " Hand."
)
PAIR_SIZES_SAME = "Sie haben {first} und {second} Durchmesser: ein Unterschied ist nicht zu sagen."
PAIR_FIRST_LARGER = (
    "Sie haben {first} und {second} Durchmesser: das erste ist {p} größer. Bei gleichen Zahlen liegt das an der"
    " Fadenspannung oder der Füllung."
)
PAIR_SECOND_LARGER = (
    "Sie haben {first} und {second} Durchmesser: das zweite ist {p} größer. Bei gleichen Zahlen liegt das an der"
    " Fadenspannung oder der Füllung."
)

# What keeps the notebook from doing as asked: code -> (what is the matter, what to do)

TROUBLES = {
    "full": ("Der Datenträger ist voll.", "Nichts wurde geändert. Mach Platz und versuch es noch einmal."),
    "read-only": (
        "Das Notizbuch lässt sich hier nicht schreiben.",
        "Nichts wurde geändert. Mach Datei und Ordner beschreibbar und versuch es noch einmal.",
    ),
    "locked": (
        "Ein anderes Fenster oder Programm benutzt das Notizbuch.",
        "Warte einen Moment und versuch es noch einmal.",
    ),
    "damaged": (
        "Die Datei des Notizbuchs ist beschädigt.",
        "Sie blieb, wie sie ist. Leg sie anderswohin, beginn neu und lies ein, was du zuletzt ausgegeben hast.",
    ),
    "damaged count": (
        "Diese Zählung ist beschädigt und lässt sich nicht lesen.",
        "Die anderen sind, wie sie waren: gib sie aus, und lies ein, was du zuletzt ausgegeben hast.",
    ),
    "not ours": (
        "Die Datei, wo das Notizbuch sein sollte, ist etwas anderes.",
        "Sie blieb, wie sie ist. Leg sie anderswohin und beginn neu.",
    ),
    "newer": (
        "Das Notizbuch wurde von einer neueren Version dieses Programms geschrieben.",
        "Bring das Programm auf den neuen Stand.",
    ),
    "no file": (
        "Die Datei des Notizbuchs lässt sich nicht öffnen.",
        "Sieh, dass ihr Ordner da ist und benutzt werden darf, und beginn neu.",
    ),
    "disk": (
        "Der Datenträger ließ sich nicht lesen oder schreiben.",
        "Sieh, dass er angeschlossen und heil ist, und versuch es noch einmal.",
    ),
    "gone": ("Diese Zählung ist nicht mehr im Notizbuch.", "Sie wurde in einem anderen Fenster gelöscht."),
    "changed elsewhere": (
        "Diese Zählung wurde in einem anderen Fenster geändert.",
        "Öffne sie noch einmal aus der Liste, um mit der neueren weiterzumachen.",
    ),
    "too many": (
        "Das Notizbuch ist voll ({most} Zählungen).",
        "Gib es aus, dann lösch Zählungen, die du nicht mehr brauchst.",
    ),
    "not tidied": (
        "Es ist gelöscht und überschrieben, aber die Datei ließ sich nicht verkleinern.",
        "Das nächste Löschen versucht es wieder.",
    ),
    "import": (
        "Diese Datei lässt sich nicht einlesen.",
        "Nichts wurde geändert. Wähl ein Zip, in das ein Notizbuch ausgegeben wurde.",
    ),
    "no more notebooks": ("Dieser Server fasst keine weiteren Notizbücher.", "Frag, wer ihn betreibt."),
}
#: What is the matter in one very case, in brackets behind it.
FILE_UNMADE = "sie lässt sich nicht anlegen"
NOT_TIDIED = {
    "full": "voll",
    "read-only": "nur lesbar",
    "locked": "in Gebrauch",
    "damaged": "beschädigt",
    "no file": "keine Datei",
    "disk": "Datenträger",
}
DISK_LEFT = "weniger als {n} MB blieben frei"
ZIP = {
    "no zip": "es ist kein Zip",
    "many": "es enthält zu viele Dateien",
    "packed": "es ist anders gepackt",
    "strange": "es enthält Dateien, die nicht dorthin gehören",
    "part": "es ist nicht ganz",
    "other": "es ist kein Notizbuch",
    "newer": "es wurde von einer neueren Version dieses Programms geschrieben",
    "damaged": "es ist beschädigt",
    "large": "eine seiner Dateien ist zu groß",
    "changed": "es änderte sich beim Lesen",
}
ZIP_COUNT = "Zählung {key}: {detail}"
#: A count that can't be shown, by the beginning of its key.
COUNT_NAMED = "Zählung {key}"
KEPT_WRONG = {
    "other key": "ihr Schlüssel ist ein anderer",
    "date": "ein Datum kann nicht sein",
    "fields": "ihre Felder sind nicht die einer behaltenen Zählung",
    "by hand": "sie sagt nicht, ob Marken von Hand geändert wurden",
    "probabilities": "ihre Wahrscheinlichkeiten können nicht sein",
    "likely": "die gezeigten Zahlen sind nicht unter ihren Zählungen",
    "twice": "zwei Marken kommen von derselben",
    "answers": "es sind mehr Antworten als zweifelhafte Stellen",
    "place": "der Ort einer Marke muss eine Zahl sein",
    "outside": "eine Stelle liegt weit außerhalb ihres Fotos",
    "doubt": "eine Stelle ist aus einem Grund zweifelhaft, der hier nicht bekannt ist",
    "pixels": "ein Foto hat zu viele Bildpunkte",
    "colour": "ein Foto ist nicht in Farbe wie unsere",
    "photo": "ein Foto lässt sich nicht lesen",
    "more": "ihr Foto enthält mehr als ein Bild",
    "large": "sie ist zu groß",
    "another photo": "ihr Foto ist nicht das gezählte",
}
KEPT_SWITCH = "ein Schalter muss wahr oder falsch sein"
KEPT_AT = "was bei {where} steht, kann nicht sein"
KEPT_MARKS = "es müssen {least} bis {most} Marken sein, nicht {n}"
KEPT_TEXT = "{what} muss ein Text von höchstens {most} Zeichen sein"
KEPT_CHARACTERS = "{what} enthält Zeichen, die nicht behalten werden können"
KEPT_WHOLE = "{what} muss eine ganze Zahl von {low} bis {high} sein"
KEPT_NUMBER = "{what} muss eine Zahl von {low:g} bis {high:g} sein"
#: The parts of a kept count that the four above speak of.
KEPT_PARTS = {
    "a reason": "ein Grund",
    "an answer": "eine Antwort",
    "the expected total": "die erwartete Zahl",
    "the note": "die Notiz",
    "the number of a mark": "die Nummer einer Marke",
    "the place of a mark": "der Ort einer Marke",
    "the plan": "die Anleitung",
    "the round": "die Runde",
    "the rounds worked since": "die seitdem gehäkelten Runden",
    "the title": "der Titel",
    "what the other one holds": "was das andere Stück hat",
}
BOOK_SHEET_HEAD = (
    *("Schlüssel", "behalten", "geändert", "Titel", "Notiz", "Maschen", "es können sein", "Stand", "erwartet"),
    *("Abweichung", "Runde der Anleitung", "gezählte Runden", "gesetzt", "entfernt", "verschoben", "Foto"),
)

# Groups: many makers, many rounds

GROUP_NO_FOLDER = "Diesen Ordner gibt es nicht."
GROUP_NOT_FOLDER = "Das ist kein Ordner; nenn den Ordner, in dem die Fotos sind."
GROUP_SHUT = "In den Ordner {folder} lässt sich nicht hineinsehen ({why})."
GROUP_TOO_MANY = "Es sind mehr als {most} Fotos; wähl einen Ordner mit weniger."
GROUP_EMPTY = "Im Ordner ist kein Foto; leg Fotos als JPEG, PNG, WebP, TIFF oder HEIC hinein."
GROUP_NO_PLAN = "Gib die Anleitung der Runden: eine Textdatei mit den Runden oder eine Liste von Zahlen."
GROUP_PATTERN = "Das Muster {pattern} muss {{maker}} und {{round}} je einmal enthalten, wie in {{maker}}_r{{round}}."
GROUP_TABLE_LARGE = "Die Tabelle hat mehr als {most} Megabyte; die, die die Fotos nennt, kann es nicht sein."
GROUP_TABLE_HEAD = "Die erste Zeile der Tabelle muss die Spalten photo, maker und round nennen; es fehlt: {missing}."
GROUP_TABLE_ROUND = "Zeile {line} der Tabelle: die Runde muss eine ganze Zahl sein, nicht {round}."
GROUP_TABLE_TWICE = "Zeile {line} der Tabelle nennt {photo} noch einmal; lass eine der Zeilen weg."
GROUP_TABLE_BROKEN = "Zeile {line} der Tabelle lässt sich nicht lesen ({why})."
GROUP_TABLE_EMPTY = "Die Tabelle nennt kein Foto."
#: Why a photo has no place among the makers and rounds.
GROUP_UNPLACED = "Nichts sagt, von wem es ist und welche Runde."
GROUP_NO_MAKER = "Nichts sagt, von wem es ist."
GROUP_NO_ROUND = "Nichts sagt, welche Runde es ist."
GROUP_OUTSIDE = "Die Anleitung hat keine Runde {n} mit bekannter Zahl; sie hat {first} bis {last}."
GROUP_NO_TOTALS = "Die Anleitung hat keine Runde mit bekannter Zahl."
#: How a group stands, in one line.
GROUP_AGREE = "{n} von {all} stimmen"
GROUP_MANY = {
    "off": "{n} weichen ab",
    "look": "{n} anzusehen",
    "again": "{n} neu aufzunehmen",
    "counted": "{n} gezählt, mit nichts verglichen",
}
GROUP_WAITING = "{n} noch nicht gezählt"
GROUP_UNPLACED_MANY = "{photos} ohne Häklerin und Runde der Anleitung."
GROUP_TWICE = "{maker}, Runde {n}: {photos} von einer Runde; das sicherste gilt ({photo}), alle stehen in der Liste."
GROUP_PIECES = "{maker}, Runde {n}: {pieces} Stücke auf einem Foto ({photo}); das sicherste gilt, alle stehen da."
GROUP_SAME_NAME = "{maker}: derselbe Name in mehreren Ordnern, für verschiedene Leute gehalten: {as_}."
GROUP_AGAIN_SAID = "Du hast gesagt, dass dieses Foto neu aufgenommen werden muss."
GROUP_BY_HAND = "In der Hand gezählt: {stitches}."
#: What is given away: headings, the table's columns.
GROUP_TITLE = "Wer und welche Runde"
GROUP_GRID = "Wer nach Runden"
GROUP_REST = "Ohne Namen und Runde"
GROUP_OF = "von {expected}"
GROUP_MAKER_N, GROUP_PHOTO_N = "Person {n}", "Foto {n}"
GROUP_CSV_HEAD = (
    *("Foto", "Stück", "wer", "Runde", "zugeordnet nach", "braucht", "Stand", "Maschen", "es können sein"),
    *("Wahrscheinlichkeit", "erwartet", "Urteil", "Abweichung", "wo", "gilt für die Runde", "vom Programm gezählt"),
    *("Stand dieser Zählung", "von Hand gesagt am", "davor", "was zu wissen ist"),
)
#: What to tell a maker.
GROUP_TOLD_AGREE = "Wie die Anleitung sagt: {rounds}."
GROUP_TOLD_OFF = "Runde {n}: {said} ({likely} statt {expected})."
GROUP_TOLD_WHERE = "Am ehesten bei {where}."
GROUP_TOLD_PATTERN = "Bei {alike} von {makers} kam es so heraus: eher liegt es an der Anleitung."
GROUP_TOLD_LOOK = "Runde {n}: nicht geklärt, {stitches}."
GROUP_TOLD_AGAIN = "Runde {n}: bitte schick das Foto noch einmal. {why}"
GROUP_NO_GAUGE = (
    "Maschenprobe: kein Foto wurde nach etwas von bekannter Größe durchgesehen, oder keines zeigt so etwas."
)
GROUP_GAUGE_ALONE = "Maschenprobe: {own} Maschen auf 10 cm; von den anderen ist keine bekannt."
GROUP_GAUGE = {
    "like": "Maschenprobe: {own} Maschen auf 10 cm, wie die anderen ({others}).",
    "tighter": "Maschenprobe: {own} Maschen auf 10 cm, fester als die anderen ({others}).",
    "looser": "Maschenprobe: {own} Maschen auf 10 cm, lockerer als die anderen ({others}).",
}
GROUP_NO_TENSION = "Fadenspannung von Runde zu Runde: diese Fotos sagen es nicht."
GROUP_TENSION_ALONE = (
    "Fadenspannung: die Höhe der Runden ändert sich von Runde zu Runde um {own}; von den anderen ist keine bekannt."
)
GROUP_TENSION = {
    "like": (
        "Fadenspannung: die Höhe der Runden ändert sich von Runde zu Runde um {own}, wie bei den anderen ({others})."
    ),
    "larger": (
        "Fadenspannung: die Höhe der Runden ändert sich von Runde zu Runde um {own}; bei den anderen um {others}."
    ),
    "smaller": (
        "Fadenspannung: die Höhe der Runden ändert sich von Runde zu Runde um {own}; bei den anderen um {others}."
    ),
}
#: The page of a group.
GROUP_LINK = "Wer und welche Runde"
GROUP_AWAY = "Ein Ordner mit Fotos wird nur an dem Rechner geöffnet, auf dem die Seite läuft."
GROUP_LEAD = "Die Runden von allen auf einmal: wer weicht wo ab, und liegt es an der Anleitung?"
GROUP_FOLDER = "Ordner mit den Fotos"
GROUP_FOLDER_HELP = "Auf diesem Rechner. Die Fotos bleiben, wo sie sind; was gezählt ist, steht in einer Datei daneben."
GROUP_PLAN = "Anleitung"
GROUP_PLAN_HELP = "Die geschriebenen Runden, oder eine Liste von Zahlen. Leer gilt die vom letzten Mal."
GROUP_OPEN = "Ordner öffnen"
GROUP_NAMING = "Wem gehört welches Foto?"
GROUP_NAMES = "Wie die Fotos heißen"
GROUP_NAMES_HELP = "{maker} und {round} stehen für das, was sich ändert, * für irgendetwas; ein / trennt Ordner."
GROUP_USE_NAMES = "So ist es: zähl sie"
GROUP_LOOKS = "Je ein Blick"
GROUP_HEADS = {"off": "Weichen wirklich ab", "again": "Neu aufnehmen", "counted": "Gezählt", "agrees": "Stimmen"}
GROUP_AGAIN = "Neu aufnehmen"
GROUP_HAND = "In der Hand gezählt"
GROUP_BACK = "Zurücknehmen"
GROUP_CHANGED = "es ist inzwischen ein anderes Foto; zähl noch einmal"
GROUP_COUNTING = "{n} von {all} gezählt"
GROUP_LEFT = "noch etwa {time}"
GROUP_STOP = "Vorerst anhalten"
GROUP_COUNT = "{photos} zählen"
GROUP_CALL = "Alle werden genannt mit"
GROUP_CALLED = {"names": "Namen", "initials": "Anfangsbuchstaben", "numbers": "Nummern"}
GROUP_SAVE_PAGE, GROUP_SAVE_PDF, GROUP_SAVE_CSV = (
    "Als Seite speichern",
    "Zum Drucken speichern (PDF)",
    "Als Tabelle speichern (CSV)",
)
GROUP_WHOSE = "Wem welches Foto gehört"
GROUP_WHOSE_HEAD = ("Foto", "wer", "Runde", "was fehlt")
SECONDS, MINUTES, HOURS = "{n} s", "{n} min", "{n} h"
#: Whose doing it is, as sentences.
GROUP_PATTERN_OFF = "Sieh dir Runde {n} der Anleitung an: bei {alike} von {makers} kam {by} heraus."
GROUP_MAKER_OFF = "{maker} lag bei {rounds} daneben."
GROUP_MAKER_PERHAPS = "{maker} lag wohl bei {rounds} daneben; klär zuerst die Zählung."
ONE_SHORT, ONE_OVER, MANY_SHORT, MANY_OVER = "eine zu wenig", "eine zu viel", "{n} zu wenig", "{n} zu viel"
GROUP_AT_ROUND, GROUP_AT_ROUNDS = "Runde {rounds}", "den Runden {rounds}"
GROUP_NONE_OFF = "Keine Runde spricht gegen die Anleitung."
GROUP_HIDDEN = (
    "Bei {rounds} sind es zu wenige Fotos, oder sie sind zu unsicher, um einen Fehler der Anleitung zu zeigen."
)
GROUP_ALL_HIDDEN = (
    "Ob die Anleitung stimmt, bleibt offen: Von ihren Runden gibt es zu wenige Fotos oder keine, die sicher genug sind."
)
GROUP_TOO_FEW = "Ob die Anleitung stimmt, bleibt offen: Dazu braucht es dieselbe Runde von dreien."
GROUP_UNSETTLED_ONE = "Eine dieser Zählungen ist nicht sicher: Klär sie zuerst."
GROUP_UNSETTLED = "{n} dieser Zählungen sind nicht sicher: Klär sie zuerst."
#: Which photo is whose.
GROUP_MATCHED = "{n} von {all} Fotos haben Namen und Runde: {makers} Personen, {rounds} Runden."
GROUP_MISSING = "Die Tabelle nennt es, aber es ist nicht im Ordner."
#: What a photo needs, and what its sign in the table means.
GROUP_NEEDS = {
    "again": "neu aufnehmen",
    "look": "ein Blick",
    "off": "weicht wirklich ab",
    "counted": "gezählt",
    "agrees": "stimmt",
}
GROUP_SIGNS = "= stimmt, -1 eine zu wenig, +1 eine zu viel, ? braucht einen Blick, x Foto neu aufnehmen."
GROUP_PIECE = "Stück {n}"
GROUP_AND_MORE = "und {n} weitere"
#: What keeps a cluster from counting; what was counted is kept.
GROUP_NO_DASK = "Zählen auf mehreren Rechnern braucht den Zusatz 'cluster': pip install 'rimtally[cluster]'."
GROUP_NO_SCHEDULER = "Bei {address} antwortet kein Verteiler. Starte dort einen, oder zähl ohne --scheduler."
GROUP_NO_WORKERS = "Der Verteiler bei {address} hat keine Arbeiter. Starte welche, oder zähl ohne --scheduler."
GROUP_LOST = "Der Verteiler bei {address} ging verloren. Gezähltes bleibt: starte neu, um weiterzumachen."
GROUP_KILLED = (
    "Ein Foto hat mehrere Arbeiter beendet, vielleicht aus Mangel an Speicher. Gezähltes bleibt: starte ohne"
    " --scheduler neu, um zu sehen, welches."
)
GROUP_OTHER_PROGRAM = (
    "Die Arbeiter haben eine andere Version ({theirs}) als dieser Rechner ({ours}). Bring sie auf Stand."
)
#: What keeps a group's file from being used.
GROUP_TROUBLES = {
    "full": "Der Datenträger ist voll: {file} lässt sich nicht schreiben. Gezähltes bleibt; mach Platz und starte neu.",
    "read-only": (
        "{file} lässt sich im Ordner nicht schreiben. Mach den Ordner beschreibbar, oder kopiere die Fotos anderswohin."
    ),
    "locked": "Ein anderes Fenster oder Programm schreibt {file}. Warte einen Moment und starte neu.",
    "damaged": "{file} ist beschädigt und blieb, wie sie ist. Leg sie anderswohin und starte neu.",
    "not ours": "{file} ist etwas anderes und blieb, wie sie ist. Leg sie anderswohin und starte neu.",
    "newer": (
        "{file} wurde von einer neueren Version dieses Programms geschrieben und blieb, wie sie ist. Bring das Programm"
        " auf Stand."
    ),
    "disk": (
        "Der Datenträger ließ sich nicht lesen oder schreiben. Sieh, dass er angeschlossen und heil ist, und starte"
        " neu."
    ),
}

# Grammatik --------------------------------------------------------------------


#: Was zu sehen war, wo ein Stück anderer Nummer gemeint war.
PIECES_SEEN = "{number} zu sehen"


def pieces_seen(number: int) -> str:
    """Wie viele Stücke zu sehen waren."""
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
        "1 Masche", "24 Maschen".
    """
    return ONE_STITCH if str(number) == "1" else TOTAL.format(n=number)


def rounds(number: int) -> str:
    """Say a number of rounds: "1 Runde", "4 Runden"."""
    return ROUND if number == 1 else ROUNDS.format(n=number)


def photos(number: int) -> str:
    """Say a number of photos: "1 Foto", "4 Fotos"."""
    return PHOTO if number == 1 else PHOTOS.format(n=number)


def duration(seconds: float) -> str:
    """Say how long something takes: "40 s", "12 min", "1.5 h"."""
    if seconds < 90:
        return SECONDS.format(n=round(seconds))
    return MINUTES.format(n=round(seconds / 60)) if seconds < 5400 else HOURS.format(n=round(seconds / 3600, 1))


def off_alike(by: int) -> str:
    """Say by how much makers are off alike: "eine zu wenig", "2 zu viel"."""
    if abs(by) == 1:
        return ONE_SHORT if by < 0 else ONE_OVER
    return (MANY_SHORT if by < 0 else MANY_OVER).format(n=abs(by))


def complete_rounds(number: int) -> str:
    """Say a number of complete rounds: "1 ganze Runde", "4 ganze Runden"."""
    return COMPLETE_ROUND if number == 1 else COMPLETE_ROUNDS.format(n=number)


def any_of(parts: Iterable[str]) -> str:
    """Say that it is one of some things: "a", "a oder b", "a, b oder c"."""
    *others, last = parts
    return COMMA.join(others) + OR + last if others else last


def all_of(parts: Iterable[str]) -> str:
    """Say that it is all of some things: "a", "a und b", "a, b und c"."""
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
        "24", "23 oder 24", "22, 23 oder 24".
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
        Whole percents, or "über 99 %", or "unter 1 %".
    """
    return SURELY if probability > 0.99 else HARDLY if probability < 0.01 else f"{100 * probability:.0f} %"


def date(moment: datetime) -> str:
    """A date: "4. Mai 2031"."""
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
    """A part of a sentence as its beginning: "es stimmt" -> "Es stimmt"."""
    return text[:1].upper() + text[1:]


def carried_on(sentence: str) -> str:
    """A sentence as the end of another one, behind a colon or a comma: "Häkle weiter." -> "häkle weiter."."""
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
        "stimmt", "2 zu wenig", "1 zu viel", "nicht zu sagen".
    """
    if off_by is None:
        return SAID["can't say"]
    return SAID["short" if off_by < 0 else "over" if off_by else "agrees"].format(n=abs(off_by))


def headline(off_by: int | None) -> str:
    """A verdict as the page's headline: "Es stimmt", "2 zu wenig"; the parameter is that of :func:`said`."""
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
        "bei 4 Uhr, an den Marken 15 und 16".
    """
    place = BETWEEN_MARKS if skipped else AT_MARK if first == last else AT_MARKS
    return place.format(clock=clock, first=first, last=last)
