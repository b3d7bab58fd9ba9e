/* One cylinder's step: numbers of cylinder.h. Two zones share one pressure, found by fixed-point passes whose
 * factor is small; energy is exact by construction because work and heat are booked with the same figures.
 * Compiled as OpenCL C too, without what stands in EW_ON_DEVICE: backend/opencl.c. */
#include "base/elementary.h"
#include "cycle/cylinder.h"
#include <math.h>

/* Energy of a mixture as a polynomial in T/1000 K, and its gas constant without dissociation. */
struct mixture {
  double c[EW_GAS_TERMS], r;
};

static struct mixture mix(const struct ew_working_gas *gas, double burned, double fuel) {
  struct mixture m;
  for (int i = 0; i < EW_GAS_TERMS; i++) {
    double air = gas->energy_j_kg[EW_GAS_AIR][i];
    m.c[i] = air + burned * (gas->energy_j_kg[EW_GAS_BURNED][i] - air) +
             fuel * (gas->energy_j_kg[EW_GAS_FUEL][i] - air);
  }
  m.r = ew_working_gas_constant(gas, burned, fuel);
  return m;
}

static double energy_at(const struct mixture *m, double tau) {
  double s = m->c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 0; i--)
    s = s * tau + m->c[i];
  return s;
}

static double cv_at(const struct mixture *m, double tau) {
  double s = (EW_GAS_TERMS - 1) * m->c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 1; i--)
    s = s * tau + i * m->c[i];
  return s * 1e-3;
}

#define BURN_STEP_DEG 0.5
#define ZONE_FROM     1e-5  /* burned fraction at which the burned zone begins */
#define ENTRAINMENT   0.088 /* of the bore that one flame has to cross, at the speed of turbulence */
#define BURN_UP       3.3   /* of a Taylor microscale, at the laminar flame speed */

#ifndef EW_ON_DEVICE
void ew_cylinder_frame_make(const struct ew_cycle_cylinder *s,
                            const struct ew_cycle_combustion *combustion, double woschni_factor,
                            const struct ew_working_gas *gas, double speed_rpm,
                            struct ew_cylinder_frame *f) {
  *f = (struct ew_cylinder_frame){gas, *s, *combustion, woschni_factor, speed_rpm};
  f->bore_area_m2 = G_PI / 4 * s->bore_m * s->bore_m;
  f->displacement_m3 = f->bore_area_m2 * s->stroke_m;
  f->clearance_m3 = f->displacement_m3 / (s->compression_ratio - 1);
  f->throw_m = s->stroke_m / 2;
  double reach = s->rod_m + f->throw_m;
  f->top_m = sqrt(reach * reach - s->pin_offset_m * s->pin_offset_m);
  f->piston_speed_m_s = s->stroke_m * speed_rpm / 30;
  const struct ew_combustible *fuel = &gas->fuel;
  f->octane = isnan(combustion->octane) ? (fuel->research_octane + fuel->motor_octane) / 2
                                        : combustion->octane;
}
#endif

static double piston_m(const struct ew_cylinder_frame *f, double deg) {
  double a = deg * (G_PI / 180), side = f->throw_m * ew_sin(a) + f->shape.pin_offset_m;
  return f->top_m - f->throw_m * ew_cos(a) - sqrt(f->shape.rod_m * f->shape.rod_m - side * side);
}

double ew_cylinder_volume_m3(const struct ew_cylinder_frame *f, double deg) {
  return f->clearance_m3 + f->bore_area_m2 * piston_m(f, deg);
}

#ifndef EW_ON_DEVICE
void ew_cylinder_fill(const struct ew_cylinder_frame *f, double deg, double pressure_pa, double t,
                      double burned, double fuel, struct ew_cylinder *c) {
  double v = ew_cylinder_volume_m3(f, deg);
  double m = pressure_pa * v / (ew_working_gas_constant(f->gas, burned, fuel) * t), du, dr;
  *c = (struct ew_cylinder){.volume_m3 = v, .pressure_pa = pressure_pa, .temperature_k = t};
  ew_working_gas_departure(f->gas, t, pressure_pa, &du, &dr);
  c->mass_kg = m / (1 + burned * dr);
  c->energy_j = c->mass_kg * (ew_working_gas_energy(f->gas, burned, fuel, t) + burned * du);
  c->burned_kg = c->mass_kg * burned;
  c->fuel_kg = c->mass_kg * fuel;
}
#endif

/* What meets its partner of a charge whose equivalence ratio is not everywhere the same, over what would of an even one: the mean of
 * min(phi, 1) over min(mean phi, 1), phi distributed logistically with standard deviation `spread` (closed form, unlike the normal). */
static double meets(double phi, double spread) {
  if (!(spread > 0 && phi > 0)) /* nothing to burn: no share of nothing */
    return 1;
  double s = spread * sqrt(3.0) / G_PI;
  return (1 - s * ew_log1p(ew_exp((1 - phi) / s))) / fmin(phi, 1);
}

void ew_cylinder_shut(const struct ew_cylinder_frame *f, struct ew_cylinder *c) {
  double zf = f->gas->fuel_share, air = c->mass_kg - c->burned_kg - c->fuel_kg;
  c->stage = EW_COMPRESSION;
  c->now = (struct ew_burn_record){.ca10_deg = NAN, .ca50_deg = NAN, .ca90_deg = NAN};
  c->now.trapped_kg = c->mass_kg;
  c->now.air_kg = air;
  c->now.residual = c->burned_kg / c->mass_kg;
  c->now.equivalence =
      zf > 0 ? f->gas->equivalence * c->fuel_kg / fmax(air, 1e-12) * (1 - zf) / zf : 0;
  c->met = meets(c->now.equivalence, f->combustion.spread);
  c->closed_pa = c->pressure_pa;
  c->closed_k = c->temperature_k;
  c->closed_m3 = c->volume_m3;
  c->closed_kg = c->mass_kg;
  c->closed_burned = c->burned_kg;
  c->closed_fuel = c->fuel_kg;
  c->unburned_burned = c->burned_kg / c->mass_kg;
  c->unburned_fuel = c->fuel_kg / c->mass_kg;
  c->unburned_k = c->temperature_k;
  c->delta = c->z = c->x = c->knock = 0;
  c->burned_k = 2200;
  c->growth = 1;
}

void ew_cylinder_open(struct ew_cylinder *c) {
  c->now.knock = c->knock;
  c->now.x = c->x;
  c->last = c->now;
  c->stage = EW_EXCHANGE;
}

void ew_cylinder_begin_cycle(struct ew_cylinder *c) {
  c->work_j = c->pumping_work_j = c->heat_j = 0;
}

/* One Newton step towards the temperature of this energy, dissociation of the burned share included;
 * *r becomes the gas constant at the start of the step. */
static double towards(const struct ew_working_gas *gas, const struct mixture *m, double burned,
                      double energy_j_kg, double log_p, double t, double *r) {
  double du, slope, dr;
  ew_working_gas_departure_at(gas, t, log_p, &du, &slope, &dr);
  *r = m->r * (1 + burned * dr);
  double gap = energy_j_kg - energy_at(m, 1e-3 * t) - burned * du;
  return CLAMP(t + gap / (cv_at(m, 1e-3 * t) + burned * slope), gas->coldest_k, gas->hottest_k);
}

static double temperature_of(const struct ew_working_gas *gas, const struct mixture *m,
                             double burned, double energy_j_kg, double pressure_pa, double start,
                             double *r) {
  double t = start, log_p = start > 1400 ? ew_log(pressure_pa) : 0;
  for (int pass = 0; pass < 6; pass++) {
    double last = t;
    t = towards(gas, m, burned, energy_j_kg, log_p, last, r);
    if (fabs(t - last) < 1e-6 * t)
      break;
  }
  return t;
}

void ew_cylinder_gas(const struct ew_cylinder_frame *f, const struct ew_cylinder *c, double *r,
                     double *gamma, double *enthalpy_j_kg) {
  double yb = c->burned_kg / c->mass_kg, yf = c->fuel_kg / c->mass_kg;
  *r = c->pressure_pa * c->volume_m3 / (c->mass_kg * c->temperature_k);
  *gamma = 1 + *r / ew_working_gas_cv(f->gas, yb, yf, c->temperature_k);
  *enthalpy_j_kg = (c->energy_j + c->pressure_pa * c->volume_m3) / c->mass_kg;
}

double ew_woschni_w_m2_k(double bore_m, double pressure_pa, double temperature_k, double w) {
  return 3.26 * ew_exp(-0.2 * ew_log(bore_m) + 0.8 * ew_log(pressure_pa / 1000 * w) -
                       0.55 * ew_log(temperature_k));
}

/* 2. Heat to the walls in this step, J, from the state at its start; `conductance` is h A dt. */
static double wall_heat(const struct ew_cylinder_frame *f, const struct ew_cylinder *c, double dt,
                        double *conductance) {
  double w = 6.18 * f->piston_speed_m_s;
  if (c->stage != EW_EXCHANGE) {
    w = 2.28 * f->piston_speed_m_s;
    if (c->stage != EW_COMPRESSION) {
      double motored = c->closed_pa * ew_exp(1.32 * ew_log(c->closed_m3 / c->volume_m3));
      w += 3.24e-3 * f->displacement_m3 * c->closed_k / (c->closed_pa * c->closed_m3) *
           fmax(c->pressure_pa - motored, 0);
    }
  }
  double area = f->bore_area_m2 * (f->shape.head_area + f->shape.piston_area) +
                4 / f->shape.bore_m * (c->volume_m3 - f->clearance_m3);
  double h = f->woschni_factor > 0
                 ? f->woschni_factor *
                       ew_woschni_w_m2_k(f->shape.bore_m, c->pressure_pa, c->temperature_k, w)
                 : 0;
  *conductance = h * area * dt;
  return *conductance * (c->temperature_k - f->shape.wall_k);
}

/* 3. The flame's two times at this state, s (docs/methods-cycle.md, section 4): of development, nu^(1/3) (l/S_L)^(2/3) u^(-2/3)
 * with the piston's speed, and of burning: entrainment at the speed of turbulence, then burn-up of an eddy of Taylor's size. */
struct flame {
  double development_s, burn_s;
};

static struct flame flame_of(const struct ew_cylinder_frame *f, const struct ew_cylinder *c) {
  const struct ew_working_gas *gas = f->gas;
  double t = c->unburned_k, r = ew_working_gas_constant(gas, c->unburned_burned, c->unburned_fuel);
  double viscosity = 3.3e-7 * ew_exp(0.7 * ew_log(t)) * r * t / c->pressure_pa;
  double mole_share = c->unburned_burned * gas->gas_constant_j_kg_k[EW_GAS_BURNED] / r;
  double speed =
      ew_combustible_flame_speed_m_s(&gas->fuel, gas->equivalence, t, c->pressure_pa, mole_share);
  double length = 0.105 * f->shape.bore_m;
  double quick = f->combustion.turbulence * f->piston_speed_m_s, turbulence_m_s = 0.5 * quick;
  double tau = ew_cbrt(viscosity * (length / speed) * (length / speed) / (quick * quick));
  double taylor_m = sqrt(15 * length * viscosity / turbulence_m_s);
  return (struct flame){f->combustion.development * tau,
                        f->combustion.duration *
                            (ENTRAINMENT * f->combustion.path * f->shape.bore_m / turbulence_m_s +
                             BURN_UP * taylor_m / speed)};
}

static double burned_fraction(const struct ew_cylinder_frame *f, double z) {
  if (f->combustion.fixed_duration_deg > 0)
    return 1 - ew_exp(-5 * ew_pow(z, f->combustion.fixed_exponent));
  return 0.98 * (1 - ew_exp(-5 * z * z * z)) / (1 - ew_exp(-5));
}

/* 3. Advance development and burn; dt of this (sub)step, `lit` the share of it after the spark. */
static void burn(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double dt, double lit,
                 double deg, struct flame flame) {
  double left = dt * lit;
  if (f->combustion.fixed_duration_deg > 0) {
    c->z = fmin((deg + c->spark_deg) / f->combustion.fixed_duration_deg, 1);
  } else {
    if (c->delta < 1) {
      double need = (1 - c->delta) * flame.development_s;
      c->delta = need > left ? c->delta + left / flame.development_s : 1;
      left = fmax(left - need, 0);
    }
    c->z = fmin(c->z + left / flame.burn_s, 1);
  }
}

/* Move dx of the charge from unburned to burned composition: only what meets its partner burns. */
static void convert(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double dx) {
  double zf = f->gas->fuel_share, air = 1 - c->unburned_burned - c->unburned_fuel;
  double share =
      zf > 0 ? c->met * fmin(c->unburned_fuel / zf, air / (1 - zf)) : 1 - c->unburned_burned;
  double mass = dx * c->closed_kg * fmax(share, 0);
  c->burned_kg += mass;
  c->fuel_kg -= mass * zf;
}

static void one_zone(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double v1,
                     double heat) {
  double dv = v1 - c->volume_m3, p0 = c->pressure_pa, p = p0, r, work = 0;
  double yb = c->burned_kg / c->mass_kg, yf = c->fuel_kg / c->mass_kg, t = c->temperature_k;
  double energy = c->energy_j - heat;
  struct mixture m = mix(f->gas, yb, yf);
  for (int pass = 0; pass < 2; pass++) {
    work = 0.5 * (p0 + p) * dv;
    t = temperature_of(f->gas, &m, yb, (energy - work) / c->mass_kg, p, t, &r);
    p = c->mass_kg * r * t / v1;
  }
  c->energy_j = energy - work;
  c->work_j += work;
  c->heat_j += heat;
  c->volume_m3 = v1;
  c->pressure_pa = p;
  c->temperature_k = t;
}

static void two_zones(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double v1,
                      double heat, double unburned_heat) {
  double dv = v1 - c->volume_m3, p0 = c->pressure_pa, p = p0 * c->growth, work = 0, t_u = 0, r_b;
  double m_u = (1 - c->x) * c->closed_kg, m_b = c->mass_kg - m_u;
  double yb_u = c->unburned_burned, yf_u = c->unburned_fuel;
  double yb = (c->burned_kg - m_u * yb_u) / m_b, yf = (c->fuel_kg - m_u * yf_u) / m_b;
  struct mixture unburned = mix(f->gas, yb_u, yf_u), burned = mix(f->gas, yb, yf);
  double cp = unburned.r + cv_at(&unburned, 1e-3 * c->unburned_k), log_p0 = ew_log(p0);
  double start = fmax(c->unburned_k - unburned_heat / (fmax(m_u, 1e-9 * m_b) * cp),
                      fmin(c->unburned_k, f->shape.wall_k));
  double energy = c->energy_j - heat, t_b = c->burned_k;
  for (int pass = 0; pass < 60; pass++) {
    double log_ratio = ew_log(p / p0), last = t_b;
    work = 0.5 * (p0 + p) * dv;
    t_u = start * ew_exp(unburned.r / cp * log_ratio);
    double u_b = (energy - work - m_u * energy_at(&unburned, 1e-3 * t_u)) / m_b;
    t_b = towards(f->gas, &burned, yb, u_b, log_p0 + log_ratio, last, &r_b);
    double next = (m_u * unburned.r * t_u + m_b * r_b * t_b) / v1;
    gboolean done = fabs(next - p) < 1e-9 * p && fabs(t_b - last) < 1e-8 * t_b;
    p = next;
    if (done)
      break;
  }
  c->energy_j = energy - work;
  c->work_j += work;
  c->heat_j += heat;
  c->volume_m3 = v1;
  c->pressure_pa = p;
  c->growth = p / p0;
  c->unburned_k = t_u;
  c->burned_k = t_b;
  c->temperature_k = p * v1 / (m_u * unburned.r + m_b * r_b); /* mean */
}

static void mark(double *where, double level, double before, double after, double from, double to) {
  if (isnan(*where) && after >= level)
    *where = from + (to - from) * (level - before) / (after - before);
}

static void closed_step(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double from,
                        double to, struct flame flame) {
  double dt = (to - from) / (6 * f->speed_rpm), conductance, v1 = ew_cylinder_volume_m3(f, to);
  double heat = wall_heat(f, c, dt, &conductance), before = c->x;
  double lit = CLAMP((to + c->spark_deg) / (to - from), 0, 1);
  if (lit > 0 && c->z < 1) {
    burn(f, c, dt, lit, to, flame);
    double x = burned_fraction(f, c->z);
    if (x > ZONE_FROM) {
      c->stage = EW_BURNING;
      convert(f, c, x - before);
      c->x = x;
      mark(&c->now.ca10_deg, 0.1, before, x, from, to);
      mark(&c->now.ca50_deg, 0.5, before, x, from, to);
      mark(&c->now.ca90_deg, 0.9, before, x, from, to);
    }
  }
  double cp_share = c->stage == EW_BURNING ? (1 - before) * c->unburned_k / c->temperature_k : 1;
  double p0 = c->pressure_pa, t0 = c->unburned_k;
  if (c->stage == EW_BURNING && c->x < 0.9999) {
    two_zones(f, c, v1, heat, conductance * fmin(cp_share, 1) * (c->unburned_k - f->shape.wall_k));
  } else {
    one_zone(f, c, v1, heat);
    if (c->stage == EW_COMPRESSION)
      c->unburned_k = c->temperature_k;
  }
  if (lit > 0)
    c->now.rise_pa_deg = fmax(c->now.rise_pa_deg, (c->pressure_pa - p0) / (to - from));
  if (c->x < 0.95 && t0 > 500)
    c->knock += dt / ew_ignition_delay_s(f->octane, 0.5 * (p0 + c->pressure_pa),
                                         0.5 * (t0 + c->unburned_k));
  if (c->z >= 1 && c->stage == EW_BURNING)
    c->stage = EW_EXPANSION;
}

void ew_cylinder_advance(const struct ew_cylinder_frame *f, struct ew_cylinder *c, double from,
                         double to, const double *gained) {
  if (gained) {
    c->mass_kg += gained[0];
    c->energy_j += gained[2];
    c->burned_kg += gained[3];
    c->fuel_kg += gained[4];
  }
  double work = c->work_j;
  gboolean lit = c->stage != EW_EXCHANGE && c->z < 1 && to > -c->spark_deg;
  if (c->stage == EW_EXCHANGE || c->stage == EW_EXPANSION) {
    double conductance, dt = (to - from) / (6 * f->speed_rpm);
    double heat = wall_heat(f, c, dt, &conductance);
    one_zone(f, c, ew_cylinder_volume_m3(f, to), heat);
  } else {
    int n = lit ? (int)ceil((to - from) / BURN_STEP_DEG - 1e-9) : 1;
    struct flame flame = {1, 1};
    if (lit && f->combustion.fixed_duration_deg <= 0)
      flame = flame_of(f, c);
    for (int i = 0; i < n; i++)
      closed_step(f, c, from + (to - from) * i / n, from + (to - from) * (i + 1) / n, flame);
  }
  if (fabs(0.5 * (from + to)) > 180)
    c->pumping_work_j += c->work_j - work;
  if (c->pressure_pa > c->now.peak_pa && c->stage != EW_EXCHANGE) {
    c->now.peak_pa = c->pressure_pa;
    c->now.peak_deg = to;
  }
}

#ifndef EW_ON_DEVICE
struct ew_cylinder ew_cylinder_closed(const struct ew_cylinder_frame *f,
                                      const struct ew_cylinder *shut, double from, double to,
                                      double spark_deg, double step_deg) {
  struct ew_cylinder c = *shut;
  ew_cylinder_begin_cycle(&c);
  c.spark_deg = spark_deg;
  int n = (int)ceil((to - from) / step_deg);
  for (int i = 0; i < n; i++)
    ew_cylinder_advance(f, &c, from + (to - from) * i / n, from + (to - from) * (i + 1) / n, NULL);
  ew_cylinder_open(&c);
  return c;
}
#endif
