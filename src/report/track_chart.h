/* track_chart.h - figures falling toward the target, drawn on a logarithmic scale. */
#ifndef REPORT_TRACK_CHART_H
#define REPORT_TRACK_CHART_H

#include "flatwright/track.h"

/*
 * A row a flat's state: its figure as *, twice its uncertainty as a line on either side, the target
 * as an upright line; the last states of every flat, at most as many as fit a screen. Nothing is
 * drawn for the ear, or where no figure is known.
 */
void track_chart(fw_screen *screen, const fw_track *track);

#endif
