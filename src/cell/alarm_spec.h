/* What is watched, and what is asked for when it trips: a table in YAML that a shop edits.
 *
 * alarms:
 *   - {name: oil pressure floor, watch: oil_pressure, action: shut down, below: 2.0 bar,
 *      hold: 0.15 s, speed_above: 4000 rpm, says: shut throttle keep load}
 * outputs:
 *   - {name: throttle, kind: send, line: "throttle 0"}
 *
 * watch: a channel ("oil_pressure", "exhaust_temperature 2"), the difference of two ("speed -
 * speed_2"), or one of max(), spread(), rise(), fall(), rate(), count(), lost(), frozen() of one.
 *   max, spread: over all cylinders        rise: since the pull began
 *   fall: share lost since the pull began  rate: a second, of speed
 *   count: in the last second              lost: seconds without a reading, three samples at least
 *   frozen: seconds without any change that its own noise and step do not explain (cell/stillness)
 * A limit is a figure with its unit, a share of a figure of the set-up ("102 % of limit"), one for
 * each of `speeds`, or stands against the engine's own curve at like oil temperature. */
#pragma once
#include "base/field.h"
#include "pull/channel.h"

/* id, word, what it means */
#define EW_ALARM_ACTIONS(X)                                                                        \
  X(NOTICE, "notice", "look at it")                                                                \
  X(BACK_OFF, "back off", "take the load off")                                                     \
  X(SHUT_DOWN, "shut down", "throttle shut or ignition off, load kept on until speed is down")

enum ew_alarm_action {
#define X(id, word, meaning) EW_ALARM_##id,
  EW_ALARM_ACTIONS(X)
#undef X
      EW_ALARM_ACTIONS_COUNT
};
extern const char *const ew_alarm_action_names[]; /* NULL-terminated */

/* id, word */
#define EW_WATCHES(X)                                                                              \
  X(VALUE, "")                                                                                     \
  X(MINUS, "-")                                                                                    \
  X(MAX, "max")                                                                                    \
  X(SPREAD, "spread")                                                                              \
  X(RISE, "rise")                                                                                  \
  X(FALL, "fall")                                                                                  \
  X(RATE, "rate")                                                                                  \
  X(COUNT, "count")                                                                                \
  X(LOST, "lost")                                                                                  \
  X(FROZEN, "frozen")

enum ew_watch_how {
#define X(id, word) EW_WATCH_##id,
  EW_WATCHES(X)
#undef X
      EW_WATCHES_COUNT
};

struct ew_watch {
  enum ew_watch_how how;
  enum ew_channel channel, minus;
  int index, minus_index;
  enum ew_kind kind; /* of what comes out */
};

/* Figures of the set-up that a limit may be a share of; NaN: not known, and the alarm sleeps. */
struct ew_alarm_context {
  double limit_rpm, rate_rpm_s, largest_torque_n_m, largest_speed_rpm, largest_power_w;
};

/* id, how a limit names it: "102 % of limit" */
#define EW_ALARM_SHARES(X)                                                                         \
  X(LIMIT, "limit")                                                                                \
  X(RATE, "rate")                                                                                  \
  X(LARGEST_TORQUE, "largest_torque")                                                              \
  X(LARGEST_SPEED, "largest_speed")                                                                \
  X(LARGEST_POWER, "largest_power")

enum ew_alarm_share {
  EW_ALARM_OF_NOTHING,
#define X(id, word) EW_ALARM_OF_##id,
  EW_ALARM_SHARES(X)
#undef X
      EW_ALARM_SHARES_END
};

struct ew_alarm_spec {
  /* as written */
  char *name, *watch_text, *says, *above_text, *below_text, *limits_text, *above_own_text,
      *hysteresis_text, *per_speed_text;
  int action;
  GArray *speeds_rpm;
  double below_own, below_last; /* shares of the own curve, of the last pull's */
  double hold_s, settle_s;
  double throttle_above, throttle_below, speed_above_rpm, speed_below_rpm, rate_below_rpm_s;
  gboolean transport_delay, in_pull, until_learned, over_own;
  /* as understood */
  struct ew_watch watch;
  double above, below, above_own, hysteresis; /* inside units; NaN none */
  double below_per_1000_rpm;                  /* Pa; NaN none */
  enum ew_alarm_share
      lacks;      /* the figure that `above` or `below` is a share of, and that is not known */
  GArray *limits; /* below these, at `speeds_rpm` */
};

enum ew_output_kind { EW_OUTPUT_SEND, EW_OUTPUT_COIL, EW_OUTPUT_GPIO, EW_OUTPUT_FILE };
/* Done once after a shut-down trip, in the order of the list. */
struct ew_output_spec {
  char *name, *to, *line; /* line: what is sent or written */
  int kind;
  gboolean on;            /* of a coil or a GPIO line */
  double speed_below_rpm; /* NaN: at once */
  gboolean releases_load;
};

struct ew_alarm_table {
  GArray *alarms;     /* struct ew_alarm_spec */
  GArray *outputs;    /* struct ew_output_spec */
  double heartbeat_s; /* NaN: none */
  char *heartbeat_line;
};
typedef struct ew_alarm_table ew_alarm_table;
extern const struct ew_fields ew_alarm_fields, ew_output_fields;

/* Refuses: an unknown channel or word, a limit without unit or of the wrong kind, `says` that is not
 * four words, an output that would drop the load before speed is down. */
struct ew_alarm_table *ew_alarm_table_read(const struct ew_node *root, const char *where,
                                           const struct ew_alarm_context *context, GError **error);
void ew_alarm_table_free(struct ew_alarm_table *table);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_alarm_table, ew_alarm_table_free)
