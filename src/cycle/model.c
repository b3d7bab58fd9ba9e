/* The model's defaults, and whether its parts fit together: every index points at something, every pipe has two
 * ends, every figure is in its range. A model that was checked can be run without another question. */
#include "cycle/model.h"
#include "base/elementary.h"
#include "base/error.h"
#include "base/words.h"
#include "cycle/ends.h"
#include <math.h>
#include <string.h>

#define GAS_CONSTANT 8.314462618 /* J/(mol K) */
#define LATENT_J_MOL 35.1e3      /* of iso-octane at 298 K (NIST Chemistry WebBook, from memory) */
#define REFERENCE_K  298.15

void ew_cycle_model_defaults(struct ew_cycle_model *model) {
  memset(model, 0, sizeof *model);
  model->fuel = ew_combustible_find("petrol");
  model->equivalence = 1.1;
  model->evaporated_from_gas = 0.4;
  model->evaporated_per_k = 0.008;
  model->inlet_wall_k = 340;
  model->ambient_pa = 1e5;
  model->ambient_k = 298.15;
  model->exhaust_back_pa = NAN;
  model->flow_factor = 1;
  model->woschni_factor = 1.2;
  model->pipe_friction = model->pipe_heat = 1;
  model->combustion = (struct ew_cycle_combustion){.development = 1.03,
                                                   .path = 1,
                                                   .duration = 1,
                                                   .turbulence = 1,
                                                   .spread = 0.07,
                                                   .fixed_exponent = 3,
                                                   .octane = NAN,
                                                   .knock_limit = 0.88};
  model->friction = (struct ew_cycle_friction){0.4e5, 0.005, 0.09e5, 0.0009e5};
}

double ew_cycle_displacement_m3(const struct ew_cycle_model *model) {
  double sum = 0;
  for (int i = 0; i < model->cylinders; i++) {
    const struct ew_cycle_cylinder *c = &model->cylinder[i];
    sum += G_PI / 4 * c->bore_m * c->bore_m * c->stroke_m;
  }
  return sum;
}

static double lift_at(const struct ew_cycle_valve *v, double deg) {
  double x = fmod(deg - v->first_deg, 720);
  x = (x < 0 ? x + 720 : x) / v->step_deg;
  int i = (int)x;
  if (i >= v->lifts - 1)
    return 0;
  double w = x - i;
  return fmax((1 - w) * v->lift_m[i] + w * v->lift_m[i + 1], 0);
}

static double coefficient(const struct ew_cycle_valve *v, double ratio, gboolean forward) {
  const struct ew_cycle_flow *f = v->flow;
  struct ew_cycle_flow a = {0, 0, 0}, b = f[0];
  for (int i = 0; i < v->flows && ratio > b.lift_by_diameter; i++) {
    a = f[i];
    b = i + 1 < v->flows ? f[i + 1] : f[i];
    if (i + 1 >= v->flows)
      return forward ? a.forward : a.reverse;
  }
  double w = (ratio - a.lift_by_diameter) / (b.lift_by_diameter - a.lift_by_diameter);
  return forward ? a.forward + w * (b.forward - a.forward)
                 : a.reverse + w * (b.reverse - a.reverse);
}

double ew_cycle_valve_area_m2(const struct ew_cycle_valve *v, double deg, gboolean forward) {
  double lift = lift_at(v, deg);
  return lift > 0 ? v->count * G_PI / 4 * v->head_m * v->head_m *
                        coefficient(v, lift / v->head_m, forward)
                  : 0;
}

gboolean ew_cycle_shut_interval(const struct ew_cycle_model *model, int cylinder, double *from_deg,
                                double *to_deg) {
  *from_deg = -360;
  *to_deg = 360;
  for (int i = 0; i < model->valves; i++) {
    if (model->valve[i].cylinder != cylinder)
      continue;
    if (lift_at(&model->valve[i], 0) > 0)
      return FALSE;
    for (double d = 0; d > *from_deg; d -= 0.25)
      if (lift_at(&model->valve[i], d) > 0)
        *from_deg = d + 0.25;
    for (double d = 0; d < *to_deg; d += 0.25)
      if (lift_at(&model->valve[i], d) > 0)
        *to_deg = d - 0.25;
  }
  return *from_deg < -20 && *to_deg > 40 && *to_deg - *from_deg < 700;
}

/* What evaporates goes by the vapour's pressure over the air's: thinner air counts as warmer air, by Clausius and Clapeyron R T^2/L a unit of
 * ln p with 35.1 kJ/mol (iso-octane). */
double ew_cycle_evaporated_from_gas(const struct ew_cycle_model *m) {
  double warmer_k =
      GAS_CONSTANT / LATENT_J_MOL * m->ambient_k * m->ambient_k * ew_log(1e5 / m->ambient_pa);
  double above_k = m->ambient_k + warmer_k - REFERENCE_K;
  return CLAMP(m->evaporated_from_gas + m->evaporated_per_k * above_k, 0, 1);
}

#define RANGE(value, low, high, ...)                                                               \
  if (!((value) >= (low) && (value) <= (high))) {                                                  \
    g_autofree char *what = ew_words(__VA_ARGS__);                                                 \
    return ew_refuse(error, "%s is %g; it must be %g to %g", what, (double)(value), (double)(low), \
                     (double)(high));                                                              \
  }

static gboolean check_cylinder(const struct ew_cycle_model *m, int i, GError **error) {
  const struct ew_cycle_cylinder *c = &m->cylinder[i];
  double from, to;
  RANGE(c->bore_m, 0.01, 1, "cylinder %d: bore (m)", i + 1)
  RANGE(c->stroke_m, 0.01, 2, "cylinder %d: stroke (m)", i + 1)
  RANGE(c->rod_m, c->stroke_m / 2 + fabs(c->pin_offset_m) + 0.001, 5,
        "cylinder %d: rod length (m), which must exceed the crank throw,", i + 1)
  RANGE(fabs(c->pin_offset_m), 0, 0.2 * c->stroke_m, "cylinder %d: pin offset (m)", i + 1)
  RANGE(c->compression_ratio, 2, 25, "cylinder %d: compression ratio", i + 1)
  RANGE(c->firing_deg, 0, 720, "cylinder %d: firing angle (deg)", i + 1)
  RANGE(c->head_area, 0.5, 4, "cylinder %d: head surface / bore area", i + 1)
  RANGE(c->piston_area, 0.5, 4, "cylinder %d: piston surface / bore area", i + 1)
  RANGE(c->wall_k, 250, 800, "cylinder %d: wall temperature (K)", i + 1)
  if (!ew_cycle_shut_interval(m, i, &from, &to))
    return ew_refuse(error,
                     "cylinder %d: its valves are not all shut around firing top dead centre "
                     "(shut from %g to %g deg): check opening, closing and phase of its cams",
                     i + 1, from, to);
  int intake = 0, exhaust = 0;
  for (int v = 0; v < m->valves; v++)
    if (m->valve[v].cylinder == i)
      *(m->valve[v].exhaust ? &exhaust : &intake) += 1;
  if (!intake || !exhaust)
    return ew_refuse(error, "cylinder %d has no %s valve", i + 1, intake ? "exhaust" : "intake");
  return TRUE;
}

static gboolean check_valve(const struct ew_cycle_model *m, int i, GError **error) {
  const struct ew_cycle_valve *v = &m->valve[i];
  RANGE(v->cylinder, 0, m->cylinders - 1, "valve %s: its cylinder's index", v->name)
  RANGE(v->count, 1, 8, "valve %s: number", v->name)
  RANGE(v->head_m, 0.005, 0.3, "valve %s: head diameter (m)", v->name)
  RANGE(v->first_deg, -10000, 10000, "valve %s: first angle of the lift table (deg)", v->name)
  RANGE(v->step_deg, 0.01, 20, "valve %s: step of the lift table (deg)", v->name)
  RANGE(v->lifts, 3, 100000, "valve %s: number of lifts", v->name)
  if (v->step_deg * (v->lifts - 1) >= 700)
    return ew_refuse(error, "valve %s never closes: its lift table spans %g deg", v->name,
                     v->step_deg * (v->lifts - 1));
  if (!(v->lift_m[0] <= 0 && v->lift_m[v->lifts - 1] <= 0))
    return ew_refuse(error, "valve %s never closes: its lift table must begin and end at zero",
                     v->name);
  double most = 0;
  for (int k = 0; k < v->lifts; k++) {
    RANGE(v->lift_m[k], -0.01, 0.1, "valve %s: lift %d (m)", v->name, k + 1)
    most = fmax(most, v->lift_m[k]);
  }
  if (!(most > 1e-4))
    return ew_refuse(error, "valve %s never opens: its greatest lift is %g m", v->name, most);
  RANGE(v->flows, 1, 1000, "valve %s: rows of the flow table", v->name)
  for (int k = 0; k < v->flows; k++) {
    double before = k ? v->flow[k - 1].lift_by_diameter : 0;
    RANGE(v->flow[k].lift_by_diameter, before + 1e-6, 2, "valve %s: rising lift/diameter %d",
          v->name, k + 1)
    RANGE(v->flow[k].forward, 0, 1.2, "valve %s: forward flow %d", v->name, k + 1)
    RANGE(v->flow[k].reverse, 0, 1.2, "valve %s: reverse flow %d", v->name, k + 1)
  }
  return TRUE;
}

static gboolean check_pipe(const struct ew_cycle_model *m, int i, GError **error) {
  const struct ew_cycle_pipe *p = &m->pipe[i];
  RANGE(p->length_m, 0.005, 20, "pipe %s: length (m)", p->name)
  RANGE(p->stations, 1, 1000, "pipe %s: stations", p->name)
  RANGE(p->bend_loss, 0, 20, "pipe %s: bend loss", p->name)
  for (int k = 0; k < p->stations; k++) {
    const struct ew_cycle_station *s = &p->station[k];
    RANGE(s->diameter_m, 0.003, 0.5, "pipe %s: diameter %d (m)", p->name, k + 1)
    RANGE(s->at_m, k ? p->station[k - 1].at_m : 0, p->length_m, "pipe %s: station %d (m)", p->name,
          k + 1)
    RANGE(s->heat_factor, 0, 20, "pipe %s: heat factor %d", p->name, k + 1)
    if (!isnan(s->wall_k))
      RANGE(s->wall_k, 200, 1500, "pipe %s: wall temperature %d (K)", p->name, k + 1)
  }
  for (int side = 0; side < 2; side++) {
    const struct ew_cycle_end *e = &p->end[side];
    int most = e->kind == EW_END_VOLUME     ? m->volumes
               : e->kind == EW_END_JUNCTION ? m->junctions
               : e->kind == EW_END_VALVE    ? m->valves
                                            : 1000000;
    if (e->index < 0 || e->index >= most)
      return ew_refuse(error, "pipe %s, end %d: leads to part %d of %d", p->name, side + 1,
                       e->index + 1, most);
    if (e->kind == EW_END_ATMOSPHERE || e->kind == EW_END_VOLUME)
      RANGE(e->opening, 0, 1, "pipe %s, end %d: opening", p->name, side + 1)
  }
  return TRUE;
}

static int ends_at(const struct ew_cycle_model *m, enum ew_end_kind kind, int index) {
  int n = 0;
  for (int i = 0; i < m->pipes; i++)
    for (int side = 0; side < 2; side++)
      n += m->pipe[i].end[side].kind == kind && m->pipe[i].end[side].index == index;
  return n;
}

static gboolean check_joints(const struct ew_cycle_model *m, GError **error) {
  for (int v = 0; v < m->valves; v++)
    if (ends_at(m, EW_END_VALVE, v) != 1)
      return ew_refuse(error, "valve %s has %d pipes; it needs exactly one", m->valve[v].name,
                       ends_at(m, EW_END_VALVE, v));
  for (int j = 0; j < m->junctions; j++) {
    int n = ends_at(m, EW_END_JUNCTION, j);
    if (n < 2 || n > EW_JUNCTION_MOST)
      return ew_refuse(error, "junction %d joins %d pipes; it must join 2 to %d", j + 1, n,
                       EW_JUNCTION_MOST);
  }
  for (int v = 0; v < m->volumes; v++) {
    RANGE(m->volume[v].volume_m3, 1e-5, 10, "volume %s (m3)", m->volume[v].name)
    if (ends_at(m, EW_END_VOLUME, v) < 1)
      return ew_refuse(error, "volume %s has no pipe", m->volume[v].name);
  }
  return TRUE;
}

gboolean ew_cycle_model_check(const struct ew_cycle_model *m, GError **error) {
  RANGE(m->cylinders, 1, 64, "number of cylinders")
  RANGE(m->pipes, 2, 1000, "number of pipes")
  if (!m->fuel)
    return ew_refuse(error, "no fuel; known are %s", ew_combustible_names());
  RANGE(m->equivalence, 0.5, 2, "equivalence ratio")
  RANGE(m->evaporated_from_gas, 0, 1, "share of evaporation from the gas")
  RANGE(m->evaporated_per_k, 0, 0.05, "rise of that share (1/K)")
  RANGE(m->inlet_wall_k, 220, 450, "wall of inlet pipes (K)")
  RANGE(m->inlet_follows, 0, 1, "inlet walls' share of the air's warmth")
  RANGE(m->metal_follows, 0, 1, "cylinder walls' share of the air's warmth")
  RANGE(m->ambient_pa, 3e4, 3e5, "ambient pressure (Pa)")
  RANGE(m->ambient_k, 220, 350, "ambient temperature (K)")
  RANGE(m->vapour_pa, 0, 0.2 * m->ambient_pa, "vapour pressure (Pa)")
  if (!isnan(m->exhaust_back_pa))
    RANGE(m->exhaust_back_pa, 3e4, 1e6, "pressure behind the exhaust (Pa)")
  RANGE(m->flow_factor, 0.2, 3, "factor of valve flow")
  RANGE(m->woschni_factor, 0, 10, "factor of cylinder heat")
  RANGE(m->pipe_friction, 0, 20, "factor of pipe friction")
  RANGE(m->pipe_heat, 0, 20, "factor of pipe heat")
  RANGE(m->combustion.development, 0.05, 50, "factor of flame development")
  RANGE(m->combustion.duration, 0.05, 50, "factor of burn duration")
  RANGE(m->combustion.path, 0.2, 2, "way of the flame")
  RANGE(m->combustion.spread, 0, 0.5, "spread of the mixture")
  RANGE(m->combustion.turbulence, 0.05, 20, "factor of turbulence")
  RANGE(m->combustion.knock_limit, 0.1, 2, "knock limit")
  for (int i = 0; i < m->valves; i++)
    if (!check_valve(m, i, error))
      return FALSE;
  for (int i = 0; i < m->cylinders; i++)
    if (!check_cylinder(m, i, error))
      return FALSE;
  for (int i = 0; i < m->pipes; i++)
    if (!check_pipe(m, i, error))
      return FALSE;
  return check_joints(m, error);
}
