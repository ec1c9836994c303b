/* known_habit.c - a person whose strokes are as computed, and known. */
#include "known_habit.h"

fw_habit known_habit(double part)
{
    fw_habit habit;
    fw_habit_start(&habit);
    for (int i = 0; i < FW_HABIT_SIZE * FW_HABIT_SIZE; i++)
        habit.cov[i] *= part;
    return habit;
}
