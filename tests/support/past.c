/* past.c - rounds of a made-up set, solved and worked, to be looked back over. */
#include "past.h"

#include <string.h>

#include "close.h"

static char names[3][2] = {"A", "B", "C"};

void past_begin(past *s)
{
    memset(s, 0, sizeof *s);
    s->job = (fw_job){.nflats = 3, .flats = s->flats, .flatness_nm = 10, .confidence = 0.95,
                      .scans = s->scans, .work = s->work, .sag = s->sag};
    for (int f = 0; f < 3; f++)
        s->flats[f] = (fw_flat){.name = names[f], .diameter_mm = 254, .clear_mm = 250};
    s->result = (fw_result){.job = &s->job, .round = 1, .faces = s->faces, .today = s->today,
                            .removals = s->removals};
}

void past_scan(past *s, int round)
{
    s->scans[s->job.nscans++] = (fw_scan){.round = round};
}

void past_work(past *s, int round, int flat, double hours, fw_method method)
{
    s->work[s->job.nwork++] =
        (fw_work){.round = round, .flat = flat, .hours = hours, .method = method};
}

void past_face(past *s, int flat, int state, int round, double pv, double u, fw_verdict verdict)
{
    fw_quantity q = {pv, u}, rms = {pv / 4, u / 4}, half = {pv / 2, u / 2};
    s->today[flat] = s->result.nfaces;
    s->faces[s->result.nfaces++] =
        (fw_face){.flat = flat, .state = state, .first_round = round, .last_round = round,
                  .figure = {.pv = q, .rms = rms, .power = half, .irregularity = half,
                             .symmetric = half, .verdict = verdict}};
}

void past_removal(past *s, int flat, int from, int n, const size_t *spells, double rms, double u)
{
    int r = s->result.nremovals++;
    double hours = 0;
    for (int i = 0; i < n; i++) {
        s->spells[r][i] = spells[i];
        hours += s->work[spells[i]].hours;
    }
    s->removals[r] = (fw_removal){.flat = flat, .from_state = from, .to_state = from + n,
                                  .nwork = n, .work = s->spells[r], .hours = hours,
                                  .rms = {rms, u}};
}

fw_track *past_look(const past *s)
{
    fw_track *track = NULL;
    fw_error err;
    if (fw_track_new(&s->result, &track, &err) != FW_OK)
        print_error("%s\n", err.text);
    assert_non_null(track);
    return track;
}

void past_falling(past *s, double u)
{
    past_begin(s);
    for (int r = 1; r <= 3; r++)
        past_scan(s, r);
    past_work(s, 1, 0, 1, FW_LAP_ON_TOP);
    past_work(s, 2, 0, 1, FW_LAP_ON_TOP);
    past_face(s, 0, 0, 1, 100, u, FW_OUTSIDE);
    past_face(s, 0, 1, 2, 50, u, FW_OUTSIDE);
    past_face(s, 0, 2, 3, 25, u, FW_OUTSIDE);
    past_face(s, 1, 0, 1, 40, u, FW_OUTSIDE);
    past_face(s, 2, 0, 1, 4, u, FW_WITHIN);
    s->result.round = 3;
}
