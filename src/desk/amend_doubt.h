/* What holds a pull after an amendment: the doubts of today (pull/plausible.h) about its new reading, as for a new pull; and of what
 * it was held for, the questions that the amendment does not answer. A question that somebody answered "right as it is" is not asked
 * again for nearly the same figures. */
#pragma once
#include "book/recompute.h"
#include "desk/amend.h"
#include "desk/amend_place.h"
#include "desk/carry.h"

/* `again` as computed, `of` the pull as it was; `undoes`: the amendment that this takes back (0: none), whose questions wait again;
 * `carried`: what is known of its weather (NULL: not asked). Messages. NULL with *error. */
GPtrArray *ew_amend_doubts(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                           const struct ew_amend_rows *rows, const struct ew_recomputed *again,
                           const struct ew_pull_row *of, const struct ew_pull_row *now,
                           const struct ew_recording_row *recording, gint64 undoes,
                           const struct ew_carried *carried, GError **error);
/* Of a pull that the reading found besides, as part `part`. */
GPtrArray *ew_amend_doubts_besides(const struct ew_desk *desk, const struct ew_amend_rows *rows,
                                   const struct ew_recomputed *again, guint part,
                                   const struct ew_pull_row *now, GError **error);
