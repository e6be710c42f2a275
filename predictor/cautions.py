"""The usual cautions, in one place for every command and page that shows them."""

from __future__ import annotations

# Sources: jacking and stands, Ohio State University AEX-591.77; guards and moving parts, 29 CFR 1928.57 and NIOSH
# 2004-101; treated seed, 7 CFR 201.31a and University of Minnesota Extension 2013; planting intervals, common practice.
CAUTIONS: tuple[str, ...] = (
    "The drill's manual, the seed tag and the local specification come first; this program comes after them.",
    "Jack the drill on firm level ground, hitched, wheel chocked, on stands and never on blocks.",
    "Keep hands, sleeves and hair away from chains and sprockets. Adjust only when all has stopped.",
    "Treated seed: its tag governs. Chemical-resistant gloves, no dust; never food or feed.",
    "After a herbicide, the label says when you may plant. Ask a licensed applicator if unsure.",
)

HELP = "\n\n".join(["Before you start:", *CAUTIONS])
