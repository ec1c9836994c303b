/* ranked.c - a made-up set solved and its pairings ranked, and the same as one dense system. */
#include "ranked.h"

#include <math.h>

#include "adjust/adjustment.h"
#include "close.h"

void rank_pairings(ranked *w)
{
    fw_error err = {0};
    if (fw_solve(w->s.job, NULL, &w->result, &err) || fw_next_pairing(w->result, &w->next, &err))
        fail_msg("%s", err.text);
    double variance = w->result->adjustment->variance;
    w->dense = (foresight){w->s.job,
                           isnan(variance) ? 1 : variance,
                           w->next->sigma_nm,
                           w->next->ndiameters,
                           w->next->nstations,
                           w->next->diameters_deg,
                           w->next->stations_mm,
                           w->untied};
    for (int f = 0; f < w->s.job->nflats; f++) {
        const fw_profile *p = &w->result->faces[w->result->today[f]].profile;
        w->untied[f] = p->determined && !p->tied;
    }
}

void ranked_release(ranked *w)
{
    fw_next_free(w->next);
    fw_result_free(w->result);
    sim_release(&w->s);
}

double ranked_compare(const ranked *w, const fw_candidate *c)
{
    double u[8];
    extra e = {c->bottom, c->top, c->turn_deg, 1};
    double score = foresight_score(&w->dense, 1, &e, u);
    assert_close(c->score_after_nm2, score, 1e-5, 0);
    for (int f = 0; f < w->s.job->nflats; f++)
        assert_close(c->u_after_nm[f], u[f], 1e-5, 0);
    assert_close(c->worst_u_after_nm, u[c->worst_flat], 1e-5, 0);
    if (c->either_way) { /* the exchange gives the same */
        e = (extra){c->top, c->bottom, c->turn_deg, 1};
        assert_close(foresight_score(&w->dense, 1, &e, u), score, 1e-8, 0);
    }
    return fabs(c->score_after_nm2 / score - 1);
}

double ranked_compare_now(const ranked *w)
{
    double u[8], score = foresight_score(&w->dense, 0, NULL, u);
    int most = 0;
    assert_close(w->next->score_nm2, score, 1e-5, 0);
    for (int f = 0; f < w->s.job->nflats; f++) {
        assert_close(w->next->u_nm[f], u[f], 1e-5, 0);
        most = u[f] > u[most] * (1 + 1e-6) ? f : most;
    }
    assert_close(u[w->next->worst_flat], u[most], 1e-5, 0);
    for (int i = 0; i < w->next->ncandidates; i++) {
        assert_close(w->next->candidates[i].score_before_nm2, score, 1e-5, 0);
        assert_close(w->next->candidates[i].worst_u_before_nm, u[most], 1e-5, 0);
    }
    return fabs(w->next->score_nm2 / score - 1);
}

void ranked_check_enough(const ranked *w, bool fewest)
{
    const fw_enough *e = &w->next->enough;
    extra extras[32];
    double u[8];
    assert_true(e->nrepeats > 0 && e->nrepeats < 32);
    for (int i = 0; i < e->nrepeats; i++) {
        const fw_candidate *c = &w->next->candidates[e->repeats[i].candidate];
        extras[i] = (extra){c->bottom, c->top, c->turn_deg, e->repeats[i].times};
    }
    foresight_score(&w->dense, e->nrepeats, extras, u);
    for (int f = 0; f < w->s.job->nflats; f++) {
        assert_close(e->u_nm[f], u[f], 1e-5, 0);
        assert_true(u[f] <= e->limit_nm * (1 + 1e-6));
    }
    if (fewest) { /* and one less of the last is not */
        extras[e->nrepeats - 1].times--;
        foresight_score(&w->dense, e->nrepeats, extras, u);
        double most = 0;
        for (int f = 0; f < w->s.job->nflats; f++)
            most = fmax(most, u[f]);
        assert_true(most > e->limit_nm);
    }
}
