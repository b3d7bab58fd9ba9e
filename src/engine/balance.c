/* Places of the cylinders, then the vector sums of balance.h. Which bank the throws reach first isn't in a firing
 * order: the side is taken on which rods that face each other share a pin. */
#include "engine/balance.h"
#include <complex.h>
#include <math.h>
#include <string.h>

#define RAD (G_PI / 180)

static double number_at(const GArray *list, guint i) {
  g_assert(i < list->len);
  return g_array_index(list, double, i);
}

int ew_bank_of(const struct ew_engine *engine, guint cylinder) {
  const struct ew_engine_geometry *g = &engine->geometry;
  if (g->layout == EW_LAYOUT_INLINE)
    return 1;
  return g->banks ? (int)number_at(g->banks, cylinder) : 1 + (int)(cylinder % 2);
}

static double bank_angle(const struct ew_engine_geometry *g) {
  switch ((enum ew_layout)g->layout) {
  case EW_LAYOUT_INLINE: return 0;
  case EW_LAYOUT_FLAT: return 180;
  case EW_LAYOUT_VEE: return g->bank_angle_deg;
  }
  g_assert_not_reached();
}

/* Rows of cylinders behind each other, then the middle of all moved to zero. */
static void set_along(const struct ew_engine *engine, struct ew_cylinder_place *places) {
  const struct ew_engine_geometry *g = &engine->geometry;
  int rows[3] = {0};
  double sum = 0;
  guint count = (guint)engine->cylinders;
  for (guint i = 0; i < count; i++) {
    int bank = ew_bank_of(engine, i);
    places[i].along_m =
        (count > 1 ? rows[bank]++ * g->bore_spacing_m : 0) + (bank == 2 ? g->bank_stagger_m : 0);
    sum += places[i].along_m;
  }
  for (guint i = 0; i < count; i++)
    places[i].along_m -= sum / count;
}

/* How far the throws of cylinders opposite each other (the first of each bank, the second of each ...) stand apart,
 * summed over the rows: 0 when each two rods run on one pin. */
static double apart(const struct ew_engine *engine, const struct ew_cylinder_place *places) {
  guint count = (guint)engine->cylinders, right = 0;
  double sum = 0;
  for (guint left = 0; left < count; left++) {
    if (ew_bank_of(engine, left) != 1)
      continue;
    while (right < count && ew_bank_of(engine, right) != 2)
      right++;
    if (right == count)
      break;
    double step = fabs(ew_throw_deg(places[left]) - ew_throw_deg(places[right++]));
    sum += fmin(step, 360 - step);
  }
  return sum;
}

/* Which bank the throws reach first is not in the firing order; but rods that stand opposite each other run on one
 * pin, or on two that are split by little. So the crank itself tells the side. */
static void settle_sides(const struct ew_engine *engine, struct ew_cylinder_place *places) {
  struct ew_cylinder_place other[EW_CYLINDERS_MAX];
  for (guint i = 0; i < (guint)engine->cylinders; i++) {
    other[i] = places[i];
    other[i].bank_deg = -places[i].bank_deg;
  }
  if (apart(engine, other) < apart(engine, places) - 1e-6)
    memcpy(places, other, sizeof *places * (gsize)engine->cylinders);
}

gboolean ew_cylinder_places(const struct ew_engine *engine,
                            struct ew_cylinder_place places[EW_CYLINDERS_MAX], gboolean *assumed) {
  const struct ew_engine_geometry *g = &engine->geometry;
  guint count = (guint)engine->cylinders;
  if (count > 1 && !g->firing_order)
    return FALSE;
  double cycle = 360 / ew_engine_cycles_per_turn(engine);
  for (guint i = 0; i < count; i++) {
    guint cylinder = g->firing_order ? (guint)number_at(g->firing_order, i) - 1 : i;
    g_assert(cylinder < count); /* engine_rules.c refuses another firing order */
    places[cylinder].tdc_deg =
        g->firing_angles ? number_at(g->firing_angles, i) : i * cycle / count;
    places[cylinder].bank_deg = (ew_bank_of(engine, cylinder) == 1 ? -0.5 : 0.5) * bank_angle(g);
  }
  set_along(engine, places);
  settle_sides(engine, places);
  *assumed = g->layout != EW_LAYOUT_INLINE && !g->banks;
  return TRUE;
}

void ew_firing_intervals(const struct ew_engine *engine, const struct ew_cylinder_place *places,
                         double *intervals_deg) {
  const GArray *order = engine->geometry.firing_order;
  guint count = (guint)engine->cylinders;
  double cycle = 360 / ew_engine_cycles_per_turn(engine);
  for (guint i = 0; i < count; i++) {
    guint here = order ? (guint)number_at(order, i) - 1 : i;
    guint next = order ? (guint)number_at(order, (i + 1) % count) - 1 : (i + 1) % count;
    g_assert(here < count && next < count); /* as above */
    double step = fmod(places[next].tdc_deg - places[here].tdc_deg + cycle, cycle);
    intervals_deg[i] = step == 0 && count == 1 ? cycle : step;
  }
}

double ew_throw_deg(struct ew_cylinder_place place) {
  double angle = fmod(place.bank_deg - place.tdc_deg, 360);
  angle = angle < 0 ? angle + 360 : angle;
  g_assert(!(angle < 0) && !(angle > 360));
  return angle;
}

static double greatest(const struct ew_cylinder_place *places, gsize count, double k,
                       gboolean moment) {
  double complex with = 0, against = 0;
  for (gsize i = 0; i < count; i++) {
    double arm = moment ? places[i].along_m : 1;
    with += arm * cexp(I * (places[i].bank_deg - k * places[i].tdc_deg) * RAD);
    against += arm * cexp(I * (places[i].bank_deg + k * places[i].tdc_deg) * RAD);
  }
  return (cabs(with) + cabs(against)) / 2;
}

struct ew_shaking ew_shaking_of(const struct ew_cylinder_place *places, gsize count) {
  return (struct ew_shaking){
      greatest(places, count, 1, FALSE),
      greatest(places, count, 2, FALSE),
      greatest(places, count, 1, TRUE),
      greatest(places, count, 2, TRUE),
  };
}

double ew_reciprocating_kg(const struct ew_engine_balance *b) {
  return b->piston_kg + b->pin_kg + b->rings_kg + b->locks_kg + b->rod_small_kg;
}

double ew_bobweight_kg(const struct ew_engine_balance *b) {
  return b->rods_a_pin * (b->rod_big_kg + b->bearing_kg) + b->oil_kg +
         b->reciprocating_share * b->rods_a_pin * ew_reciprocating_kg(b);
}
