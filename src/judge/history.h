/* What this cell repeats to: learned from groups of like pulls, nested by what lay between them.
 *
 * A change that needs a stop is judged against the spread of pulls with a restart between them, and
 * so on: the spread of consecutive pulls is too small for it. All values are logs of band means. */
#pragma once
#include "base/message.h"
#include <glib.h>

enum ew_level {
  EW_LEVEL_CONSECUTIVE,
  EW_LEVEL_RESTART,
  EW_LEVEL_DAY,
  EW_LEVEL_REMOUNT,
  EW_LEVELS_COUNT
};
extern const char *const ew_level_names[]; /* keys; NULL-terminated */
extern const struct ew_message_kind *const ew_level_words[EW_LEVELS_COUNT]; /* for people */

/* Standard deviation of one pull (s_r of ISO 5725, not the repeatability limit 2.8 s_r) and its
 * degrees of freedom; `freedom` 0 means not known. `borrowed` says that no group of this level is in
 * the history and a starting figure was put in its place. */
struct ew_spread {
  double sd, freedom;
  gboolean borrowed;
};

/* One like pull of the book: which run (between two stops), day and mounting it belongs to. */
struct ew_history_pull {
  int mounting, day, run; /* equal numbers: the same one */
  int kind;               /* like engine and set-up: only equal kinds are compared */
  double position;        /* order within its run */
  double log_mean;
};

/* Pooled standard deviation within groups; with `remove_slope` a common slope on position is taken
 * out first, at the cost of one degree of freedom. group[i] tells the group of value i. A value of NaN is left
 * out, and costs its degree of freedom. */
struct ew_spread ew_pooled_spread(const double *value, const int *group, const double *position,
                                  gsize n, gboolean remove_slope);

/* First the slope of each day, as far as it is told apart from scatter, is taken out (it costs its share of a degree of
 * freedom). Then nested variance components by the method of moments (unbalanced, Searle), then the standard
 * deviation of one pull at each level with Satterthwaite's degrees of freedom. Levels without
 * replication take the level below with the starting extra spread of `ew_starting_extra`, marked. */
void ew_learn_spread(const struct ew_history_pull *pulls, gsize n,
                     struct ew_spread levels[EW_LEVELS_COUNT]);

/* Drift a pull within runs of three like pulls or more: its mean, and how the next run's may lie about it, without what scatter alone
 * (`sd`, of one pull) makes of a slope. Both NaN from fewer than four such runs, or where sd is not known. */
void ew_learn_drift(const struct ew_history_pull *pulls, gsize n, double sd, double *mean,
                    double *spread);

/* Extra standard deviation assumed for a level that was never observed: common practice, no source. */
extern const double ew_starting_extra[EW_LEVELS_COUNT];
