/* talk.h - a talk at the bench with a job of its own: lines in, what is said and written out. */
#ifndef TESTS_TALK_H
#define TESTS_TALK_H

#include "flatwright/dialog.h"
#include "folder.h"

#define TALK_INI \
    PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\nsigma = 0.02\n"
#define TALK_HEADER "scan,round,bottom,top,turn_deg,diameter_deg,position_mm,deviation\n"
#define TALK_STATIONS "# stations: -80 -40 0 40 80\n"

typedef struct talk {
    folder at;
    fw_job *job;
    fw_notebook *notebook;
    fw_screen screen;
    char *said;
    size_t size;
    fw_dialog *dialog;
} talk;

/* Begins with these files; talk_restart stops, and begins another talk on the same folder. */
void talk_begin(talk *t, const char *ini, const char *readings);
void talk_restart(talk *t);
void talk_finish(talk *t);

/* Says lines, separated by |; returns what was answered to the last one. */
const char *talk_say(talk *t, const char *lines);

/* readings.csv, and its rows behind the header and the list of stations. */
const char *talk_file(const talk *t);
const char *talk_rows(const talk *t);

void assert_ends(const char *text, const char *end);
void assert_says(const char *text, const char *part);

#endif
