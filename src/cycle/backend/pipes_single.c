/* Memory of the field in single precision, and geometry copied into it. See pipes_single.h. */
#include "cycle/backend/pipes_single.h"
#include <stdlib.h>
#include <string.h>

#define GUARD                                                                                      \
  32 /* elements before and after each array: a vector of two cells reads beyond the last */

static int arrays(struct ew_pipes_single *s, float **where[]) {
  float **all[] = {&s->area_m2,        &s->inverse_length,   &s->area_slope, &s->loss_per_m,
                   &s->inverse_volume, &s->inverse_diameter, &s->wall_m2,    &s->heat_factor};
  int n = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
    where[n++] = all[i];
  for (int k = 0; k < EW_PRIMITIVES; k++)
    where[n++] = &s->primitive[k];
  for (int k = 0; k < EW_FACE_STATE; k++) {
    where[n++] = &s->left[k];
    where[n++] = &s->right[k];
  }
  for (int k = 0; k < EW_CONSERVED; k++)
    where[n++] = &s->flux[k];
  return n;
}

struct ew_pipes_single *ew_pipes_single_new(const struct ew_pipes *p) {
  g_assert(p->stride == EW_LANES);
  struct ew_pipes_single *s = g_new0(struct ew_pipes_single, 1);
  float **where[64];
  int n = arrays(s, where);
  g_assert(n <= (int)G_N_ELEMENTS(where));
  gsize lines = (p->elements + 2 * GUARD + 15) / 16 | 1; /* odd, as ew_pipes_new pads */
  gsize bytes = lines * 64 * (gsize)n;
  s->block = aligned_alloc(64, bytes);
  memset(s->block, 0, bytes);
  for (int i = 0; i < n; i++)
    *where[i] = s->block + lines * 16 * (gsize)i + GUARD;
  s->stride = p->stride;
  s->first = p->first;
  s->count = p->count;
  return s;
}

void ew_pipes_single_free(struct ew_pipes_single *s) {
  if (!s)
    return;
  free(s->block);
  g_free(s);
}

static void take_gas(struct ew_pipes_single *s, const struct ew_lane_gas *gas, int lane) {
  for (int l = lane; l < EW_SINGLE_GAS; l += EW_LANES) {
    s->coldest[l] = (float)gas->coldest[lane];
    s->hottest[l] = (float)gas->hottest[lane];
    for (int k = 0; k < EW_GAS_PARTS; k++) {
      s->constant[k][l] = (float)gas->constant[k][lane];
      for (int i = 0; i < EW_GAS_TERMS; i++)
        s->energy[k][i][l] = (float)gas->energy[k][i][lane];
    }
  }
}

void ew_pipes_single_take(struct ew_pipes *p, int lane) {
  struct ew_pipes_single *s = p->single;
  const struct {
    float *to;
    const double *from;
  } rows[] = {{s->area_m2, p->area_m2},
              {s->inverse_length, p->inverse_length},
              {s->area_slope, p->area_slope},
              {s->loss_per_m, p->loss_per_m},
              {s->inverse_volume, p->inverse_volume},
              {s->inverse_diameter, p->inverse_diameter},
              {s->wall_m2, p->wall_m2},
              {s->heat_factor, p->heat_factor}};
  g_assert(lane >= 0 && lane < EW_LANES);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    for (gsize e = (gsize)lane; e < p->elements; e += EW_LANES)
      rows[i].to[e] = (float)rows[i].from[e];
  take_gas(s, p->gas, lane);
}
