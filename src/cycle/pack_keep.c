/* A finished lane's state, to go on with: from coarse cells to finer ones of the same pipes. */
#include "cycle/pack_parts.h"
#include <string.h>

/* State per kilogram of each coarse cell, in order of pipes and cells. */
struct ew_kept {
  int *cells, pipes, cylinders, volumes, cycles, steps;
  double (*state)[7]; /* kg/m3, m/s, J/kg (total), burned, fuel, K, wall K */
  struct ew_volume_state *volume;
  struct ew_cylinder *cylinder, *shut;
  double *shut_deg, spark;
  struct ew_spark_answer sought;
};

struct ew_kept *ew_pack_keep(const struct ew_pack *pack, int l) {
  const struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  const struct ew_pipes *p = pack->pipes;
  struct ew_kept *k = g_new0(struct ew_kept, 1);
  k->pipes = m->pipes;
  k->cells = g_memdup2(lane->plan->cells, sizeof(int) * m->pipes);
  k->state = g_malloc0(sizeof *k->state * p->cells);
  int n = 0;
  for (int i = 0; i < m->pipes; i++)
    for (int c = 0; c < k->cells[i]; c++, n++) {
      gsize e = ew_pipes_element(p, i, c, l);
      double mass = p->conserved[EW_MASS][e];
      k->state[n][0] = mass / p->volume_m3[e];
      k->state[n][1] = p->conserved[EW_MOMENTUM][e] / mass;
      k->state[n][2] = p->conserved[EW_ENERGY][e] / mass;
      k->state[n][3] = p->conserved[EW_BURNED][e] / mass;
      k->state[n][4] = p->conserved[EW_FUEL][e] / mass;
      k->state[n][5] = p->primitive[EW_TEMPERATURE][e];
      k->state[n][6] = p->wall_k[e];
    }
  k->volume = g_memdup2(lane->volume, sizeof(struct ew_volume_state) * (m->volumes + 1));
  k->cylinder = g_memdup2(lane->cylinder, sizeof(struct ew_cylinder) * m->cylinders);
  k->shut = g_memdup2(lane->shut, sizeof(struct ew_cylinder) * m->cylinders);
  k->shut_deg = g_memdup2(lane->shut_deg, sizeof(double) * m->cylinders);
  k->spark = lane->spark;
  k->sought = lane->sought;
  k->cycles = lane->cycles;
  k->steps = lane->steps;
  return k;
}

void ew_kept_free(struct ew_kept *k) {
  if (!k)
    return;
  g_free(k->cells);
  g_free(k->state);
  g_free(k->volume);
  g_free(k->cylinder);
  g_free(k->shut);
  g_free(k->shut_deg);
  g_free(k);
}

/* Each fine cell takes the state of the coarse cell that holds its middle. */
static void refine_pipes(struct ew_pack *pack, int l, const struct ew_kept *k) {
  const struct ew_plan *plan = pack->lane[l].plan;
  struct ew_pipes *p = pack->pipes;
  int before = 0;
  for (int i = 0; i < k->pipes; before += k->cells[i++])
    for (int c = 0; c < plan->cells[i]; c++) {
      gsize e = ew_pipes_element(p, i, c, l);
      const double *s = k->state[before + (int)((c + 0.5) * k->cells[i] / plan->cells[i])];
      double mass = s[0] * p->volume_m3[e];
      p->conserved[EW_MASS][e] = mass;
      p->conserved[EW_MOMENTUM][e] = mass * s[1];
      p->conserved[EW_ENERGY][e] = mass * s[2];
      p->conserved[EW_BURNED][e] = mass * s[3];
      p->conserved[EW_FUEL][e] = mass * s[4];
      p->primitive[EW_TEMPERATURE][e] = s[5];
      if (isnan(plan->wall_k[i][c]))
        p->wall_k[e] = s[6];
    }
}

void ew_pack_resume(struct ew_pack *pack, int l, const struct ew_kept *k) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  refine_pipes(pack, l, k);
  memcpy(lane->volume, k->volume, sizeof(struct ew_volume_state) * m->volumes);
  memcpy(lane->cylinder, k->cylinder, sizeof(struct ew_cylinder) * m->cylinders);
  memcpy(lane->shut, k->shut, sizeof(struct ew_cylinder) * m->cylinders);
  memcpy(lane->shut_deg, k->shut_deg, sizeof(double) * m->cylinders);
  lane->spark = k->spark;
  lane->sought = k->sought;
  lane->resumed = TRUE;
  lane->cycles_before = k->cycles;
  lane->steps_before = k->steps;
}
