/* Between the state and the working memory of the processor's backend. The kernels read and write the
 * state's rows of cells where they are; the rest, a small part, is copied. */
#include "cycle/backend/cpu.h"
#include <string.h>

/* Rows of CELLS lie as the arrays of struct ew_pipes do: element = cell * EW_LANES + lane. Only while a
 * call of step lasts: the state is its caller's. */
static void bind(struct ew_cycle_work *w, const struct ew_cycle_state *s) {
  struct ew_pipes *p = w->pipes;
  g_assert(s->parts[EW_STATE_CELLS] == p->cells + 1 && s->pipes == p->pipes);
  w->unbound = *p;
  for (int k = 0; k < EW_CONSERVED; k++)
    p->conserved[k] = ew_state_at(s, EW_STATE_CELLS, k, 0);
  p->primitive[EW_TEMPERATURE] = ew_state_at(s, EW_STATE_CELLS, EW_CELL_TEMPERATURE, 0);
  p->wall_k = ew_state_at(s, EW_STATE_CELLS, EW_CELL_WALL, 0);
  p->heat_j = ew_state_at(s, EW_STATE_CELLS, EW_CELL_HEAT, 0);
  p->conductance = ew_state_at(s, EW_STATE_CELLS, EW_CELL_CONDUCTANCE, 0);
  p->conductance_k = ew_state_at(s, EW_STATE_CELLS, EW_CELL_CONDUCTANCE_K, 0);
}

/* In: all lanes, so that those at rest compute with sound figures. Back: those that ran. */
static void copy(const struct ew_cycle_work *w, double *row, double *mine, gboolean in) {
  if (in)
    memcpy(mine, row, sizeof(double[EW_LANES]));
  else
    for (int l = 0; l < EW_LANES; l++)
      row[l] = w->lane[l].running ? mine[l] : row[l];
}

/* A step by 0 may turn -0 to 0 and move a temperature by its last bit: a lane at rest gets its cells back. */
static void keep_aside(struct ew_cycle_work *w, struct ew_cycle_state *s, int l, gboolean in) {
  struct ew_cpu_lane *lane = &w->lane[l];
  gsize from = s->row[EW_STATE_CELLS], rows = s->pitch[EW_STATE_CELLS] * EW_CELL_WORDS;
  rows -= 2 * EW_STATE_GUARD;
  if (!lane->aside)
    lane->aside = g_new(double, rows);
  for (gsize i = 0; i < rows; i++)
    if (in)
      lane->aside[i] = s->value[from + i][l];
    else
      s->value[from + i][l] = lane->aside[i];
}

static void exchange_rows(struct ew_cycle_work *w, struct ew_cycle_state *s, gboolean in) {
  for (int e = 0; e < w->ends; e++) {
    double *mine[EW_ENDS_WORDS] = {w->end[e].memory, w->end[e].flow_kg_s, w->end[e].enthalpy_w,
                                   w->end[e].pressure_pa};
    for (int word = 0; word < EW_ENDS_WORDS; word++)
      copy(w, ew_state_at(s, EW_STATE_ENDS, word, e), mine[word], in);
  }
  for (int n = 0; n < w->nodes; n++) {
    struct ew_end_node *node = &w->node[n];
    double *mine[EW_NODES_GAINED] = {node->pressure_pa, node->temperature_k, node->gas_constant,
                                     node->gamma,       node->enthalpy_j_kg, node->burned,
                                     node->fuel};
    for (int word = 0; word < EW_NODES_WORDS; word++)
      copy(w, ew_state_at(s, EW_STATE_NODES, word, n),
           word < EW_NODES_GAINED ? mine[word] : node->gained[word - EW_NODES_GAINED], in);
  }
  for (int j = 0; j < w->junctions; j++)
    copy(w, ew_state_at(s, EW_STATE_JUNCTIONS, 0, j), w->junction_pa[j], in);
}

static void exchange_volumes(struct ew_cycle_work *w, struct ew_cycle_state *s, int l,
                             gboolean in) {
  for (int v = 0; v < w->volumes; v++) {
    struct ew_volume_state *volume = &w->lane[l].volume[v];
    double *mine[EW_VOLUMES_WORDS] = {&volume->mass, &volume->energy, &volume->burned,
                                      &volume->fuel, &volume->temperature};
    for (int word = 0; word < EW_VOLUMES_WORDS; word++) {
      double *row = ew_state_at(s, EW_STATE_VOLUMES, word, v);
      if (in)
        *mine[word] = row[l];
      else
        row[l] = *mine[word];
    }
  }
}

static void exchange_run(struct ew_cpu_lane *lane, struct ew_cycle_state *s, int l, gboolean in) {
  static const enum ew_state_run word[] = {EW_RUN_ANGLE_DEG, EW_RUN_STEPS,    EW_RUN_STEPS_HERE,
                                           EW_RUN_OUT_KG,    EW_RUN_OUT_KG_K, EW_RUN_INJECTED_KG,
                                           EW_RUN_INJECTED_J};
  double *mine[] = {&lane->angle,    &lane->steps,       &lane->steps_here, &lane->out_kg,
                    &lane->out_kg_k, &lane->injected_kg, &lane->injected_j};
  for (gsize i = 0; i < G_N_ELEMENTS(word); i++) {
    double *row = ew_state_run(s, word[i]);
    if (in)
      *mine[i] = row[l];
    else
      row[l] = *mine[i];
  }
}

void ew_cpu_take_in(struct ew_cycle_work *w, struct ew_cycle_state *s) {
  bind(w, s);
  exchange_rows(w, s, TRUE);
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_cpu_lane *lane = &w->lane[l];
    lane->running = ew_state_run(s, EW_RUN_RUNNING)[l] != 0 && !ew_cycle_ended(s, l);
    if (!lane->running) {
      keep_aside(w, s, l, TRUE);
      continue;
    }
    g_assert(lane->laid && lane->speed_rpm == ew_state_run(s, EW_RUN_SPEED_RPM)[l]);
    lane->spark = ew_state_run(s, EW_RUN_SPARK_DEG)[l];
    exchange_run(lane, s, l, TRUE);
    exchange_volumes(w, s, l, TRUE);
    for (int i = 0; i < w->cylinders; i++) {
      ew_state_get_cylinder(s, EW_STATE_CYLINDERS, l, i, &lane->cylinder[i]);
      ew_state_get_cylinder(s, EW_STATE_SHUT, l, i, &lane->shut[i]);
      lane->shut_deg[i] = ew_state_at(s, EW_STATE_CLOSED, EW_CLOSED_DEG, i)[l];
    }
  }
}

void ew_cpu_put_back(struct ew_cycle_work *w, struct ew_cycle_state *s) {
  *w->pipes = w->unbound;
  exchange_rows(w, s, FALSE);
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_cpu_lane *lane = &w->lane[l];
    if (!lane->running) {
      keep_aside(w, s, l, FALSE);
      continue;
    }
    exchange_run(lane, s, l, FALSE);
    exchange_volumes(w, s, l, FALSE);
    for (int i = 0; i < w->cylinders; i++) {
      ew_state_put_cylinder(s, EW_STATE_CYLINDERS, l, i, &lane->cylinder[i]);
      ew_state_put_cylinder(s, EW_STATE_SHUT, l, i, &lane->shut[i]);
      ew_state_at(s, EW_STATE_CLOSED, EW_CLOSED_DEG, i)[l] = lane->shut_deg[i];
    }
  }
}
