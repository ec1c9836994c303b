/* known_habit.h - a person whose strokes are as computed, and known. */
#ifndef TESTS_KNOWN_HABIT_H
#define TESTS_KNOWN_HABIT_H

#include "flatwright/advice.h"

/* What is believed before any evidence, with so much of its variances left. */
fw_habit known_habit(double part);

#endif
