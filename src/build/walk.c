/* Stops of the crank at which valves may be set: by cylinders, or the fewest that cover all valves, tried by one,
 * two, three (each stop a set of bits). At most 24 cylinders, so that the search stays short. */
#include "build/walk.h"
#include "engine/cam.h"
#include "engine/valve_motion.h"
#include "base/error.h"
#include "base/language.h"
#include <math.h>

#define CYLINDERS 24

static int order_at(const struct ew_engine *engine, int i) {
  g_assert(i >= 0 && i < (int)engine->geometry.firing_order->len);
  return (int)g_array_index(engine->geometry.firing_order, double, i);
}

static double angle_at(const struct ew_engine *engine, int i) {
  const GArray *angles = engine->geometry.firing_angles;
  if (angles)
    return g_array_index(angles, double, i) - g_array_index(angles, double, 0);
  return i * 720.0 / engine->cylinders;
}

double ew_walk_firing_deg(const struct ew_engine *engine, int cylinder) {
  g_assert(cylinder >= 1 && cylinder <= engine->cylinders);
  const GArray *order = engine->geometry.firing_order;
  for (guint i = 0; order && i < order->len; i++)
    if (order_at(engine, (int)i) == cylinder)
      return angle_at(engine, (int)i);
  return engine->cylinders == 1 ? 0 : (double)NAN;
}

int ew_walk_companion(const struct ew_engine *engine, int cylinder) {
  g_assert(cylinder >= 1 && cylinder <= engine->cylinders);
  double own = ew_walk_firing_deg(engine, cylinder);
  for (int other = 1; other <= engine->cylinders; other++)
    if (other != cylinder &&
        fabs(fmod(fabs(ew_walk_firing_deg(engine, other) - own), 720) - 360) < 0.5)
      return other;
  return 0;
}

/* How far a lobe reaches on either side of its centre, in crank degrees; NaN not known. */
static double reach_of(const struct ew_engine *engine, int side) {
  struct ew_valve_motion motion;
  const struct ew_engine_valves *v = ew_side_of(engine, side);
  if (ew_valve_motion_of(engine, side, &motion, NULL))
    return motion.lobe.reach_deg;
  double duration = isnan(v->duration_deg) ? ew_check_duration_deg(v) : v->duration_deg;
  return duration / 2 + EW_ASSUMED_RAMP_DEG;
}

/* Lobe centres from firing dead centre, and the reaches: found once for all valves. */
struct lobes {
  double centre_deg[2], reach_deg[2];
};

static const char *name_of(const struct ew_engine *engine) {
  return engine->name ? engine->name : ew_tr(EW_TEXT("engine"));
}

static gboolean find_lobes(const struct ew_engine *engine, struct lobes *lobes, GError **error) {
  struct ew_cam_timing timing;
  if (engine->strokes != 0)
    return ew_refuse(error, "%s: only four-strokes have their valves set by the firing order",
                     name_of(engine));
  if (engine->cylinders > 1 && (!engine->geometry.firing_order ||
                                (int)engine->geometry.firing_order->len != engine->cylinders))
    return ew_refuse(error, "%s: geometry.firing_order is needed to list the crank positions",
                     name_of(engine));
  if (!ew_cam_timing_of(engine, &timing))
    return ew_refuse(error,
                     "%s: cam.lobe_separation and cam.inlet_centreline (or the valve events) "
                     "are needed to list the crank positions",
                     name_of(engine));
  lobes->centre_deg[0] = 360 + timing.inlet_centreline_deg;
  lobes->centre_deg[1] = 360 - timing.exhaust_centreline_deg;
  for (int side = 0; side < 2; side++) {
    lobes->reach_deg[side] = reach_of(engine, side);
    if (isnan(lobes->reach_deg[side]))
      return ew_refuse(error, "%s: %s.duration is needed to list the crank positions",
                       name_of(engine), ew_side_name(side));
  }
  return TRUE;
}

static double margin_at(const struct ew_engine *engine, const struct lobes *lobes, int cylinder,
                        int side, double crank_deg) {
  g_assert(side == 0 || side == 1);
  double own = crank_deg - ew_walk_firing_deg(engine, cylinder);
  double off = fmod(fabs(own - lobes->centre_deg[side]), 720);
  return fmin(off, 720 - off) - lobes->reach_deg[side];
}

static struct ew_walk_stop stop_at(const struct ew_engine *engine, double crank_deg) {
  struct ew_walk_stop stop = {.crank_deg = crank_deg};
  for (int c = 1; c <= engine->cylinders; c++)
    if (fabs(ew_walk_firing_deg(engine, c) - crank_deg) < 0.5) {
      stop.firing = c;
      stop.companion = ew_walk_companion(engine, c);
    }
  return stop;
}

static void add_valve(struct ew_walk_stop *stop, int cylinder, int side, double margin) {
  if (stop->count < EW_WALK_VALVES)
    stop->valves[stop->count++] = (struct ew_walk_valve){cylinder, side, margin};
}

static int by_crank(gconstpointer a, gconstpointer b) {
  const struct ew_walk_stop *x = a, *y = b;
  return x->crank_deg < y->crank_deg ? -1 : x->crank_deg > y->crank_deg;
}

static void finish(GArray *stops) {
  g_array_sort(stops, by_crank);
  double last = 0;
  for (guint i = 0; i < stops->len; i++) {
    struct ew_walk_stop *stop = &g_array_index(stops, struct ew_walk_stop, i);
    stop->turn_deg = stop->crank_deg - last;
    g_assert(i == 0 || stop->turn_deg >= 0);
    last = stop->crank_deg;
  }
}

/* Each cylinder at its own firing dead centre; a valve that is lifted there gets a stop of its own in
 * the middle of its base circle. */
static GArray *walk_by_cylinder(const struct ew_engine *engine, const struct lobes *lobes) {
  GArray *stops = g_array_new(FALSE, TRUE, sizeof(struct ew_walk_stop));
  for (int c = 1; c <= engine->cylinders; c++) {
    double firing = ew_walk_firing_deg(engine, c);
    struct ew_walk_stop stop = stop_at(engine, firing);
    stop.firing = c;
    stop.companion = ew_walk_companion(engine, c);
    for (int side = 0; side < 2; side++) {
      double margin = margin_at(engine, lobes, c, side, firing);
      if (margin >= EW_WALK_MARGIN_DEG) {
        add_valve(&stop, c, side, margin);
        continue;
      }
      double middle = fmod(firing + lobes->centre_deg[side] + 360, 720);
      struct ew_walk_stop own = stop_at(engine, middle);
      add_valve(&own, c, side, margin_at(engine, lobes, c, side, middle));
      g_array_append_val(stops, own);
    }
    if (stop.count)
      g_array_append_val(stops, stop);
  }
  finish(stops);
  return stops;
}

static guint64 covered(const struct ew_engine *engine, const struct lobes *lobes, double crank) {
  g_assert(2 * engine->cylinders <= 64); /* a bit for each valve side */
  guint64 set = 0;
  for (int c = 1; c <= engine->cylinders; c++)
    for (int side = 0; side < 2; side++)
      if (margin_at(engine, lobes, c, side, crank) >= EW_WALK_MARGIN_DEG)
        set |= (guint64)1 << (2 * (c - 1) + side);
  return set;
}

/* The fewest of the `n` sets that cover `all`: tried by one, two, three..., first found kept. */
static gboolean choose(const guint64 *sets, int n, int from, int left, guint64 need, int *chosen) {
  if (need == 0)
    return TRUE;
  if (left == 0)
    return FALSE;
  for (int i = from; i < n; i++)
    if (sets[i] & need) {
      chosen[left - 1] = i;
      if (choose(sets, n, i + 1, left - 1, need & ~sets[i], chosen))
        return TRUE;
    }
  return FALSE;
}

static GArray *walk_fewest(const struct ew_engine *engine, const struct lobes *lobes) {
  g_assert(engine->cylinders >= 1 && engine->cylinders <= CYLINDERS);
  guint64 sets[CYLINDERS], all = (((guint64)1 << (2 * engine->cylinders - 1)) - 1) * 2 + 1, any = 0;
  double angles[CYLINDERS];
  int n = engine->cylinders, chosen[CYLINDERS], size = 1;
  for (int i = 0; i < n; i++) {
    angles[i] = n == 1 ? 0 : angle_at(engine, i);
    any |= sets[i] = covered(engine, lobes, angles[i]);
  }
  if ((any & all) != all)
    return NULL; /* not by dead centres alone */
  for (int i = 0; i < CYLINDERS; i++)
    chosen[i] = -1;
  while (!choose(sets, n, 0, size, all, chosen)) {
    size++;
    for (int i = 0; i < CYLINDERS; i++)
      chosen[i] = -1;
  }
  GArray *stops = g_array_new(FALSE, TRUE, sizeof(struct ew_walk_stop));
  guint64 left = all;
  for (int k = size; k-- > 0;) {
    if (chosen[k] < 0)
      continue;
    struct ew_walk_stop stop = stop_at(engine, angles[chosen[k]]);
    for (int v = 0; v < 2 * n; v++)
      if (left & sets[chosen[k]] & ((guint64)1 << v))
        add_valve(&stop, v / 2 + 1, v % 2,
                  margin_at(engine, lobes, v / 2 + 1, v % 2, angles[chosen[k]]));
    left &= ~sets[chosen[k]];
    g_array_append_val(stops, stop);
  }
  finish(stops);
  return stops;
}

GArray *ew_walk(const struct ew_engine *engine, gboolean fewest, GError **error) {
  struct lobes lobes;
  if (!find_lobes(engine, &lobes, error))
    return NULL;
  GArray *stops = fewest ? walk_fewest(engine, &lobes) : NULL;
  return stops ? stops : walk_by_cylinder(engine, &lobes);
}
