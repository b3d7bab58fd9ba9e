/* A search in rounds: designs that fill the space are run, what they gave is learned, and the designs that promise most are
 * run next.
 *
 *   first designs, even -> run -> [learn a surrogate a figure -> front of the surrogates -> choose a batch -> run] x rounds -> front
 *
 * Where one thing is wanted, those are chosen of which most improvement is expected (D. R. Jones, M. Schonlau, W. J. Welch, J. Global
 * Optim. 13 (1998), 455-492), times the chance that they are within the limits; where several are, those whose hopeful figures (mean and one
 * band to the better) add most to the volume of the front, times the same chance (constrained improvement: M. Schonlau, W. J. Welch, D. R.
 * Jones, IMS Lecture Notes 34 (1998), 11-25; by volume: M. Emmerich, 2005). One after the other, each taken to come out at its mean for those
 * after it (surrogate.h). Where nothing promises anything, even designs go on.
 *
 * The same question and seed give the same designs, run for run, whoever runs them; so a search that was stopped is asked
 * again, and what was run is taken from where the runner keeps it.
 *
 * Designs that cannot be run (not sound: they do not settle, or are refused) teach nothing but where not to go; they are counted. */
#pragma once
#include "base/progress.h"
#include "search/front.h"
#include "search/influence.h"
#include "search/surrogate.h"

#define EW_AXES_MOST    16
#define EW_FIGURES_MOST 12
#define EW_PLACES_MOST  12 /* of an axis without order: each is a dimension of what is learned */

struct ew_axis {
  int places;         /* 0: anything between; else so many, evenly from 0 to 1 */
  gboolean unordered; /* places are names: none lies between others */
};
struct ew_goal {
  int figure;
  gboolean more;
};
struct ew_limit {
  int figure;
  double low, high; /* infinite: none */
};

struct ew_search_ask {
  const struct ew_axis *axis;
  const struct ew_goal *goal;
  const struct ew_limit *limit;
  int axes, figures, goals, limits;
  guint64 seed;
  int first, rounds, batch;
  /* May it be built at all? Asked before it is run; costs little. NULL: all may. */
  gboolean (*allowed)(const double *point, gpointer data);
  /* figures[n x figures], sound[n]; points are on the axes' places. FALSE with *error stops the search. */
  gboolean (*run)(const double *points, int n, double *figures, gboolean *sound, gpointer data,
                  GError **error);
  gpointer data;
  ew_progress progress; /* by designs */
  gpointer progress_data;
};

struct ew_search_found {
  int axes, figures, goals;
  int designs;    /* that were run; in the order in which they were */
  double *point;  /* designs x axes */
  double *figure; /* designs x figures; NaN where not sound */
  double *worse;  /* how far beyond the limits; 0: within; infinite: not sound */
  int *round;     /* 0: one of the first */
  gboolean *sound;
  gboolean *front;                 /* within the limits, and none is better in everything */
  int front_count;                 /* 0: none is within the limits */
  int unsound;                     /* designs that could not be run */
  int barred;                      /* points that were never run because they are not allowed */
  struct ew_surrogate **surrogate; /* a figure; NULL where there are too few */
};
/* Refuses: nothing to change, nothing wanted, limits that bar all of 200 x `first` points. FALSE also when `run` failed. */
gboolean ew_search_run(const struct ew_search_ask *ask, struct ew_search_found *found,
                       GError **error);
void ew_search_found_clear(struct ew_search_found *found);

/* The first designs alone, points[first x axes], as ew_search_run would run them: who shares them out needs no more. Their number, which
 * is smaller where the places of the axes are used up; 0 with *error as ew_search_run refuses, but there may be more than are
 * learned from. Cost: linear. */
int ew_search_first_points(const struct ew_search_ask *ask, double *points, GError **error);

/* On the axes' places: what is run for a point of the cube. */
void ew_axes_snap(const struct ew_axis *axis, int axes, const double *from, double *to);
/* Place of an axis with places, from a snapped coordinate. */
int ew_axis_place(const struct ew_axis *axis, double coordinate);
/* What the surrogates believe of a point: mean and band of a figure. FALSE where nothing was learned of it. */
gboolean ew_search_believes(const struct ew_search_ask *ask, const struct ew_search_found *found,
                            const double *point, int figure, double *mean, double *band);
/* influence[axes] on a figure as learned; FALSE where it was not, or does not vary. Some 1,000 (axes + 2) means. */
gboolean ew_search_influence(const struct ew_search_ask *ask, const struct ew_search_found *found,
                             int figure, struct ew_influence *influence);
