/* What the files that gather a test report share (report.c, report_facts.c, report_results.c, report_cautions.c,
 * report_photos.c); nobody else includes it. `pulls` holds struct ew_loaded and is never empty. */
#pragma once
#include "desk/report.h"

/* While they are gathered results, changes and cautions are messages; report.c makes texts of them in the end. In these
 * somebody's own words stand, which no choice of labels changes. */
extern const struct ew_message_kind ew_report_discarded, ew_report_tripped, ew_report_tripped_named,
    ew_report_tripped_between, ew_report_amended;

/* Takes `value`; nothing is added when it is NULL or empty. */
void ew_report_pair_add(GArray *pairs, const char *label, char *value);
/* Engine, set-up, pulls, air, factor: what is at the head of the sheet. */
void ew_report_facts(struct ew_report *report, const struct ew_desk *desk, const GPtrArray *pulls);
/* The peaks of the mean of the pulls. Printed, never judged. */
struct ew_report_peaks {
  double torque_n_m, torque_at_rpm, power_w, power_at_rpm, highest_rpm;
  gboolean torque_at_end, power_at_end; /* the highest may lie beyond what was run */
};
/* Peaks and band mean with their uncertainty, and the budget that it comes from. */
struct ew_report_peaks ew_report_results(struct ew_report *report, const struct ew_desk *desk,
                                         const GPtrArray *pulls);
/* What was agreed of this engine's build beside these peaks, and what was seen of it. An engine without a build has
 * neither; what was seen after the pulls stands there all the same. */
gboolean ew_report_promises(struct ew_report *report, const struct ew_desk *desk,
                            const char *engine, const struct ew_report_peaks *peaks,
                            const GPtrArray *pulls, GError **error);
/* From the cautions, which have to be complete: what the customer must know, the grave first. */
void ew_report_notices(struct ew_report *report);
/* What was changed between the engine's pulls, which of them were discarded or tripped, what was asked and answered.
 * O(pulls of the engine). */
void ew_report_changes(struct ew_report *report, const struct ew_desk *desk, gint64 engine_id,
                       const GPtrArray *pulls);
/* What the reader must know before he believes a figure: warnings of the curves, each once, and of their being together. */
gboolean ew_report_cautions(struct ew_report *report, const struct ew_desk *desk,
                            const GPtrArray *pulls, GError **error);
/* The photos named by number ("3,4"; NULL: none), without what a camera writes beside the picture. */
gboolean ew_report_photos(struct ew_report *report, struct ew_book *book, const char *ids,
                          GError **error);
