/* A calibration, zero or check weight that was wrong (the arm, the weight, the sensor) is taken back: its row stays, with why, and counts for
 * nothing from then on. */
#pragma once
#include "book/store.h"

#define EW_CALIBRATION_BACK ", taken back" /* ends the kind of such a row */

/* One that is there and was not taken back; *row is to be cleared with ew_calibration_back_clear. Refuses any other number. */
gboolean ew_calibration_find(struct ew_book *book, gint64 id, struct ew_calibration_row *row,
                             GError **error);
void ew_calibration_back_clear(struct ew_calibration_row *row);
/* A verb, as those of keep.h. Refuses an empty reason. */
gboolean ew_keep_calibration_back(struct ew_book *book, gint64 id, const char *reason,
                                  GError **error);
