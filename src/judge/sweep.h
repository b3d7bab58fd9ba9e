/* Torque against one setting: spark advance or mixture. Where is the best, what is the least that
 * gives away less than the margin, and is the next step worth trying? */
#pragma once
#include <glib.h>
#include "base/json_writer.h"
#include "base/message.h"

enum ew_sweep_setting { EW_SWEEP_SPARK, EW_SWEEP_MIXTURE };

struct ew_sweep_pull {
  double setting;   /* degrees, or lambda */
  double log_mean;  /* of the headline */
  double position;  /* in the order of running */
  double knock;     /* counts in this pull; NaN not measured */
  const char *seen; /* on a plug, in the filter, or heard; NULL: nothing */
};

#define EW_SWEEP_NARROW_MOST 20 /* pulls looked ahead */

struct ew_sweep_options {
  enum ew_sweep_setting setting;
  double margin;                /* loss from the best that is given away for reserve: 0.005 */
  double reserve;               /* kept from the first sign of knock, in the unit of the setting */
  double sd, freedom;           /* spread of one pull and its degrees of freedom */
  gboolean fit_drift;           /* the first setting was repeated last */
  const ew_message *look_first; /* an open trip: it ends the sweep; or NULL */
  double minutes_a_pull, litres_a_pull, seconds_high_a_pull; /* NaN or 0: not known */
};

struct ew_sweep {
  double best, best_low, best_high; /* 95 % */
  gboolean bracketed;               /* the best lies inside the tested range */
  double curvature;                 /* relative loss a unit squared */
  double sd, freedom, slope;
  double chosen;            /* least setting whose loss is shown below the margin; NaN */
  double chosen_loss;       /* its loss from the fitted best, mean of the draws */
  gboolean held_by_reserve; /* the reserve from knock allows less */
  double next;              /* the next setting worth trying; NaN: stop */
  double next_probability;  /* that the next step gains more than 0.3 % */
  double
      narrow; /* the setting to run next to tell the best better; NaN: well enough told, or not now */
  double
      wanted_half; /* half-width of the best at which it is known well enough: 1 degree, lambda 0.01 */
  guint
      narrow_pulls; /* about how many pulls that takes; 0: none, or more than EW_SWEEP_NARROW_MOST */
  ew_message *narrow_says; /* the same in words; NULL: nothing to run */
  gboolean ended;          /* knock, something seen or an open trip ended the sweep */
  ew_message *reason;      /* to go on or to stop */
  GPtrArray *warnings;     /* of messages */
  gsize points;
  double *setting, *loss, *loss_se; /* the fitted curve over the tested range, for drawing */
  gsize pulls; /* each pull against the fitted best, drift taken off, and its own 95 % half-width */
  double *pull_setting, *pull_loss, pull_half_width;
  double *pull_moves; /* how far the best moves when this pull reads 1 % more; NaN: not bracketed */
  double cost_minutes, cost_litres,
      cost_seconds_high; /* of narrow_pulls; NaN: not known, or none */
  GPtrArray *costs;      /* the same as messages */
  GPtrArray *assumed;    /* messages: what the pulls did not tell */
};

/* Settings nearer to each other than this are one setting: 0.3 degrees, lambda 0.005. */
double ew_sweep_apart(enum ew_sweep_setting setting);
/* Needs at least three different settings. Two thousand or more draws from the posterior, fixed seed. */
struct ew_sweep *ew_sweep(const struct ew_sweep_pull *pulls, gsize n,
                          const struct ew_sweep_options *options, GError **error);
void ew_sweep_free(struct ew_sweep *sweep);
void ew_sweep_write_json(const struct ew_sweep *sweep, struct ew_json *json);
