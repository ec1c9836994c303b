# tally.py - what the tests in Python share: the program, what failed, and how many did.
import os, sys

FW = os.path.abspath(os.environ.get('FLATWRIGHT', 'build/release/flatwright'))
NAME = os.path.splitext(os.path.basename(sys.argv[0]))[0]
counts = {True: 0, False: 0}


def tell(good, what):
    """Counts a check; says what was expected where it fails."""
    counts[bool(good)] += 1
    if not good:
        print('%s: %s' % (NAME, what[:300]))


def finish(before=''):
    """Says how many passed and failed, and ends with status 1 where one did."""
    print('%s%d passed, %d failed' % (before, counts[True], counts[False]))
    sys.exit(counts[False] > 0)
