/* Alarms, decided sample by sample.
 *
 *             breach, conditions met              held for `hold`
 *   QUIET ------------------------------> HOLDING -----------------> TRIPPED (latched)
 *     ^ <-- back by the hysteresis, or blocked --+                       |
 *     +------------------------- a person clears it, and it is over ------+
 *
 * A sample without a reading neither begins nor ends a hold (but for lost()). A tripped alarm is reported
 * once and stays until it is cleared: by a person, never by an exchange of the table. In a pull the
 * table cannot be exchanged.
 *
 * Alarm and request together (desk/record_alarms.c sends, cell/outputs.h draws the request alone):
 *
 *   event                              request                    what is sent
 *   a shut-down trips                  begins, again if it is     each output of the list, in order
 *                                      under way or was done
 *   a notice, a back-off trips         as it was                  nothing
 *   'shut down' on the control line    begins, as for a trip      the same
 *   an alarm is cleared                withdrawn when no shut-    nothing more
 *                                      down is left, else goes on
 *   the table is exchanged             as it was: what stands     nothing
 *                                      tripped stays tripped
 *   an output fails                    goes on; it is tried again the same once more, until it is done
 *   the session ends                   what is under way is done  the rest is reported as not done
 *
 * Invariant: a shut-down is tripped, or was asked for by hand, exactly while the request is not idle. */
#pragma once
#include "cell/alarm_spec.h"
#include "cell/own_curves.h"

struct ew_alarms; /* opaque */
typedef struct ew_alarms ew_alarms;

struct ew_alarm_trip {
  const struct ew_alarm_spec *alarm;
  double time_s, value, bound, held_s; /* inside units */
};
/* What came near within a pull: held for a part of the hold, or within 1.5 % of its limit. */
struct ew_alarm_near {
  const struct ew_alarm_spec *alarm;
  double time_s, value, bound, share; /* share of the hold, or of the limit */
};

/* What one alarm allows at this moment: the same limits as the decision takes, for a screen. */
struct ew_alarm_band {
  const struct ew_alarm_spec *alarm;
  int index;           /* of its channel; -1: all of them, the highest counts */
  gboolean of_reading; /* low and high stand on the reading itself, else on `value` */
  gboolean in_force;   /* its conditions are met now */
  gboolean beyond, tripped;
  double value, low, high; /* inside units; low, high NaN: open */
};

/* Takes the table; keeps a pointer to the curves (may be NULL). */
struct ew_alarms *ew_alarms_new(struct ew_alarm_table *table, struct ew_own_curves *own);
void ew_alarms_free(struct ew_alarms *alarms);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_alarms, ew_alarms_free)
/* Refused in a pull, and when an alarm that is tripped is not in the new table or asks for less
 * there; takes the table only when it returns TRUE. What stands tripped stays tripped. */
gboolean ew_alarms_replace(struct ew_alarms *alarms, struct ew_alarm_table *table, GError **error);

/* The latest reading of a channel (inside unit; NaN: none). index 0 for the only one. */
void ew_alarms_set(struct ew_alarms *alarms, enum ew_channel channel, int index, double value);
/* Decide at this time. Trips that are new are appended to `trips` (struct ew_alarm_trip). */
void ew_alarms_step(struct ew_alarms *alarms, double time_s, GArray *trips);
/* The pull watch says so. At the end the curves learn the pull when it is `sound` and nothing asked to
 * back off, and what came near is appended to `near` (struct ew_alarm_near; may be NULL). */
void ew_alarms_begin_pull(struct ew_alarms *alarms, double time_s);
void ew_alarms_end_pull(struct ew_alarms *alarms, gboolean sound, GArray *near);
/* A person clears the one of this name (NULL: all). Those that still stand beyond their limit stay.
 * Returns how many were cleared. */
guint ew_alarms_clear(struct ew_alarms *alarms, const char *name);
/* Before load: the shut-downs whose reading is below what they allow at this speed, whatever their hold
 * and their settling: a message of each, "cell.below-floor". */
void ew_alarms_below_floor(struct ew_alarms *alarms, GPtrArray *messages);
/* Every alarm whose channel has come, in the order of the table (struct ew_alarm_band). */
void ew_alarms_bands(struct ew_alarms *alarms, GArray *bands);
guint ew_alarms_tripped(const struct ew_alarms *alarms); /* latched now */
/* Those latched now that ask for at least this. With `names` they are appended, comma-separated. */
guint ew_alarms_standing(const struct ew_alarms *alarms, enum ew_alarm_action least,
                         GString *names);
const struct ew_alarm_table *ew_alarms_table(const struct ew_alarms *alarms);
double ew_alarms_speed(const struct ew_alarms *alarms); /* NaN when none came for a second */
gboolean ew_alarms_in_pull(const struct ew_alarms *alarms);
