/* A front sought by evolution, where a figure costs next to nothing: on a surrogate (surrogate.h), or on a test problem.
 *
 * NSGA-II (Deb and others 2002, see front.h): tournaments by rank and room, simulated binary crossover (R. B. Agrawal, K. Deb,
 * 1995; spread 15, chance 0.9), polynomial mutation (spread 20, chance 1 / dimensions). The figures are the usual ones of
 * that paper. Less is better. */
#pragma once
#include "search/front.h"

struct ew_evolve {
  int dimensions, goals;
  int population, generations; /* population: even, 4 or more */
  guint64 seed;
  const double *start; /* points to begin with, starts x dimensions; the rest fills the cube */
  int starts;
  /* figure[goals], and how far beyond its limits it is (0: within). */
  void (*judge)(const double *point, double *figure, double *worse, gpointer data);
  gpointer data;
};

/* point[population x dimensions], figure[population x goals], worse[population]: the last population, unsorted.
 * O(generations x population x (population x goals + a judgement)). */
void ew_evolve_run(const struct ew_evolve *ask, double *point, double *figure, double *worse);
