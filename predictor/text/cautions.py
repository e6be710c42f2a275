"""The usual cautions, in one place for every command and page that shows them."""

from __future__ import annotations

# Sources. Jacking, chocks, stands: Ohio State University AEX-591.77. Hitched first: University of Kentucky,
# page on seeding rates (year not recorded). Engine off: common practice. Guards and moving parts: 29 CFR 1928.57, NIOSH
# 2004-101. Treated seed: 7 CFR 201.31a, University of Minnesota Extension 2013 (title not recorded). All read, no pages
# recorded. Planting intervals after herbicides: from memory.
CAUTIONS: tuple[str, ...] = (
    "The drill's manual, the seed tag and the local specification come first; this program comes after them.",
    "Jack the drill on firm level ground, hitched, engine off, the other wheels chocked, on stands, never on blocks.",
    "Keep hands, sleeves and hair away from chains and sprockets. Adjust only when all has stopped.",
    "Treated seed: its tag governs. Chemical-resistant gloves, no dust; never food or feed.",
    "After a herbicide, the label says when you may plant. Ask a licensed applicator if unsure.",
)

# One line for results that lead to a catch test.
SHORT = "Hitched, chocked, on stands; hands off the chain until all has stopped."

HELP = "\n\n".join(["Before you start:", *CAUTIONS])
