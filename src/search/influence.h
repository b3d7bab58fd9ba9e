/* Which knob matters: how much of a figure's variance over the cube comes from each, alone and with others.
 *
 * Sobol indices by the estimators of A. Saltelli and others, "Variance based sensitivity analysis of model output", Comput. Phys.
 * Commun. 181 (2010), 259-270: first order by their equation (b), total by Jansen's. An index is held within 0 and 1: the
 * estimate of a small one may come out below. */
#pragma once
#include <glib.h>

struct ew_influence {
  double alone; /* share of the variance that this knob makes by itself */
  double all;   /* with all its interactions; all - alone is what it makes with others */
};

/* influence[dimensions] of figure(point), which costs next to nothing: it is called count x (dimensions + 2) times. FALSE, and
 * all 0, where the figure does not vary. */
gboolean ew_influence_of(double (*figure)(const double *point, gpointer data), gpointer data,
                         int dimensions, int count, guint64 seed, struct ew_influence *influence);
