/* Which calibration counts for a pull, and which pulls a new one puts in doubt.
 *
 *   calibration ------> in force from its time on, applied to the raw of every pull from then (pull/calibrated.h)
 *        |               until the next; after its last valid day it still is the best that is known, and that is said
 *   zero --------------> in force for twelve hours
 *   calibration off by more than the cell's limit, or a check weight out of control
 *        `-------------> the pulls since the last good one are held (book/hold.h): right as they are, or amended
 *
 * A good one is a calibration, or a check weight inside its limits. */
#pragma once
#include "desk/loaded.h"
#include "judge/calibration.h"

/* How long a zero is good; common practice, no source. */
#define EW_ZERO_HOURS 12.0

/* What is in force at a time (ISO 8601); *calibrated NULL: nothing is. O(calibrations). */
gboolean ew_desk_calibrated(struct ew_book *book, const char *at, struct ew_calibrated **calibrated,
                            GError **error);

/* The same with the calibration of number `id` in the place of the others of its channel, whenever it was done. Refuses a number that is not a
 * calibration. */
gboolean ew_desk_calibrated_by(struct ew_book *book, const char *at, gint64 id,
                               struct ew_calibrated **calibrated, GError **error);

/* Takes a calibration, zero or check weight back, and holds the pulls that a calibration was applied to: gint64, added to `held`. */
gboolean ew_desk_calibration_back(const struct ew_desk *desk, gint64 id, const char *reason,
                                  GArray *held, GError **error);

/* What is kept with a check weight, as its row's JSON. */
char *ew_check_weight_facts(double read_n_m, double expected_n_m);

struct ew_calibration_kept {
  struct ew_control chart; /* of a zero or a check weight; centre NaN: too few yet */
  double value;            /* on that chart: a zero, or read and corrected over expected */
  double change;           /* relative, of the gain; NaN: not asked */
  gboolean good;           /* inside its limits */
  guint count;             /* of this kind */
  GArray *held;            /* gint64, pulls; never NULL */
};
void ew_calibration_kept_clear(struct ew_calibration_kept *kept);
/* Keeps it, and holds what it puts in doubt, in one transaction. */
gboolean ew_desk_calibration_keep(const struct ew_desk *desk, const struct ew_calibration_row *row,
                                  struct ew_calibration_kept *kept, GError **error);

/* The chart of a kind: zeros as read; check weights corrected by the calibration then in force, over expected. Values in the
 * order they were read, to be freed; *count of them. */
double *ew_desk_chart_values(const GArray *rows, const char *kind, gsize *count);
