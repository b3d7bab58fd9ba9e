/* The field of pipes: memory, geometry, ghosts, and plain ends for tests. See pipes.h. */
#include "base/elementary.h"
#include "cycle/pipes.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define GUARD 16 /* elements before and after every array, so that neighbours may be read */

/* An odd number of cache lines: arrays a multiple of 4 KiB apart would share the sets of the cache, and a step reads a score of them at once. */
static gsize padded(gsize n) {
  return (((n + 7) / 8 + 2 * GUARD / 8) | 1) * 8;
}

/* Every array of the field, so that allocation is one loop. */
static int arrays(struct ew_pipes *p, double **where[]) {
  double **all[] = {&p->area_m2,       &p->volume_m3,      &p->length_m,        &p->inverse_length,
                    &p->area_slope,    &p->diameter_m,     &p->loss_per_m,      &p->wall_m2,
                    &p->wall_k,        &p->heat_factor,    &p->heat_j,          &p->conductance,
                    &p->conductance_k, &p->inverse_volume, &p->inverse_diameter};
  int n = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
    where[n++] = all[i];
  for (int k = 0; k < EW_CONSERVED; k++)
    where[n++] = &p->conserved[k];
  for (int k = 0; k < EW_CONSERVED; k++)
    where[n++] = &p->flux[k];
  for (int k = 0; k < EW_PRIMITIVES; k++)
    where[n++] = &p->primitive[k];
  for (int k = 0; k < EW_FACE_STATE; k++)
    where[n++] = &p->left[k];
  for (int k = 0; k < EW_FACE_STATE; k++)
    where[n++] = &p->right[k];
  return n;
}

static void fill(double *array, gsize n, double value) {
  for (gsize i = 0; i < n; i++)
    array[i] = value;
}

struct ew_pipes *ew_pipes_new(int stride, int pipes, const int *count) {
  g_assert(stride == 1 || stride == EW_LANES);
  struct ew_pipes *p = g_new0(struct ew_pipes, 1);
  p->stride = stride;
  p->lanes = EW_LANES;
  p->pipes = pipes;
  p->first = g_new(int, pipes);
  p->count = g_new(int, pipes);
  for (int i = 0; i < pipes; i++) {
    g_assert(count[i] >= 2);
    p->first[i] = p->cells + 1;
    p->count[i] = count[i];
    p->cells += count[i] + 2;
  }
  p->elements = (gsize)(p->cells + 1) * stride;
  double **where[64];
  int n = arrays(p, where);
  gsize each = padded(p->elements), all = each * (n + 1) * sizeof(double);
  p->block = aligned_alloc(64, all);
  memset(p->block, 0, all);
  for (int i = 0; i < n; i++)
    *where[i] = p->block + each * i + GUARD;
  p->live = (int64_t *)(p->block + each * n + GUARD);
  p->gas = aligned_alloc(64, sizeof *p->gas);
  memset(p->gas, 0, sizeof *p->gas);
  gsize rest = (p->elements + 7) / 8 * 8;
  fill(p->volume_m3, rest, 1);
  fill(p->length_m, rest, 1);
  fill(p->diameter_m, rest, 1);
  fill(p->inverse_volume, rest, 1);
  fill(p->inverse_diameter, rest, 1);
  fill(p->wall_k, rest, 300);
  fill(p->conserved[EW_MASS], rest, 1);
  fill(p->conserved[EW_ENERGY], rest, 2e5);
  fill(p->primitive[EW_TEMPERATURE], rest, 300);
  return p;
}

void ew_pipes_free(struct ew_pipes *p) {
  if (!p)
    return;
  free(p->block);
  free(p->gas);
  g_free(p->first);
  g_free(p->count);
  g_free(p);
}

void ew_pipes_set_gas(struct ew_pipes *p, int lane, const struct ew_working_gas *gas) {
  static const enum ew_gas_part order[] = {EW_GAS_AIR, EW_GAS_BURNED, EW_GAS_FUEL};
  for (int l = 0; l < EW_LANES; l++) {
    if (p->stride != 1 && l != lane)
      continue;
    p->gas->coldest[l] = gas->coldest_k / 1000;
    p->gas->hottest[l] = gas->hottest_k / 1000;
    for (int k = 0; k < EW_GAS_PARTS; k++) {
      p->gas->constant[k][l] =
          gas->gas_constant_j_kg_k[order[k]] - (k ? gas->gas_constant_j_kg_k[EW_GAS_AIR] : 0);
      for (int i = 0; i < EW_GAS_TERMS; i++)
        p->gas->energy[k][i][l] =
            gas->energy_j_kg[order[k]][i] - (k ? gas->energy_j_kg[EW_GAS_AIR][i] : 0);
    }
  }
}

gsize ew_pipes_element(const struct ew_pipes *p, int pipe, int cell, int lane) {
  return (gsize)(p->first[pipe] + cell) * p->stride + lane;
}

static double circle(double diameter) {
  return G_PI / 4 * diameter * diameter;
}

struct ew_frustum ew_frustum_of(double left_diameter_m, double right_diameter_m, double dx) {
  double a = circle(left_diameter_m), b = circle(right_diameter_m);
  struct ew_frustum f = {.mean_m2 = (a + b + sqrt(a * b)) / 3};
  f.volume_m3 = f.mean_m2 * dx;
  f.diameter_m = sqrt(4 * f.mean_m2 / G_PI);
  f.wall_m2 = G_PI * f.diameter_m * dx;
  return f;
}

void ew_pipes_shape(struct ew_pipes *p, int pipe, int lane, double length_m,
                    const double *face_diameter_m, double bend_loss, const double *wall_k,
                    const double *heat_factor) {
  int n = p->count[pipe];
  double dx = length_m / n;
  for (int i = 0; i <= n; i++)
    p->area_m2[ew_pipes_element(p, pipe, i, lane)] = circle(face_diameter_m[i]);
  for (int i = 0; i < n; i++) {
    gsize e = ew_pipes_element(p, pipe, i, lane);
    double a = circle(face_diameter_m[i]), b = circle(face_diameter_m[i + 1]);
    struct ew_frustum cell = ew_frustum_of(face_diameter_m[i], face_diameter_m[i + 1], dx);
    p->length_m[e] = dx;
    p->inverse_length[e] = 1 / dx;
    p->volume_m3[e] = cell.volume_m3;
    p->area_slope[e] = (b - a) / (cell.mean_m2 * dx);
    p->diameter_m[e] = cell.diameter_m;
    p->inverse_volume[e] = 1 / p->volume_m3[e];
    p->inverse_diameter[e] = 1 / p->diameter_m[e];
    p->loss_per_m[e] = bend_loss / (2 * length_m);
    p->wall_m2[e] = cell.wall_m2;
    p->wall_k[e] = wall_k ? wall_k[i] : 300;
    p->heat_factor[e] = wall_k ? (heat_factor ? heat_factor[i] : 1) : 0;
    p->live[e] = -1;
  }
}

void ew_pipes_set_state(struct ew_pipes *p, int pipe, int cell, int lane,
                        const struct ew_working_gas *gas, double pressure_pa, double temperature_k,
                        double velocity_m_s, double burned, double fuel) {
  gsize e = ew_pipes_element(p, pipe, cell, lane);
  double mass =
      pressure_pa / (ew_working_gas_constant(gas, burned, fuel) * temperature_k) * p->volume_m3[e];
  p->conserved[EW_MASS][e] = mass;
  p->conserved[EW_MOMENTUM][e] = mass * velocity_m_s;
  p->conserved[EW_ENERGY][e] = mass * (ew_working_gas_energy(gas, burned, fuel, temperature_k) +
                                       velocity_m_s * velocity_m_s / 2);
  p->conserved[EW_BURNED][e] = mass * burned;
  p->conserved[EW_FUEL][e] = mass * fuel;
  p->primitive[EW_TEMPERATURE][e] = temperature_k;
}

double ew_pipes_total(const struct ew_pipes *p, const double *array, int lane) {
  double sum = 0;
  for (int i = 0; i < p->pipes; i++)
    for (int c = 0; c < p->count[i]; c++)
      sum += array[ew_pipes_element(p, i, c, lane)];
  return sum;
}

void ew_pipes_fill_ghosts(struct ew_pipes *p) {
  int s = p->stride;
  for (int i = 0; i < p->pipes; i++) {
    gsize a = (gsize)p->first[i] * s, b = (gsize)(p->first[i] + p->count[i] - 1) * s;
    for (int k = 0; k < EW_RECONSTRUCTED; k++) {
      double *w = p->primitive[k];
      for (int l = 0; l < s; l++) {
        w[a - s + l] = 2 * w[a + l] - w[a + s + l];
        w[b + s + l] = 2 * w[b + l] - w[b - s + l];
      }
    }
  }
}

struct end {
  gsize cell, face;
  double inward; /* sign of x into the pipe */
  double *const *state;
};

static struct end end_of(struct ew_pipes *p, int pipe, int end, int lane) {
  gsize cell = ew_pipes_element(p, pipe, end ? p->count[pipe] - 1 : 0, lane);
  return (struct end){cell, end ? cell + p->stride : cell, end ? -1 : 1, end ? p->right : p->left};
}

void ew_pipes_close(struct ew_pipes *p, int pipe, int end) {
  for (int l = 0; l < p->stride; l++) {
    struct end e = end_of(p, pipe, end, l);
    double rho = e.state[EW_DENSITY][e.cell], pr = e.state[EW_PRESSURE][e.cell];
    double u = e.inward * e.state[EW_VELOCITY][e.cell], g = p->primitive[EW_GAMMA][e.cell];
    double c = sqrt(g * pr / rho), a = 2 / ((g + 1) * rho), b = (g - 1) / (g + 1) * pr;
    double wall = u > 0 ? pr * ew_pow(fmax(1 - (g - 1) / 2 * u / c, 1e-3), 2 * g / (g - 1))
                        : pr + (u * u + sqrt(u * u * u * u + 4 * a * u * u * (pr + b))) / (2 * a);
    for (int k = 0; k < EW_CONSERVED; k++)
      p->flux[k][e.face] = 0;
    p->flux[EW_MOMENTUM][e.face] = wall * p->area_m2[e.face];
  }
}

void ew_pipes_let_through(struct ew_pipes *p, int pipe, int end) {
  for (int l = 0; l < p->stride; l++) {
    struct end e = end_of(p, pipe, end, l);
    double rho = e.state[EW_DENSITY][e.cell], pr = e.state[EW_PRESSURE][e.cell];
    double u = e.state[EW_VELOCITY][e.cell], mass = rho * u * p->area_m2[e.face];
    p->flux[EW_MASS][e.face] = mass;
    p->flux[EW_MOMENTUM][e.face] = mass * u + pr * p->area_m2[e.face];
    p->flux[EW_ENERGY][e.face] =
        mass * (e.state[EW_SPECIFIC_ENERGY][e.cell] + u * u / 2 + pr / rho);
    p->flux[EW_BURNED][e.face] = mass * e.state[EW_SHARE_BURNED][e.cell];
    p->flux[EW_FUEL][e.face] = mass * e.state[EW_SHARE_FUEL][e.cell];
  }
}
