"""What is known of field rates before any check."""

# What is known before a check: published field rates over stationary ones are 0.95, 0.88, 0.96, 0.95 and 0.85 in five
# crops (Yousif, Gedarif University, field seasons 2006-2008, read; title and page not recorded). Their mean is 0.918,
# the standard deviation of their logarithms 5.5 %. Slip and jolting act on all boxes alike, and on each a little
# differently: how the 5.5 % divide is judgement. Without any check no target is corrected.
FIELD_CENTRE, SHARED_SPREAD, OWN_SPREAD = 0.918, 0.045, 0.032
# How single checks scatter (weighing back, area, slope): 4 %, common practice, worth this many checks.
CHECK_SPREAD, CHECK_SPREAD_WORTH = 0.04, 4.0
# A check further than this from the standing drill is a slip or a fault, not a factor; common practice.
LEAST_FACTOR, MOST_FACTOR = 0.5, 2.0
