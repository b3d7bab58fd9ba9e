/* The load cell calibrated with weights on an arm: from what was hung and read to the line that is kept, and, before it is kept, what it
 * would put in doubt.
 *
 *   hung and read -> points -> line (judge/calibration.h) --try--> what it would hold; nothing is kept
 *                                                         --keep-> kept, with what it holds (desk/calibrated.h)
 *
 * A weight pulls with mass x gravity at the length of the arm; hangers count as weight. */
#pragma once
#include "base/json_writer.h"
#include "desk/calibrated.h"

#define EW_GRAVITY_M_S2          9.80665        /* standard acceleration, ISO 80000-3 */
#define EW_CALIBRATION_VALID_S   (90 * 86400.0) /* common practice, no source */
#define EW_LOAD_CELL_POINTS_MOST 60u

/* A line through the points of the load cell, in the order they were hung. Refused besides what ew_calibrate refuses: a reading below
 * another that had less weight. O(n^2) of a handful of points. */
gboolean ew_load_cell_line(const struct ew_calibration_point *points, gsize n,
                           struct ew_calibration *line, GError **error);
/* How far a reading lies from the line, in N·m: what the line makes of it less what hung there. */
double ew_load_cell_off(const struct ew_calibration *line, struct ew_calibration_point point);

/* What is kept of a calibration, as members of an open object. Torque's keys carry its unit; others are in the inside unit. */
void ew_calibration_facts(const struct ew_calibration *line, enum ew_channel channel,
                          struct ew_json *json);
/* ISO 8601, in UTC. */
char *ew_calibration_until(double valid_s);

/* What keeping `row` would do, and nothing kept. Holds the book's writer as long as keeping does: O(pulls since the last good one). */
gboolean ew_desk_calibration_try(const struct ew_desk *desk, const struct ew_calibration_row *row,
                                 struct ew_calibration_kept *would, GError **error);
