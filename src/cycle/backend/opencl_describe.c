/* A shape as the device reads it: numbers, rows of the state, lists of cells, faces, ends, valves and junctions. See opencl_shape.h. */
#include "cycle/backend/opencl_describe.h"

static void append(GArray *list, int value) {
  int32_t v = value;
  g_array_append_val(list, v);
}

static void begin_list(GArray *words, enum ew_shape_word at) {
  g_array_index(words, int32_t, at) = (int32_t)words->len;
}

static int node_of(const struct ew_cycle_plan *plan, int pipe, int side) {
  const struct ew_plan_pipe *p = &ew_plan_pipes(plan)[pipe];
  int index = (int)p->end[side].index;
  switch ((enum ew_end_kind)p->end[side].kind) {
  case EW_END_VOLUME: return EW_NODE_FIRST + index;
  case EW_END_VALVE:
    return EW_NODE_FIRST + ew_plan_count(plan, EW_PLAN_VOLUMES) +
           (int)ew_plan_valves(plan)[index].cylinder;
  case EW_END_JUNCTION: return -1;
  case EW_END_CLOSED:
  case EW_END_ATMOSPHERE: break;
  }
  return p->exhaust ? EW_NODE_AIR : EW_NODE_CHARGE;
}

static void list_cells(GArray *words, const struct ew_cycle_laid *laid,
                       const struct ew_cycle_state *state) {
  begin_list(words, EW_SHAPE_AT_FIRST);
  for (int i = 0; i < laid->pipes; i++)
    append(words, state->first[i]);
  begin_list(words, EW_SHAPE_AT_COUNT);
  for (int i = 0; i < laid->pipes; i++)
    append(words, laid->count[i]);
  begin_list(words, EW_SHAPE_AT_REAL);
  for (int i = 0; i < laid->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++)
      append(words, state->first[i] + c);
  begin_list(words, EW_SHAPE_AT_INNER);
  for (int i = 0; i < laid->pipes; i++)
    for (int c = 1; c < laid->count[i]; c++)
      append(words, state->first[i] + c);
}

static void list_ends(GArray *words, const struct ew_cycle_plan *plan, int pipes) {
  const struct ew_plan_pipe *pipe = ew_plan_pipes(plan);
  int junctions = (int)plan->junctions, valves = ew_plan_count(plan, EW_PLAN_VALVES);
  begin_list(words, EW_SHAPE_AT_NODE);
  for (int e = 0; e < 2 * pipes; e++)
    append(words, node_of(plan, e / 2, e % 2));
  begin_list(words, EW_SHAPE_AT_VALVE);
  int at = (int)words->len;
  for (int v = 0; v < valves; v++) {
    append(words, -1);
    append(words, (int)ew_plan_valves(plan)[v].cylinder);
    append(words, ew_plan_valves(plan)[v].exhaust != 0);
  }
  for (int e = 0; e < 2 * pipes; e++)
    if (pipe[e / 2].end[e % 2].kind == EW_END_VALVE)
      g_array_index(words, int32_t, at + 3 * (int)pipe[e / 2].end[e % 2].index) = e;
  g_autoptr(GArray) members = g_array_new(FALSE, FALSE, sizeof(int32_t));
  begin_list(words, EW_SHAPE_AT_JUNCTION);
  for (int j = 0; j < junctions; j++) {
    int first = (int)members->len;
    for (int e = 0; e < 2 * pipes; e++)
      if (pipe[e / 2].end[e % 2].kind == EW_END_JUNCTION && pipe[e / 2].end[e % 2].index == j)
        append(members, e);
    append(words, first);
    append(words, (int)members->len - first);
  }
  begin_list(words, EW_SHAPE_AT_MEMBERS);
  g_array_append_vals(words, members->data, members->len);
}

int32_t *ew_opencl_describe(const struct ew_cycle_laid *laid, gsize *count) {
  const struct ew_cycle_plan *plan = laid->plan;
  struct ew_cycle_state *state = ew_cycle_state_new(laid);
  GArray *words = g_array_new(FALSE, TRUE, sizeof(int32_t));
  g_array_set_size(words, EW_SHAPE_WORDS);
  list_cells(words, laid, state);
  list_ends(words, plan, laid->pipes);
  int32_t *w = (int32_t *)(void *)words->data;
  int cells = state->parts[EW_STATE_CELLS], ends = 2 * laid->pipes;
  int valves = ew_plan_count(plan, EW_PLAN_VALVES);
  w[EW_SHAPE_CELLS] = cells;
  w[EW_SHAPE_PIPES] = laid->pipes;
  w[EW_SHAPE_ENDS] = ends;
  w[EW_SHAPE_VOLUMES] = state->volumes;
  w[EW_SHAPE_CYLINDERS] = state->cylinders;
  w[EW_SHAPE_VALVES] = valves;
  w[EW_SHAPE_JUNCTIONS] = (int32_t)plan->junctions;
  w[EW_SHAPE_REAL] = laid->cells;
  w[EW_SHAPE_INNER] = laid->cells - laid->pipes;
  w[EW_SHAPE_PORTS] = plan->delivery == EW_FUEL_PORT;
  w[EW_SHAPE_TABLES] = valves; /* any lane may have as many */
  w[EW_SHAPE_STATE_ROWS] = (int32_t)state->rows;
  w[EW_SHAPE_FIXED_ROWS] = EW_FIXED_CELL_WORDS * cells + EW_FIXED_LANE_WORDS + EW_GAS_ROWS +
                           EW_FIXED_CYLINDER_WORDS * state->cylinders + state->volumes + valves +
                           EW_FIXED_END_WORDS * ends;
  w[EW_SHAPE_FIELD_ROWS] =
      EW_FIELD_CELL_WORDS * cells + laid->pipes + EW_FIELD_TAKEN * ends + EW_FIELD_LAST;
  for (int g = 0; g < EW_STATE_GROUPS; g++) {
    w[EW_SHAPE_ROW + g] = (int32_t)state->row[g];
    w[EW_SHAPE_PITCH + g] = (int32_t)state->pitch[g];
  }
  ew_cycle_state_free(state);
  *count = words->len;
  return (int32_t *)(void *)g_array_free(words, FALSE);
}
