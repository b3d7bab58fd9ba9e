/* Lash: what a valve's lash gains from cold to hot, what builds of like materials teach about it, and
 * the cold setting to begin with.
 *
 *   growth = hot - cold          proposed cold = hot wanted - growth
 *
 * Learning: each build gives the mean of its valves of one side. Over b builds, with s_b the standard
 * deviation of those means and s_w that of valves within a build (pooled, n valves a build in the
 * harmonic mean), one valve of the next build lies with 95 % within
 *
 *   mean of means +- t(b - 1) sqrt(s_b^2 (1 + 1/b) + s_w^2 (1 - 1/n))
 *
 * With one valve a build this is the prediction interval of a normal sample, t s sqrt(1 + 1/n)
 * (Hahn and Meeker, Statistical Intervals, 1991, chapter 4; from memory). Of one build only, the
 * valves' own scatter stands in, and the answer says that builds may differ more. Fewer than four
 * builds are called few. The proposal starts the work; the hot reading on the engine ends it. */
#pragma once
#include "build/build.h"

struct ew_growth_sample {
  int build; /* any number that tells builds apart */
  int side;  /* 0 inlet, 1 exhaust */
  double growth_m, since_stop_s, head_temperature_k;
};

struct ew_growth {
  int builds, valves;
  double mean_m, between_m, within_m; /* NaN where it cannot be known */
  double low_m, high_m;               /* of one valve of the next build; NaN with one valve only */
  double slope_m_s, slope_error_m_s;  /* with time since shut-down, within builds; 95 %; NaN */
  gboolean few;
};
struct ew_growth ew_growth_learn(const struct ew_growth_sample *samples, gsize count, int side);

/* A cold and a hot reading of one valve in one stage. */
struct ew_lash_pair {
  const char *valve, *stage;
  int side;
  double cold_m, hot_m, since_stop_s, head_temperature_k;
};
GArray *ew_lash_pairs(const struct ew_build *build);

/* Each valve: hot wanted from the cam's card, first and last readings, and what changed. */
struct ew_lash_row {
  char valve[24];
  int side;
  double wanted_m, cold_m, hot_m, growth_m; /* the last of each; NaN none */
  double hot_change_m, cold_change_m;       /* last less first, of different stages; NaN none */
  double since_stop_s, head_temperature_k;
};
GArray *ew_lash_rows(const struct ew_build *build, const struct ew_engine *engine);

gboolean ew_lifters_are_hydraulic(const struct ew_engine *engine);
/* The card's hot lash; NaN where the file gives none and where hydraulic lifters take it up. */
double ew_lash_wanted_m(const struct ew_engine *engine, int side);
#define EW_LASH_STOP_M 0.05e-3 /* a change above it stops the day: common practice, no source */
/* The larger of its hot and its cold change: what is judged and what is shown. NaN: neither is known. */
double ew_lash_change_m(const struct ew_lash_row *row);
/* Is a change or a difference above EW_LASH_STOP_M? One of as much is not, whichever way its last bit was rounded; NaN never. */
gboolean ew_lash_stops(double change_m);
