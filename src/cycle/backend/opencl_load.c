/* What a lane's plan and speed decide, worked out at the host and sent to the device: geometry, gas, openings, cylinders. */
#include "cycle/backend/opencl_batch.h"
#include "cycle/backend/opencl_describe.h"
#include <string.h>

_Static_assert(EW_DEVICE_TABLE == EW_VALVE_TABLE, "opencl_shape.h says how long a table is");
_Static_assert(sizeof(struct ew_lane_gas) == sizeof(double[EW_GAS_ROWS][EW_LANES]),
               "rows of the gas");

static int tables_of(const struct ew_cycle_laid *laid, int valves) {
  int most = 0;
  for (int v = 0; v < valves; v++)
    most = MAX(most, laid->table[v] + 1);
  return MAX(most, 1);
}

static void set_cells(struct ew_cycle_work *w, struct ew_pipes *p, int l,
                      const struct ew_cycle_laid *laid) {
  const struct ew_plan_pipe *pipe = ew_plan_pipes(laid->plan);
  const double *const word_of[EW_FIXED_CELL_WORDS] = {[EW_FIXED_AREA] = p->area_m2,
                                                      [EW_FIXED_INVERSE_LENGTH] = p->inverse_length,
                                                      [EW_FIXED_AREA_SLOPE] = p->area_slope,
                                                      [EW_FIXED_LOSS] = p->loss_per_m,
                                                      [EW_FIXED_INVERSE_VOLUME] = p->inverse_volume,
                                                      [EW_FIXED_INVERSE_DIAMETER] =
                                                          p->inverse_diameter,
                                                      [EW_FIXED_WALL_M2] = p->wall_m2,
                                                      [EW_FIXED_HEAT_FACTOR] = p->heat_factor};
  for (int i = 0; i < laid->pipes; i++) {
    int first = laid->first[i];
    g_autofree double *factor = g_new(double, laid->count[i]);
    for (int c = 0; c < laid->count[i]; c++)
      factor[c] = laid->heat_factor[first + c] * laid->plan->pipe_heat;
    ew_pipes_shape(p, i, l, pipe[i].length_m, laid->face_diameter_m + first + i, pipe[i].bend_loss,
                   laid->wall_k + first, factor);
  }
  int cells = word(w->batch, EW_SHAPE_CELLS);
  for (int k = 0; k < EW_FIXED_CELL_WORDS; k++)
    for (int c = 0; c < p->cells; c++)
      w->fixed[k * cells + c][l] = word_of[k][(gsize)c * EW_LANES + (gsize)l];
}

static void set_rows(struct ew_cycle_work *w, struct ew_pipes *p, int l,
                     const struct ew_cycle_laid *laid) {
  const struct ew_cycle_plan *plan = laid->plan;
  const struct batch *b = w->batch;
  const struct ew_plan_pipe *pipe = ew_plan_pipes(plan);
  double(*row)[EW_LANES] = w->fixed + EW_FIXED_CELL_WORDS * word(b, EW_SHAPE_CELLS);
  const double lane[EW_FIXED_LANE_WORDS] = {plan->cfl, plan->injected_j_kg, laid->gas.fuel_share,
                                            plan->pipe_friction, w->gas[l]};
  for (int k = 0; k < EW_FIXED_LANE_WORDS; k++)
    (*row++)[l] = lane[k];
  ew_pipes_set_gas(p, l, &laid->gas);
  const double(*gas)[EW_LANES] = (const double(*)[EW_LANES])(const void *)p->gas;
  for (int k = 0; k < EW_GAS_ROWS; k++)
    (*row++)[l] = gas[k][l];
  for (int k = 0; k < EW_FIXED_CYLINDER_WORDS; k++)
    for (int i = 0; i < word(b, EW_SHAPE_CYLINDERS); i++) {
      const struct ew_plan_cylinder *c = &ew_plan_cylinders(plan)[i];
      (*row++)[l] = k == EW_FIXED_FIRING      ? c->shape.firing_deg
                    : k == EW_FIXED_SHUT_FROM ? c->shut_from_deg
                                              : c->shut_to_deg;
    }
  for (int v = 0; v < word(b, EW_SHAPE_VOLUMES); v++)
    (*row++)[l] = ew_plan_volumes(plan)[v].volume_m3;
  for (int v = 0; v < word(b, EW_SHAPE_VALVES); v++)
    (*row++)[l] = laid->table[v];
  for (int k = 0; k < EW_FIXED_END_WORDS; k++)
    for (int e = 0; e < word(b, EW_SHAPE_ENDS); e++) {
      enum ew_end_kind kind = (enum ew_end_kind)pipe[e / 2].end[e % 2].kind;
      gboolean mouth = kind == EW_END_ATMOSPHERE || kind == EW_END_VOLUME;
      (*row++)[l] = mouth ? pipe[e / 2].end[e % 2].opening : 0;
    }
}

static gboolean send(const struct batch *b, enum buffer buffer, gboolean wait, gsize at,
                     gsize bytes, const void *from) {
  return b->o->EnqueueWriteBuffer(b->queue, b->buffer[buffer], wait, at, bytes, from, 0, NULL,
                                  NULL) == 0;
}

/* Openings, cylinders and the gas go to the device at once: nobody else's lie beside them. The last is waited for, and the queue is in
 * order: then all have left. */
static gboolean send_lane(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                          double speed_rpm) {
  const struct batch *b = w->batch;
  gsize lane = (gsize)w->pack * EW_LANES + (gsize)l, one = sizeof(double[EW_VALVE_TABLE]);
  gsize most = (gsize)word(b, EW_SHAPE_TABLES);
  int tables = tables_of(laid, (int)most), cylinders = word(b, EW_SHAPE_CYLINDERS);
  gboolean good = TRUE;
  for (int t = 0; t < tables && most > 0; t++) {
    gsize at = (lane * most + (gsize)t) * 2 * one;
    good = good && send(b, TABLES, FALSE, at, one, laid->open_in[t]) &&
           send(b, TABLES, FALSE, at + one, one, laid->open_out[t]);
  }
  g_autofree struct ew_cylinder_frame *frame = g_new0(struct ew_cylinder_frame, cylinders);
  for (int i = 0; i < cylinders; i++)
    ew_cycle_frame_of(laid, i, speed_rpm, &frame[i]);
  gsize frames = (gsize)cylinders * sizeof *frame;
  return good && send(b, FRAMES, TRUE, lane * frames, frames, frame);
}

/* The lane's gas: one that is there already, or a new one. */
static gboolean send_gas(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid) {
  struct batch *b = w->batch;
  struct ew_working_gas gas;
  memcpy(&gas, &laid->gas, sizeof gas); /* whole, that it may be compared */
  gas.fuel.name = NULL;                 /* an address of this process */
  for (guint i = 0; i < b->gases->len; i++)
    if (memcmp(&g_array_index(b->gases, struct ew_working_gas, i), &gas, sizeof gas) == 0) {
      w->gas[l] = (int)i;
      return TRUE;
    }
  w->gas[l] = EW_DEVICE_GASES + w->pack * EW_LANES + l;
  if (b->gases->len < EW_DEVICE_GASES) {
    w->gas[l] = (int)b->gases->len;
    g_array_append_val(b->gases, gas);
  }
  return send(b, GASES, TRUE, (gsize)w->gas[l] * sizeof gas, sizeof gas, &gas);
}

void ew_opencl_load(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                    double speed_rpm) {
  g_assert(l >= 0 && l < EW_LANES && laid->pipes == word(w->batch, EW_SHAPE_PIPES));
  w->laid[l] = laid;
  w->speed_rpm[l] = speed_rpm;
  if (w->own) {
    w->processor->load(w->own, l, laid, speed_rpm);
    return;
  }
  struct batch *b = w->batch;
  g_mutex_lock(&b->loading);
  gboolean good = !b->gave_up && send_gas(w, l, laid);
  struct ew_pipes *spare =
      b->spare->len ? g_ptr_array_steal_index_fast(b->spare, b->spare->len - 1) : NULL;
  g_mutex_unlock(&b->loading);
  if (!spare)
    spare = ew_pipes_new(EW_LANES, laid->pipes, laid->count);
  good = good && send_lane(w, l, laid, speed_rpm);
  set_cells(w, spare, l, laid);
  set_rows(w, spare, l, laid);
  w->changed = TRUE;
  g_mutex_lock(&b->loading);
  b->gave_up |= !good;
  g_ptr_array_add(b->spare, spare);
  g_mutex_unlock(&b->loading);
}
