"""The cautions of a catch test, in one place for every command and page that shows them."""

from __future__ import annotations

from collections.abc import Iterable

# Sources. Jacking, chocks, stands: Ohio State University AEX-591.77. Hitched first: University of Kentucky,
# page on seeding rates (year not recorded); there too, that the tubes caught are spread across the drill. Engine off,
# lift locked, nobody riding, one box at a time, a steady pace, mask: common practice. Guards and moving parts: 29 CFR
# 1928.57, NIOSH 2004-101. Treated seed: 7 CFR 201.31a, University of Minnesota Extension 2013 (title not recorded).
# Another lot or treatment flows in another way: Mississippi State Extension P3112. All read, no pages recorded.
# Planting intervals after herbicides: from memory.
CAUTIONS: tuple[str, ...] = (
    "The drill's manual, the seed tag and the local specification take precedence over this program.",
    "Jack up the drill on firm, level ground. Keep it hitched, stop the engine, lock the lift, chock the other wheels, "
    "and set it on stands, never on blocks. Let nobody ride on the drill.",
    "Keep hands, sleeves and hair away from chains and sprockets. Adjust them only when everything has stopped.",
    "Catch one box at a time, with the others empty or out of drive. Spread the caught rows over the width of the "
    "drill. Turn at a steady pace in the driving direction.",
    "Catch again after you inoculate the seed or refill from another bag.",
    "Handle treated seed as its tag says. Wear chemical-resistant gloves, raise no dust, and never use it as food or "
    "feed. Wear a dust mask with chaffy seed.",
    "After a herbicide, its label says when you may plant. Ask a licensed applicator if you are not sure.",
)

# What to mind while boxes are loaded. Treated seed: as above. Most that one person should lift: 51 lb (23 kg), the load
# constant of the NIOSH lifting equation of 1991 (from memory). The rest is common practice.
LOADING: tuple[str, ...] = (
    "Stop the tractor, lower the drill and set the brake before you climb up to the boxes.",
    "Read the tag of each bag before you open it. Handle treated seed as its tag says: wear chemical-resistant gloves "
    "and a dust mask, raise no dust, and never use it as food or feed.",
    "Lift bags of more than 50 lb (23 kg) with two people or a machine.",
    "Catch again after you refill from another lot.",
)

# One sentence for results that lead to a catch test.
SHORT = "Keep the drill hitched, chocked and on stands, and your hands off it until everything has stopped."

# The same where the catch is made while the drill is towed; common practice.
TOWED = (
    "Nobody rides on a towed drill or walks within its reach. Stop the tractor and its engine before you take out a "
    "catch or change a setting."
)


def short(towed: Iterable[bool] = ()) -> str:
    """What to mind in the catches that results lead to, by whether the drill is towed for each of them."""
    kinds = set(towed) or {False}
    return " ".join([SHORT] * (False in kinds) + [TOWED] * (True in kinds))


HELP = "\n\n".join(["Before you start:", *CAUTIONS])
