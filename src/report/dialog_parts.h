/* dialog_parts.h - what the parts of the dialog share: the scan being read, what is known of it. */
#ifndef REPORT_DIALOG_PARTS_H
#define REPORT_DIALOG_PARTS_H

#include "flatwright/dialog.h"
#include "flatwright/result.h"

#define DIALOG_PLACES 1000

/* What is being asked for. */
typedef enum dialog_stage {
    ASK_PAIR,
    ASK_TURN,
    ASK_DIAMETER,
    ASK_RADIUS,
    ASK_COUNT,
    ASK_SIGN,
    ASK_READING,
    ASK_BOW,
    ASK_OVER
} dialog_stage;

/* One place of the scan being read. nm: NAN while it is not known. */
typedef struct dialog_place {
    double mm;
    double value;    /* as it stands in the file, in the job's unit; NAN: not read */
    double foretold; /* nm, but for a height and a tilt of the whole scan */
    double u_nm;
    bool skipped; /* left out on purpose, in this sitting or before */
} dialog_place;

/* Two sides to which bands can move or bow, as the person sees them. */
typedef struct dialog_sides {
    char plus, minus; /* letters */
    const char *plus_word, *minus_word;
} dialog_sides;

struct fw_dialog {
    const fw_job *job;
    fw_notebook *notebook;
    fw_screen *screen;
    bool picture;
    fw_job *now; /* the folder as it was after the last scan; NULL: cannot be read */
    fw_result *result; /* of now; NULL: cannot be solved */
    bool stale;        /* readings were written since */

    dialog_stage stage;
    int round;
    int bottom, top;
    double turn_deg, diameter_deg;
    char label[16];
    int nplaces, at;
    dialog_place place[DIALOG_PLACES];
    int nstations;
    double station[DIALOG_PLACES];
    double radius_mm;

    const dialog_sides *sides; /* NULL: numbers come with the sign of the glass */
    int sign;                  /* + 1: the glass is high where bands bow to the plus side */
    bool sign_asked, bow_due;
    bool returned; /* by `back`: what was answered before is the default */
    double spacing; /* the last one typed, with displacements over it */
    double reach;   /* half the width of the drawing, in the job's unit; 0: not yet chosen */

    size_t count;
    fw_status status;
};

/* The unit's height in nm, and its name. */
double dialog_unit_nm(const fw_dialog *d);
const char *dialog_unit(const fw_dialog *d);

/* "+0.12"; in the job's unit. Returns buffer. */
char *dialog_value(double value, char buffer[FW_SCREEN_WORD]);

/* The reading of a place as an entry. */
fw_entry dialog_entry(const fw_dialog *d, const dialog_place *place);

/* Rounded to so many digits: what a conversion did to the last ones is taken off. */
double dialog_as_typed(double value, int digits);

/* dialog_scan.c: reads the folder anew, solves it. */
void dialog_renew(fw_dialog *d);
/* Finds the scan in the folder: fills the places; returns how many are read, or left out. */
int dialog_find_scan(fw_dialog *d, const char *label);
/* The places: stations on the glass of both flats. */
void dialog_lay_places(fw_dialog *d);
void dialog_foretell(fw_dialog *d);
/* Says so when the reading of place i does not fit what is known. */
void dialog_check(const fw_dialog *d, int i);
/* After a scan: suspects in it, and whether the three pairs close. */
void dialog_check_scan(const fw_dialog *d);

/* dialog_words.c */
void dialog_help(const fw_dialog *d);
void dialog_draw_sign(const fw_dialog *d);
void dialog_draw_reading(fw_dialog *d, int i);
void dialog_draw_scan(const fw_dialog *d);
void dialog_list(const fw_dialog *d);
void dialog_prompt(const fw_dialog *d);

/* dialog_enter.c: a line at a station. */
void dialog_enter(fw_dialog *d, const char *line);
/* Positions where successive bands cross the diameter become readings at the stations. */
void dialog_cross(fw_dialog *d, const char *line);
/* Turns the sign of every reading of the scan. */
void dialog_flip(fw_dialog *d);
/* Leaves the place out, unless it is read; false, said: that could not be written. */
bool dialog_skip(fw_dialog *d, int i);
/* Goes to the next stage when the last place is done. */
void dialog_advance(fw_dialog *d);

/* dialog.c: the side to which bands bow where the glass is high (+1) or low (-1). */
const char *dialog_side(const fw_dialog *d, int sign);

/* dialog_plan.c: whether the folder has such a scan of this round; a NAN stands for any angle. */
bool dialog_was_read(const fw_dialog *d, int bottom, int top, double turn, double diameter);
/* Defaults of the prompts; the last is false when the pairing has all diameters of the job. */
void dialog_default_pair(const fw_dialog *d, int *bottom, int *top);
double dialog_default_turn(const fw_dialog *d);
bool dialog_default_diameter(const fw_dialog *d, double *diameter_deg);
/* The diameter is known: to its stations, its sign, its first reading that is missing. */
void dialog_take_scan(fw_dialog *d);
void dialog_start_scan(fw_dialog *d);
void dialog_start_readings(fw_dialog *d);
/* Gives the scan a mark that no other of its diameter has. */
void dialog_next_label(fw_dialog *d);
/* After its last place; and at the beginning, the scan that was left. */
void dialog_end_scan(fw_dialog *d);
void dialog_find_unfinished(fw_dialog *d);

#endif
