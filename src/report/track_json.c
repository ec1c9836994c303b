/* track_json.c - the way so far for a program: flatwright-track/1. */
#include <math.h>

#include "flatwright/json.h"
#include "flatwright/track.h"
#include "job/parts.h"

static const char *name_of(const fw_job *job, int flat)
{
    return flat < 0 ? NULL : job->flats[flat].name;
}

static void put_figure(fw_json *json, const fw_track *t, int round, int flat)
{
    const fw_job *job = t->result->job;
    int face = t->faces[flat + round * job->nflats];
    const fw_figure *figure = face < 0 ? NULL : &t->result->faces[face].figure;
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_text(json, "name", job->flats[flat].name);
    fw_json_integer(json, "state", fw_job_state(job, flat, t->rounds[round]));
    fw_json_number(json, "pv_nm", figure ? figure->pv.value_nm : NAN);
    fw_json_number(json, "pv_u_nm", figure ? figure->pv.u_nm : NAN);
    fw_json_number(json, "rms_nm", figure ? figure->rms.value_nm : NAN);
    fw_json_number(json, "rms_u_nm", figure ? figure->rms.u_nm : NAN);
    fw_json_number(json, "power_nm", figure ? figure->power.value_nm : NAN);
    fw_json_number(json, "power_u_nm", figure ? figure->power.u_nm : NAN);
    fw_json_text(json, "verdict", fw_verdict_name(figure ? figure->verdict : FW_UNDETERMINED));
    fw_json_close(json);
}

static void put_rounds(fw_json *json, const fw_track *t)
{
    fw_json_array(json, "rounds", FW_JSON_LINES);
    for (int r = 0; r < t->nrounds; r++) {
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_integer(json, "round", t->rounds[r]);
        fw_json_array(json, "flats", FW_JSON_LINES);
        for (int f = 0; f < t->result->job->nflats; f++)
            put_figure(json, t, r, f);
        fw_json_close(json);
        fw_json_close(json);
    }
    fw_json_close(json);
}

/* A removal over several spells is not shared out: the row then has the sum under `together`. */
static void put_spell(fw_json *json, const fw_job *job, const fw_track_spell *spell)
{
    const fw_work *work = &job->work[spell->work];
    bool alone = spell->together == 1;
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_integer(json, "round", work->round);
    fw_json_text(json, "flat", job->flats[work->flat].name);
    fw_json_text(json, "method", fw_method_names[work->method]);
    fw_json_number(json, "hours", work->hours);
    fw_json_null(json, "removed_mean_nm"); /* deviations show no mean */
    fw_json_number(json, "removed_figure_rms_nm", alone ? spell->rms.value_nm : NAN);
    fw_json_number(json, "removed_figure_u_nm", alone ? spell->rms.u_nm : NAN);
    fw_json_number(json, "rate_nm_per_h", spell->rate.value_nm);
    fw_json_number(json, "rate_u_nm_per_h", spell->rate.u_nm);
    if (spell->together > 1) {
        fw_json_object(json, "together", FW_JSON_INLINE);
        fw_json_integer(json, "spells", spell->together);
        fw_json_number(json, "removed_figure_rms_nm", spell->rms.value_nm);
        fw_json_number(json, "removed_figure_u_nm", spell->rms.u_nm);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_to_go(fw_json *json, const fw_track *t)
{
    fw_json_array(json, "to_go", FW_JSON_LINES);
    for (int f = 0; f < t->result->job->nflats; f++) {
        const fw_track_flat *flat = &t->flats[f];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "flat", t->result->job->flats[f].name);
        fw_json_number(json, "hours", flat->to_go.hours);
        fw_json_number(json, "hours_low", flat->to_go.low);
        fw_json_number(json, "hours_high", flat->to_go.high);
        fw_json_number(json, "polished_hours", flat->polished_h);
        fw_json_number(json, "ground_hours", flat->ground_h);
        fw_json_number(json, "fall_per_hour", flat->fall_per_h);
        fw_json_number(json, "fall_u_per_hour", flat->u_fall);
        fw_json_bool(json, "own_fall", flat->own);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_circle(fw_json *json, const fw_track_circle *circle)
{
    static const char *const names[] = {"measure", "shorter-spells", "longer-spells",
                                        "other-method", "side", "worst-flat"};
    if (!circle->known) {
        fw_json_null(json, "circle");
        return;
    }
    fw_json_object(json, "circle", FW_JSON_INLINE);
    fw_json_bool(json, "going_round", circle->round);
    fw_json_integer(json, "from_round", circle->from_round);
    fw_json_integer(json, "to_round", circle->to_round);
    fw_json_number(json, "gain_nm", circle->gain.value_nm);
    fw_json_number(json, "gain_u_nm", circle->gain.u_nm);
    fw_json_array(json, "breaks", FW_JSON_INLINE);
    for (unsigned i = 0; i < sizeof names / sizeof names[0]; i++)
        if (circle->breaks & 1u << i)
            fw_json_text(json, NULL, names[i]);
    fw_json_close(json);
    fw_json_close(json);
}

static void put_powers(fw_json *json, const fw_grind *g)
{
    fw_json_array(json, "powers", FW_JSON_LINES);
    for (int i = 0; i < g->npowers; i++) {
        const fw_grind_power *p = &g->powers[i];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "flat", name_of(g->job, p->flat));
        fw_json_integer(json, "state", p->state);
        fw_json_integer(json, "first_round", p->first_round);
        fw_json_integer(json, "last_round", p->last_round);
        fw_json_integer(json, "sags", (long long)p->nsags);
        fw_json_number(json, "power_nm", p->power.value_nm);
        fw_json_number(json, "power_u_nm", p->power.u_nm);
        fw_json_number(json, "probability_true", p->probability_true);
        fw_json_bool(json, "today", g->today[p->flat] == i);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_pair(fw_json *json, const fw_job *job, int bottom, int top)
{
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_text(json, "bottom", name_of(job, bottom));
    fw_json_text(json, "top", name_of(job, top));
}

void fw_grind_json(fw_json *json, const char *key, const fw_grind *g)
{
    fw_json_object(json, key, FW_JSON_LINES);
    fw_json_integer(json, "round", g->round);
    fw_json_text(json, "decision", fw_grind_decision_name(g->decision));
    fw_json_bool(json, "due", g->due);
    put_powers(json, g);
    fw_json_array(json, "pairings", FW_JSON_LINES);
    for (int i = 0; i < g->npairings; i++) {
        put_pair(json, g->job, g->pairings[i].bottom, g->pairings[i].top);
        fw_json_number(json, "top_less_nm", g->pairings[i].top_less_nm);
        fw_json_number(json, "bottom_more_nm", g->pairings[i].bottom_more_nm);
        fw_json_close(json);
    }
    fw_json_close(json);
    fw_json_array(json, "twist", FW_JSON_LINES);
    for (int i = 0; i < g->nsteps; i++) {
        put_pair(json, g->job, g->steps[i].bottom, g->steps[i].top);
        fw_json_number(json, "turn_deg", g->steps[i].turn_deg);
        fw_json_close(json);
    }
    fw_json_close(json);
    fw_json_number(json, "zero_nm", g->zero.value_nm);
    fw_json_number(json, "zero_u_nm", g->zero.u_nm);
    fw_json_close(json);
}

void fw_track_json(FILE *out, const fw_track *t)
{
    const fw_job *job = t->result->job;
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-track/1");
    put_rounds(&json, t);
    fw_json_array(&json, "work", FW_JSON_LINES);
    for (size_t i = 0; i < t->nspells; i++)
        put_spell(&json, job, &t->spells[i]);
    fw_json_close(&json);
    put_to_go(&json, t);
    put_circle(&json, &t->circle);
    fw_json_object(&json, "polishing_out", FW_JSON_INLINE);
    fw_json_number(&json, "usual_hours", t->usual_h);
    fw_json_number(&json, "fast_hours", t->fast_h);
    fw_json_number(&json, "own_hours", t->own_h);
    fw_json_text(&json, "own_flat", name_of(job, t->own_flat));
    fw_json_close(&json);
    if (t->grind)
        fw_grind_json(&json, "grinding", t->grind);
    else
        fw_json_null(&json, "grinding");
    fw_json_close(&json);
}
