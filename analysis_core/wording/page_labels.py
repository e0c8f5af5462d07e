"""What stands on every student's page: its headings, its buttons, what a picture is to those who do not see it."""

from __future__ import annotations

from . import numbers

# Around everything.
OFFLINE = "This page holds everything it shows. It asks nothing, sends nothing and keeps nothing."
MY_NOTES = "My notes"
FILM, FILM_SHOWN = "The film", "The film of your take"

# The things to work on.
THINGS = "Things to work on"
BEFORE, NOW = "Before", "Now"
NOT_IN_EARLIER = "The earlier take does not show this moment."
HOW_IT_FEELS = "How it feels when it works"
PRACTISE_IT_WITH = "Practise it with"
TAKE_CARE = "Take care."
WENT_WELL = "What went well"
IS_NEW = "That is new."

# The dancer in 3-D.
STAGE = "You, to turn round"
DANCER = "You as a dancer in 3-D. Turn with a finger or with the arrow keys; play with the space bar."
BY_FINGER, BY_MOUSE = "Turn with a finger", "Drag to turn"
PLAY, PAUSE = "Play", "Pause"
TIME = "Time"
SPEED = "Speed"
#: Speeds as shares of the dancer's own; the one that the page begins with.
SPEEDS = {"1": "Full speed", "0.5": "Half", "0.25": "Quarter"}
FIRST_SPEED = "0.5"
WHICH_TAKE = "Which take"
LEFT, RIGHT, NEARER, FURTHER = "Turn left", "Turn right", "Nearer", "Further"
LIKE_A_WINDOW = "Hold like a window"
#: Said of the time line as it moves: the viewer puts the seconds in, with so many decimals.
SECONDS_OF, SECONDS_DIGITS = "{at} seconds of {all}", numbers.SPOKEN_DIGITS
NO_DANCER = "The dancer in 3-D cannot be shown on this device. Everything else is here."
TURN_PICTURES = "Swipe across the pictures to turn them."

# Pictures of the dancer from all sides.
OPENING, OPENING_SHOWN = "You, seen from twelve sides: swipe to turn", "You, from all sides"

# For the teacher.
FOR_TEACHER = "For your teacher"
NUMBERS_FOR_TEACHER = "Numbers for your teacher"
COLUMNS = ("What", "Measured", "Band", "Confidence", "How often")
ONCE = "once"
WHAT_ERROR_MEANS = "± holds in 95 of 100 cases."
NOTHING_JUDGED = "Nothing in this take could be judged:"


def for_student(name: str) -> str:
    """Whose page it is."""
    return f"For {name}"


def when_and_where(when: str, seen: str) -> str:
    """When a thing was, and from where it is best seen; seen: "" for a teacher's own view."""
    return f"{when}, best seen {seen}" if seen else when


def from_all_sides(number: int) -> str:
    """A sheet of pictures of one thing, for those who turn it."""
    return f"{number}, seen from twelve sides: swipe to turn"


def moment_from_all_sides(number: int) -> str:
    """The same for those who do not see it."""
    return f"The moment of {number}, from all sides"


def pictured(title: str, says: str, when: str = "") -> str:
    """What is on a picture. when: BEFORE or NOW, where there are both."""
    return f"{when}: {title}. {says}" if when else f"{title}. {says}"


def happened(how_often: str) -> str:
    """In how many of its steps a thing was seen."""
    return f"It happened {how_often}."


def see_in_3d(number: int) -> str:
    """The button that shows a thing on the dancer."""
    return f"See {number} in 3-D"


def recording(verdict: str) -> str:
    """What the recording is worth."""
    return f"The recording: {verdict}."
