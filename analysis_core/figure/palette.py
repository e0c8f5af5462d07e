"""The one table of colours and of all that shows severity without colour: read by Blender's nodes, the student's page, files.

All colours are linear RGB, 0 to 1. Amber against violet-magenta differ in lightness as well as in hue, so that they stay apart
for every kind of colour vision; rings and swelling tell a fault without any colour.
"""

from __future__ import annotations

Colour = tuple[float, float, float]


def _on_screen(part: float) -> float:
    return 12.92 * part if part <= 0.0031308 else 1.055 * part ** (1 / 2.4) - 0.055


def on_screen(colour: Colour) -> Colour:
    """A colour of the table, linear light, as a screen takes it (IEC 61966-2-1)."""
    red, green, blue = map(_on_screen, colour)
    return red, green, blue


#: The body itself: calm, so that severity stands out.
SKIN: Colour = (0.66, 0.58, 0.52)
CLOTH: Colour = (0.16, 0.20, 0.26)
SHIRT: Colour = (0.30, 0.345, 0.39)
LEGGINGS: Colour = (0.085, 0.10, 0.13)
HAIR: Colour = (0.075, 0.060, 0.052)
SHOES: Colour = (0.60, 0.53, 0.48)
LIGHT_SHOES: Colour = (0.60, 0.59, 0.575)
#: What is in the band, in a legend.
IN_BAND: Colour = (0.40, 0.38, 0.34)
#: What to watch, what to correct first, and where it cannot be told.
WATCH: Colour = (0.888, 0.451, 0.033)
FAULT: Colour = (0.366, 0.010, 0.105)
CANNOT_TELL: Colour = (0.20, 0.27, 0.36)
#: Light rings on a fault.
RING: Colour = (0.95, 0.80, 0.86)
#: Body parts that are not looked at fade towards the wall.
FADED: Colour = (0.50, 0.52, 0.55)

#: The measure drawn on the body: where the dancer is (a full line), where the number is counted from (dashed), the band (a broad
#: stripe), what helps the eye (a thin line), and the rim that keeps all of them legible before any colour.
MEASURED: Colour = (0.012, 0.085, 0.52)
REFERENCE: Colour = (0.045, 0.050, 0.060)
BAND: Colour = (0.10, 0.42, 0.33)
AID: Colour = (0.16, 0.18, 0.21)
RIM: Colour = (0.95, 0.95, 0.93)

#: A second take in the same place, and the illustration of a pose inside the band: veils.
GHOST: Colour = (0.10, 0.26, 0.42)
INSIDE: Colour = (0.14, 0.58, 0.44)

#: Length of a ring and of the gap to the next one, along a limb, metres; a ring is where the sine along it is above a share.
RING_EVERY_M = 0.034
RING_ABOVE = 0.2
#: How much a body part swells at the highest level, metres.
SWELLING_M = 0.009
#: A level (0 calm to 1 the worst) shows its colour fully from 1 / SHOWN_GAIN on, and turns from watch to fault from
#: TURNS_AT on, fully 1 / TURNS_GAIN higher.
SHOWN_GAIN = 3.0
TURNS_AT, TURNS_GAIN = 0.5, 4.0
#: How strongly rings show, how strongly the unknown is greyed outside and in addition within rings, and how far the
#: unlooked-at fades.
RING_STRENGTH = 0.42
UNKNOWN_STRENGTH, UNKNOWN_RING_STRENGTH = 0.55, 0.4
FADED_STRENGTH = 0.85
