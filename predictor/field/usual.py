"""What is known of field rates before any check."""

import math

# What is known before a check: published field rates over stationary ones are 0.95, 0.88, 0.96, 0.95 and 0.85 in five
# crops (Yousif, Gedarif University, field seasons 2006-2008, read; title and page not recorded). Their mean is 0.918,
# the standard deviation of their logarithms 5.5 %. Slip and jolting act on all boxes alike, and on each a little
# differently: how the 5.5 % divide is judgement. Without any check no target is corrected.
FIELD_CENTRE, SHARED_SPREAD, OWN_SPREAD = 0.918, 0.045, 0.032
# A towed catch has slip in it already, but that of one strip at one speed. How far the field may be from it is taken to
# be as far as published factors are from each other; judgement.
TOWED_SPREAD = math.hypot(SHARED_SPREAD, OWN_SPREAD)
# How single checks scatter (weighing back, area, slope): 4 %, common practice, worth this many checks.
CHECK_SPREAD, CHECK_SPREAD_WORTH = 0.04, 4.0
# How often a check is a slip of weight, area, length or setting, and how far it may lead astray, either way: a share
# and a factor. Both are judgement. A slip may be of any size up to that, on the scale of logarithms.
SLIP_SHARE, SLIP_REACH = 0.05, math.log(10)
# A check further than this from the standing drill is never believed, not even twice: it is weighed again.
LEAST_FACTOR, MOST_FACTOR = 2 / 3, 3 / 2
# How far a fault that two checks agree on (plugged tubes, a wrong chain) may move a rate; half of the largest believed,
# judgement.
FAULT_SPREAD = math.log(MOST_FACTOR) / 2
