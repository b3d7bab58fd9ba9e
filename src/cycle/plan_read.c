/* Plans as bytes: written, and read with every doubt.
 *
 * Reading believes nothing: 1. magic, layout, physics and the digest; 2. counts within what an engine can
 * have, and sizes that follow from them; 3. every index and key within its range; 4. the engine of the
 * plan is planned again, and has to give the same bytes: so charge, gas, shut intervals and tables cannot
 * contradict the engine, and what ew_cycle_model_check refuses is refused here too. */
#include "base/error.h"
#include "cycle/plan_parts.h"
#include <string.h>

#define PARTS_MOST  2000
#define TABLES_MOST 1000000
#define LAYOUT_SAYS "this is not a plan of this program"

static void to_little(void *words, gsize bytes) {
#if G_BYTE_ORDER == G_BIG_ENDIAN
  guint64 *w = words;
  for (gsize i = 0; i < bytes / 8; i++)
    w[i] = GUINT64_TO_LE(w[i]);
#else
  (void)words;
  (void)bytes;
#endif
}

/* All words but magic, digest and text. */
static void swap_words(struct ew_cycle_plan *plan, gsize bytes, gsize text_bytes) {
  to_little(&plan->bytes, 2 * sizeof(int64_t));
  if (bytes > text_bytes + EW_PLAN_SEALED_FROM)
    to_little((char *)plan + EW_PLAN_SEALED_FROM, bytes - text_bytes - EW_PLAN_SEALED_FROM);
}

GBytes *ew_cycle_plan_write(const struct ew_cycle_plan *plan) {
  struct ew_cycle_plan *out = g_memdup2(plan, (gsize)plan->bytes);
  swap_words(out, (gsize)plan->bytes, (gsize)plan->text_bytes);
  return g_bytes_new_take(out, (gsize)plan->bytes);
}

/* ---- 1. and 2. ---- */

static gboolean check_sizes(const struct ew_cycle_plan *p, gsize count, GError **error) {
  if (p->bytes != (int64_t)count || p->text_bytes < 8 || p->text_bytes % 8 ||
      p->text_bytes > (int64_t)(count - sizeof *p))
    return ew_refuse(error, "the plan says it has %" G_GINT64_FORMAT " bytes and there are %zu",
                     (gint64)p->bytes, count);
  return TRUE;
}

static gboolean check_counts(const struct ew_cycle_plan *p, GError **error) {
  gsize bytes = sizeof *p + (gsize)p->text_bytes;
  for (int s = 0; s < EW_PLAN_TEXT; s++) {
    int64_t most = s < EW_PLAN_STATIONS ? PARTS_MOST : TABLES_MOST;
    if (p->count[s] < 0 || p->count[s] > most)
      return ew_refuse(error,
                       "section %d of the plan has %" G_GINT64_FORMAT " entries; most are %d", s,
                       (gint64)p->count[s], (int)most);
    bytes += ew_plan_section_bytes(p, s);
  }
  if (bytes != (gsize)p->bytes)
    return ew_refuse(error, "the plan's sections come to %zu bytes and it has %" G_GINT64_FORMAT,
                     bytes, (gint64)p->bytes);
  int64_t at[EW_PLAN_SECTIONS];
  ew_plan_offsets(p, at);
  if (memcmp(at, p->at, sizeof at) != 0)
    return ew_refuse(error, "the plan's sections are not where its counts put them");
  if (p->junctions < 0 || p->junctions > PARTS_MOST)
    return ew_refuse(error, "the plan has %" G_GINT64_FORMAT " junctions; most are %d",
                     (gint64)p->junctions, PARTS_MOST);
  return TRUE;
}

/* ---- 3. ---- */

static gboolean within(int64_t value, int64_t low, int64_t high, const char *what, int part,
                       GError **error) {
  return (value >= low && value <= high) ||
         ew_refuse(error, "plan, %s of part %d is %" G_GINT64_FORMAT "; it must be %d to %d", what,
                   part + 1, (gint64)value, (int)low, (int)high);
}

static gboolean check_span(int64_t first, int64_t count, int64_t all, const char *what, int part,
                           GError **error) {
  return within(count, 1, all, what, part, error) &&
         within(first, 0, all - count, what, part, error);
}

static gboolean check_pipes(const struct ew_cycle_plan *p, GError **error) {
  for (int i = 0; i < p->count[EW_PLAN_PIPES]; i++) {
    const struct ew_plan_pipe *pipe = &ew_plan_pipes(p)[i];
    if (!within(pipe->exhaust, 0, 1, "side", i, error) ||
        !check_span(pipe->first_station, pipe->stations, p->count[EW_PLAN_STATIONS], "stations", i,
                    error))
      return FALSE;
    for (int g = 0; g < EW_PLAN_GRIDS; g++)
      if (!within(pipe->cells[g], g < p->grids ? 3 : 0, g < p->grids ? EW_PLAN_CELLS_MOST : 0,
                  "cells", i, error))
        return FALSE;
    for (int side = 0; side < 2; side++)
      if (!within(pipe->end[side].kind, EW_END_CLOSED, EW_END_VALVE, "kind of end", i, error) ||
          !within(pipe->end[side].index, 0, PARTS_MOST, "end", i, error))
        return FALSE;
  }
  return TRUE;
}

static gboolean check_parts(const struct ew_cycle_plan *p, GError **error) {
  for (int i = 0; i < p->count[EW_PLAN_VOLUMES]; i++)
    if (!within(ew_plan_volumes(p)[i].exhaust, 0, 1, "side", i, error))
      return FALSE;
  for (int v = 0; v < p->count[EW_PLAN_VALVES]; v++) {
    const struct ew_plan_valve *valve = &ew_plan_valves(p)[v];
    if (!within(valve->cylinder, 0, p->count[EW_PLAN_CYLINDERS] - 1, "cylinder", v, error) ||
        !within(valve->exhaust, 0, 1, "side", v, error) ||
        !within(valve->count, 1, 8, "valves", v, error) ||
        !check_span(valve->first_lift, valve->lifts, p->count[EW_PLAN_LIFTS], "lifts", v, error) ||
        !check_span(valve->first_flow, valve->flows, p->count[EW_PLAN_FLOWS], "flows", v, error))
      return FALSE;
  }
  return check_pipes(p, error);
}

static gboolean check_keys(const struct ew_cycle_plan *p, GError **error) {
  return within(p->grids, 1, EW_PLAN_GRIDS, "grids", 0, error) &&
         within(p->delivery, EW_FUEL_MIXED, EW_FUEL_PORT, "delivery", 0, error) &&
         within(p->spark, EW_SPARK_BEST, EW_SPARK_GIVEN, "spark", 0, error) &&
         within(p->most_cycles, 0, G_MAXINT, "cycles", 0, error);
}

static gboolean check_text(const struct ew_cycle_plan *p, GError **error) {
  const char *text = ew_cycle_plan_section(p, EW_PLAN_TEXT);
  int64_t names = 1, at = 0;
  for (int s = EW_PLAN_PIPES; s <= EW_PLAN_VALVES; s++)
    names += p->count[s];
  for (; names > 0 && at < p->text_bytes; names--) {
    gsize most = (gsize)(p->text_bytes - at), length = strnlen(text + at, most);
    if (length == most || !g_utf8_validate(text + at, (gssize)length, NULL))
      break;
    at += (int64_t)length + 1;
  }
  gboolean good = names == 0 && p->text_bytes - at < 8;
  for (; good && at < p->text_bytes; at++)
    good = text[at] == 0;
  return good || ew_refuse(error, "the names in the plan are not one for each of its parts");
}

/* ---- 4. ---- */

void ew_cycle_plan_view(const struct ew_cycle_plan *p, struct ew_cycle_view *view) {
  view->memory = g_ptr_array_new_with_free_func(g_free);
  struct ew_cycle_model *m = &view->model;
  struct ew_working_gas gas;
  ew_cycle_plan_gas(p, &gas);
  view->fuel = gas.fuel;
  view->fuel.name = ew_cycle_plan_section(p, EW_PLAN_TEXT);
  *m = (struct ew_cycle_model){.cylinders = ew_plan_count(p, EW_PLAN_CYLINDERS),
                               .pipes = ew_plan_count(p, EW_PLAN_PIPES),
                               .volumes = ew_plan_count(p, EW_PLAN_VOLUMES),
                               .junctions = (int)p->junctions,
                               .valves = ew_plan_count(p, EW_PLAN_VALVES),
                               .fuel = &view->fuel,
                               .delivery = (enum ew_fuel_delivery)p->delivery,
                               .equivalence = p->equivalence,
                               .evaporated_from_gas = p->evaporated_from_gas,
                               .evaporated_per_k = p->evaporated_per_k,
                               .inlet_wall_k = p->inlet_wall_k,
                               .ambient_pa = p->ambient_pa,
                               .ambient_k = p->ambient_k,
                               .vapour_pa = p->vapour_pa,
                               .exhaust_back_pa = p->exhaust_back_pa,
                               .flow_factor = p->flow_factor,
                               .woschni_factor = p->woschni_factor,
                               .pipe_friction = p->pipe_friction,
                               .pipe_heat = p->pipe_heat,
                               .combustion = p->combustion,
                               .friction = p->friction};
  struct ew_cycle_cylinder *cylinder = g_new(struct ew_cycle_cylinder, MAX(m->cylinders, 1));
  struct ew_cycle_pipe *pipe = g_new(struct ew_cycle_pipe, MAX(m->pipes, 1));
  struct ew_cycle_volume *volume = g_new(struct ew_cycle_volume, MAX(m->volumes, 1));
  struct ew_cycle_valve *valve = g_new(struct ew_cycle_valve, MAX(m->valves, 1));
  void *mine[] = {cylinder, pipe, volume, valve};
  for (gsize i = 0; i < G_N_ELEMENTS(mine); i++)
    g_ptr_array_add(view->memory, mine[i]);
  ew_plan_view_parts(p, cylinder, pipe, volume, valve);
  m->cylinder = cylinder;
  m->pipe = pipe;
  m->volume = volume;
  m->valve = valve;
}

void ew_plan_view_parts(const struct ew_cycle_plan *p, struct ew_cycle_cylinder *cylinder,
                        struct ew_cycle_pipe *pipe, struct ew_cycle_volume *volume,
                        struct ew_cycle_valve *valve) {
  const char *name = ew_cycle_plan_section(p, EW_PLAN_TEXT);
  const struct ew_cycle_station *station = ew_cycle_plan_section(p, EW_PLAN_STATIONS);
  const double *lift = ew_cycle_plan_section(p, EW_PLAN_LIFTS);
  const struct ew_cycle_flow *flow = ew_cycle_plan_section(p, EW_PLAN_FLOWS);
  for (int i = 0; i < p->count[EW_PLAN_CYLINDERS]; i++)
    cylinder[i] = ew_plan_cylinders(p)[i].shape;
  for (int i = 0; i < p->count[EW_PLAN_PIPES]; i++) {
    const struct ew_plan_pipe *from = &ew_plan_pipes(p)[i];
    name += strlen(name) + 1;
    pipe[i] = (struct ew_cycle_pipe){.name = name,
                                     .length_m = from->length_m,
                                     .stations = (int)from->stations,
                                     .station = station + from->first_station,
                                     .bend_loss = from->bend_loss,
                                     .exhaust = from->exhaust != 0};
    for (int side = 0; side < 2; side++)
      pipe[i].end[side] =
          (struct ew_cycle_end){(enum ew_end_kind)from->end[side].kind, (int)from->end[side].index,
                                from->end[side].opening};
  }
  for (int v = 0; v < p->count[EW_PLAN_VOLUMES]; v++) {
    name += strlen(name) + 1;
    volume[v] = (struct ew_cycle_volume){name, ew_plan_volumes(p)[v].volume_m3,
                                         ew_plan_volumes(p)[v].exhaust != 0};
  }
  for (int v = 0; v < p->count[EW_PLAN_VALVES]; v++) {
    const struct ew_plan_valve *from = &ew_plan_valves(p)[v];
    name += strlen(name) + 1;
    valve[v] = (struct ew_cycle_valve){name,
                                       (int)from->cylinder,
                                       from->exhaust != 0,
                                       (int)from->count,
                                       from->head_m,
                                       from->first_deg,
                                       from->step_deg,
                                       (int)from->lifts,
                                       lift + from->first_lift,
                                       (int)from->flows,
                                       flow + from->first_flow};
  }
}

void ew_cycle_view_clear(struct ew_cycle_view *view) {
  g_clear_pointer(&view->memory, g_ptr_array_unref);
}

static gboolean check_again(const struct ew_cycle_plan *p, GError **error) {
  struct ew_cycle_view view;
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cell_m = p->cell_m;
  options.cfl = p->cfl;
  options.tolerance = p->tolerance;
  options.most_cycles = (int)p->most_cycles;
  options.spark = (enum ew_cycle_spark)p->spark;
  ew_cycle_plan_view(p, &view);
  const struct ew_combustible *fuel = ew_combustible_find(view.fuel.name);
  struct ew_cycle_plan *again = NULL;
  gboolean good = fuel || ew_refuse(error, "the plan's fuel '%s' is not known; known are %s",
                                    view.fuel.name, ew_combustible_names());
  if (good) {
    view.model.fuel = fuel;
    again = ew_plan_make(&view.model, &options, p, NULL, error);
    good = again && ((again->bytes == p->bytes && memcmp(again, p, (gsize)p->bytes) == 0) ||
                     ew_refuse(error, "the plan does not match its own engine: it was altered, or "
                                      "made by another version of this program"));
  }
  ew_cycle_plan_free(again);
  ew_cycle_view_clear(&view);
  return good;
}

static gboolean check_all(const struct ew_cycle_plan *p, gsize count, GError **error) {
  uint8_t digest[32];
  if (!check_sizes(p, count, error))
    return FALSE;
  if (p->layout != EW_PLAN_LAYOUT || p->physics != EW_CYCLE_PHYSICS)
    return ew_refuse(error,
                     "the plan has layout %" G_GINT64_FORMAT " and physics %" G_GINT64_FORMAT
                     "; this program has %d and %d: plan the engine again",
                     (gint64)p->layout, (gint64)p->physics, EW_PLAN_LAYOUT, EW_CYCLE_PHYSICS);
  ew_plan_digest_of(p, digest);
  if (memcmp(digest, p->digest, sizeof digest) != 0)
    return ew_refuse(error, "the plan is damaged: its digest does not match");
  return check_counts(p, error) && check_keys(p, error) && check_parts(p, error) &&
         check_text(p, error) && check_again(p, error);
}

struct ew_cycle_plan *ew_cycle_plan_read(const void *bytes, gsize count, GError **error) {
  gint64 text_bytes = 0;
  if (count < sizeof(struct ew_cycle_plan) || count > EW_PLAN_BYTES_MOST || count % 8 ||
      memcmp(bytes, EW_PLAN_MAGIC, 8) != 0) {
    ew_refuse(error, LAYOUT_SAYS " (%zu bytes)", count);
    return NULL;
  }
  struct ew_cycle_plan *plan = g_memdup2(bytes, count);
  memcpy(&text_bytes, &plan->text_bytes, sizeof text_bytes);
  text_bytes = GINT64_FROM_LE(text_bytes);
  swap_words(plan, count, text_bytes < 0 || text_bytes > (gint64)count ? 0 : (gsize)text_bytes);
  if (check_all(plan, count, error))
    return plan;
  ew_cycle_plan_free(plan);
  return NULL;
}
