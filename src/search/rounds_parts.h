/* What the rounds (rounds.c) and the choosing of what is run next (choose.c) share: one search under way. Private to this room.
 *
 * Inside, goals are turned so that less is better. */
#pragma once
#include "search/rounds.h"

struct ew_rounds {
  const struct ew_search_ask *ask;
  struct ew_search_found *found;
  struct ew_seen *seen;          /* all that were run, or are about to be */
  guint64 next;                  /* number of the even design that comes next */
  int columns;                   /* of what is learned */
  double scale[EW_FIGURES_MOST]; /* spread of each limited figure, to add up what is beyond */
};

/* Less is better. */
static inline double ew_goal_turned(const struct ew_goal *goal, double figure) {
  return goal->more ? -figure : figure;
}

/* How far beyond the limits, each by its own scale; infinite where a figure is not known. figure[figures] */
double ew_rounds_beyond(const struct ew_rounds *s, const double *figure);
/* May it be built? */
gboolean ew_rounds_may_be(const struct ew_rounds *s, const double *point);
/* Was it run, or is it one of the n that are chosen? O(n), however many were run (seen.h). */
gboolean ew_rounds_known(const struct ew_rounds *s, const double *point, const double *chosen,
                         int n);
/* Mean and band (either may be NULL) of a point that is on the axes' places; FALSE, and neither is set, where nothing was learned. */
gboolean ew_rounds_believe(const struct ew_search_ask *a, const struct ew_search_found *f,
                           const double *point, int figure, double *mean, double *band);
/* As surrogates see it: an axis without order as one column a place. row[EW_AXES_MOST x EW_PLACES_MOST] */
void ew_rounds_row(const struct ew_search_ask *a, const double *point, double *row);
/* Up to `batch` designs that promise most, new and allowed, into chosen[(batch + 1) x axes]; their number: 0 where nothing was learned. */
int ew_rounds_choose(struct ew_rounds *s, int round, double *chosen);
