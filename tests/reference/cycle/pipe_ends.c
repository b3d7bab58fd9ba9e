/* Ends and junctions against exact steady flow, acoustics and NACA Report 1135.
 *
 * Orifice: Heywood, Internal Combustion Engine Fundamentals, appendix C. Isentropic nozzle and Fanno
 * flow: NACA Report 1135 (1953) and Shapiro, by their formulas. Reflection at a junction of n equal
 * pipes: (2-n)/n and 2/n, plane-wave acoustics (Kinsler and others). Quarter wave c/(4L); Helmholtz
 * resonator of finite neck: tan(kL) = A/(V k). A wrong end conserves too: hence the discharge table. */
#include "in_use.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#define GAMMA 1.4
#define R     287.0

struct rig {
  const struct ew_kernel *kernel;
  struct ew_pipes *pipes;
  struct ew_end end[16];
  struct ew_end_node node[8];
  int ends, junction[EW_JUNCTION_MOST], members;
  double step[EW_LANES], time[EW_LANES], pressure[EW_LANES];
  struct ew_pipe_physics physics;
};

static struct ew_working_gas perfect(void) {
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(GAMMA, R, &gas);
  return gas;
}

static void rig_begin(struct rig *r, int pipes, const int *count, double length, double diameter) {
  memset(r, 0, sizeof *r);
  r->kernel = kernel_in_use();
  r->pipes = ew_pipes_new(EW_LANES, pipes, count);
  struct ew_working_gas gas = perfect();
  for (int i = 0; i < pipes; i++)
    for (int l = 0; l < EW_LANES; l++) {
      double d[1001];
      for (int c = 0; c <= count[i]; c++)
        d[c] = diameter;
      ew_pipes_set_gas(r->pipes, l, &gas);
      ew_pipes_shape(r->pipes, i, l, length, d, 0, NULL, NULL);
      for (int c = 0; c < count[i]; c++)
        ew_pipes_set_state(r->pipes, i, c, l, &gas, 1e5, 300, 0, 0, 0);
    }
}

static int rig_end(struct rig *r, int pipe, int side, int node) {
  struct ew_end *e = &r->end[r->ends];
  e->pipe = pipe;
  e->side = side;
  e->node = node;
  if (node < 0)
    r->junction[r->members++] = r->ends;
  return r->ends++;
}

static void open_to(struct ew_end *e, int lane, double opening) {
  e->open_in[lane] = e->open_out[lane] = opening;
}

static void node_set(struct ew_end_node *n, int lane, double p, double t) {
  n->pressure_pa[lane] = p;
  n->temperature_k[lane] = t;
  n->gas_constant[lane] = R;
  n->gamma[lane] = GAMMA;
  n->enthalpy_j_kg[lane] = R * GAMMA / (GAMMA - 1) * t;
}

static void rig_step(struct rig *r, double cfl) {
  double rate[EW_LANES];
  r->kernel->primitives(r->pipes, rate);
  for (int l = 0; l < EW_LANES; l++) {
    r->step[l] = cfl / rate[l];
    r->time[l] += r->step[l];
  }
  ew_pipes_fill_ghosts(r->pipes);
  r->kernel->predict(r->pipes, r->step);
  r->kernel->riemann(r->pipes);
  r->kernel->ends(r->pipes, r->end, r->ends, r->node, r->step);
  if (r->members)
    r->kernel->junction(r->pipes, r->end, r->junction, r->members, r->pressure);
  r->kernel->update(r->pipes, r->step, &r->physics);
}

static double orifice(double p0, double t0, double p) {
  double critical = pow(2 / (GAMMA + 1), GAMMA / (GAMMA - 1)), pr = fmax(p / p0, critical);
  return p0 / sqrt(R * t0) * pow(pr, 1 / GAMMA) *
         sqrt(2 * GAMMA / (GAMMA - 1) * (1 - pow(pr, (GAMMA - 1) / GAMMA)));
}

static void orifice_values(void **state) {
  (void)state; /* published form, values by hand: 1e-4 m2, 1 bar, 300 K */
  assert_true(fabs(1e-4 * orifice(1e5, 300, 0.9e5) / 0.01440152 - 1) < 1e-6);
  assert_true(fabs(1e-4 * orifice(1e5, 300, 0.5e5) / 0.02333559 - 1) < 1e-6);
}

/* Steady flow from a tank through an opening into a pipe that is open to the atmosphere: the jet fills
 * the pipe at atmospheric pressure, or at the pressure at which the pipe runs at sonic speed. */
static double exact_discharge(double p0, double t0, double opening, double p_out) {
  double cp = R * GAMMA / (GAMMA - 1), low = p_out, high = p0;
  for (int i = 0; i < 100; i++) {
    double p = i ? (low + high) / 2 : p_out, k = opening * orifice(p0, t0, p);
    double u = 2 * k * R * t0 / (p + sqrt(p * p + 2 * k * k * R * R * t0 / cp));
    double c = sqrt(GAMMA * R * (t0 - u * u / (2 * cp)));
    if (u <= c && i == 0)
      return k;
    if (u > c)
      low = p;
    else
      high = p;
  }
  return opening * orifice(p0, t0, high);
}

static void steady_discharge(void **state) {
  (void)state;
  static const double tanks[] = {1.02e5, 1.2e5, 1.8e5, 2.5e5, 4e5},
                      open[] = {0.05, 0.2, 0.4, 0.6, 0.9};
  double worst = 0;
  for (int out = 0; out < 2; out++)
    for (int i = 0; i < 25; i += EW_LANES) {
      struct rig r;
      int cells = 40;
      rig_begin(&r, 1, &cells, 0.4, 0.04);
      int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, 0, 1, 1);
      for (int l = 0; l < EW_LANES; l++) {
        int k = MIN(i + l, 24);
        node_set(&r.node[0], l, tanks[k / 5], 300);
        node_set(&r.node[1], l, 1e5, 300);
        open_to(&r.end[a], l, out ? 1 : open[k % 5]);
        open_to(&r.end[b], l, out ? open[k % 5] : 1);
      }
      double into[EW_LANES] = {0}, out_of[EW_LANES] = {0}, span[EW_LANES] = {0};
      for (int n = 0; n < 24000; n++) { /* means of the second half: small openings ring for long */
        rig_step(&r, 0.8);
        for (int l = 0; l < EW_LANES && n >= 12000; l++) {
          into[l] += r.end[a].flow_kg_s[l] * r.step[l];
          out_of[l] -= r.end[b].flow_kg_s[l] * r.step[l];
          span[l] += r.step[l];
        }
      }
      for (int l = 0; l < EW_LANES; l++) {
        int k = MIN(i + l, 24);
        double opening = open[k % 5], p0 = tanks[k / 5];
        double want =
            r.pipes->area_m2[ew_pipes_element(r.pipes, 0, 0, l)] *
            (out ? opening * orifice(p0, 300, 1e5) : exact_discharge(p0, 300, opening, 1e5));
        double in = into[l] / span[l] / want, through = out_of[l] / span[l] / want;
        worst = fmax(worst, fmax(fabs(in - 1), fabs(through - 1)));
        if (fabs(in - 1) > 2e-3 || fabs(through - 1) > 2e-3)
          fail_msg("%s p0 %g bar, opening %g: %.5f in, %.5f out", out ? "outlet" : "inlet",
                   p0 / 1e5, opening, in, through);
      }
      ew_pipes_free(r.pipes);
    }
  print_message("steady discharge, 50 cases: worst %.1e\n", worst);
}

/* Zero crossings of a signal give its period. */
struct ring {
  double last, last_time, first, latest;
  int crossings;
};

static void ring_add(struct ring *g, double time, double x) {
  if (g->last_time > 0 && g->last < 0 && x >= 0) {
    g->latest = g->last_time + (time - g->last_time) * -g->last / (x - g->last);
    if (!g->crossings++)
      g->first = g->latest;
  }
  g->last = x;
  g->last_time = time;
}

static double ring_frequency(const struct ring *g) {
  return (g->crossings - 1) / (g->latest - g->first);
}

static void quarter_wave(void **state) {
  (void)state;
  for (int cells = 13; cells <= 100; cells *= 2) {
    struct rig r;
    struct ring g = {0};
    struct ew_working_gas gas = perfect();
    rig_begin(&r, 1, &cells, 0.5, 0.04);
    rig_end(&r, 0, 0, 0); /* openings 0: closed */
    int b = rig_end(&r, 0, 1, 1);
    for (int l = 0; l < EW_LANES; l++) {
      node_set(&r.node[0], l, 1e5, 300);
      node_set(&r.node[1], l, 1e5, 300);
      open_to(&r.end[b], l, 1);
      for (int c = 0; c < cells; c++) {
        double p = 1e5 * (1 + 0.005 * cos(G_PI / 2 * (c + 0.5) / cells));
        ew_pipes_set_state(r.pipes, 0, c, l, &gas, p, 300 * pow(p / 1e5, 2 / 7.0), 0, 0, 0);
      }
    }
    while (g.crossings < 8 && r.time[0] < 1) {
      rig_step(&r, 0.8);
      ring_add(&g, r.time[0], r.end[0].pressure_pa[0] - 1e5);
    }
    double rough = 0; /* a smooth wave stays smooth while the flow turns round at the mouth */
    for (int c = 1; c < cells - 1; c++) {
      const double *p = r.pipes->primitive[EW_PRESSURE] + ew_pipes_element(r.pipes, 0, c, 0);
      rough = fmax(rough, fabs(p[-EW_LANES] - 2 * p[0] + p[EW_LANES]));
    }
    assert_true(rough < 500 * 20.0 / (cells * cells));
    double want = sqrt(GAMMA * R * 300) / (4 * 0.5);
    print_message("quarter wave, %d cells: %.2f Hz, exact %.2f\n", cells, ring_frequency(&g), want);
    assert_true(fabs(ring_frequency(&g) / want - 1) < 0.005);
    ew_pipes_free(r.pipes);
  }
}

static void helmholtz(void **state) {
  (void)state;
  struct rig r;
  struct ring g = {0};
  int cells = 20;
  double volume = 2e-3, length = 0.2, c = sqrt(GAMMA * R * 300), cv = R / (GAMMA - 1);
  rig_begin(&r, 1, &cells, length, 0.04);
  int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, 0, 1, 1);
  double mass = 1.01e5 * volume / (R * 300), energy = mass * cv * 300;
  for (int l = 0; l < EW_LANES; l++) {
    node_set(&r.node[0], l, 1.01e5, 300);
    node_set(&r.node[1], l, 1e5, 300);
    open_to(&r.end[a], l, 1);
    open_to(&r.end[b], l, 1);
  }
  while (g.crossings < 6 && r.time[0] < 1) {
    rig_step(&r, 0.8);
    double m = mass + r.node[0].gained[EW_MASS][0], u = energy + r.node[0].gained[EW_ENERGY][0];
    for (int l = 0; l < EW_LANES; l++)
      node_set(&r.node[0], l, (GAMMA - 1) * u / volume, u / m / cv);
    ring_add(&g, r.time[0], r.node[0].pressure_pa[0] - 1e5);
  }
  double area = G_PI / 4 * 0.04 * 0.04, k = sqrt(area / (volume * length));
  for (int i = 0; i < 50; i++) /* tan(kL) = A/(V k) */
    k = k - (k * tan(k * length) - area / volume) /
                (tan(k * length) + k * length * (1 + pow(tan(k * length), 2)));
  double want = k * c / (2 * G_PI);
  print_message("Helmholtz: %.2f Hz, exact %.2f\n", ring_frequency(&g), want);
  assert_true(fabs(ring_frequency(&g) / want - 1) < 0.01);
  ew_pipes_free(r.pipes);
}

static double total(const struct rig *r, int k, int lane) {
  return ew_pipes_total(r->pipes, r->pipes->conserved[k], lane);
}

static void junction_splits_a_pulse(void **state) {
  (void)state;
  struct rig r;
  static const int cells[] = {150, 150, 150};
  struct ew_working_gas gas = perfect();
  rig_begin(&r, 3, cells, 1.5, 0.04);
  rig_end(&r, 0, 1, -1);
  rig_end(&r, 1, 0, -1);
  rig_end(&r, 2, 0, -1);
  rig_end(&r, 0, 0, 0); /* closed far ends */
  rig_end(&r, 1, 1, 0);
  rig_end(&r, 2, 1, 0);
  double c = sqrt(GAMMA * R * 300), rho = 1e5 / R / 300;
  for (int l = 0; l < EW_LANES; l++) {
    node_set(&r.node[0], l, 1e5, 300);
    for (int i = 0; i < 150; i++) {
      double x = (i + 0.5) / 150 * 1.5, s = (x - 0.9) / 0.12, dp = 1e3 * exp(-s * s / 2);
      ew_pipes_set_state(r.pipes, 0, i, l, &gas, 1e5 + dp, 300 * pow(1 + dp / 1e5, 2 / 7.0),
                         dp / (rho * c), 0, 0);
    }
  }
  double mass = total(&r, EW_MASS, 0), energy = total(&r, EW_ENERGY, 0);
  while (r.time[0] < 1.2 / c)
    rig_step(&r, 0.8);
  double low = 0, high = 0;
  for (int i = 0; i < 150; i++) {
    double back = r.pipes->primitive[EW_PRESSURE][ew_pipes_element(r.pipes, 0, i, 0)] - 1e5;
    double on = r.pipes->primitive[EW_PRESSURE][ew_pipes_element(r.pipes, 1, i, 0)] - 1e5;
    low = fmin(low, back / 1e3);
    high = fmax(high, on / 1e3);
  }
  print_message("junction: reflected %.3f (-1/3), transmitted %.3f (2/3)\n", low, high);
  assert_true(fabs(low + 1.0 / 3) < 0.015 && fabs(high - 2.0 / 3) < 0.02);
  assert_true(fabs(total(&r, EW_MASS, 0) / mass - 1) < 1e-13);
  assert_true(fabs(total(&r, EW_ENERGY, 0) / energy - 1) < 1e-13);
  ew_pipes_free(r.pipes);
}

static void two_joined_pipes_are_one(void **state) {
  (void)state;
  double flow[2];
  for (int joined = 0; joined < 2; joined++) {
    struct rig r;
    static const int cells[] = {20, 20}, one = 40;
    rig_begin(&r, 1 + joined, joined ? cells : &one, joined ? 0.4 : 0.8, 0.04);
    int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, joined, 1, 1);
    if (joined) {
      rig_end(&r, 0, 1, -1);
      rig_end(&r, 1, 0, -1);
    }
    for (int l = 0; l < EW_LANES; l++) {
      node_set(&r.node[0], l, 1.35e5, 300);
      node_set(&r.node[1], l, 1e5, 300);
      open_to(&r.end[a], l, 1);
      open_to(&r.end[b], l, 1);
    }
    for (int n = 0; n < 6000; n++)
      rig_step(&r, 0.8);
    flow[joined] = r.end[a].flow_kg_s[0];
    ew_pipes_free(r.pipes);
  }
  print_message("two joined pipes against one: %.5f\n", flow[1] / flow[0]);
  assert_true(fabs(flow[1] / flow[0] - 1) < 2e-3);
}

static double fanno(double m) {
  return (1 - m * m) / (GAMMA * m * m) +
         (GAMMA + 1) / (2 * GAMMA) * log((GAMMA + 1) * m * m / (2 + (GAMMA - 1) * m * m));
}

static double mach(const struct rig *r, int cell, double *p) {
  gsize e = ew_pipes_element(r->pipes, 0, cell, 0);
  double t = r->pipes->primitive[EW_TEMPERATURE][e];
  *p = r->pipes->primitive[EW_PRESSURE][e];
  return r->pipes->primitive[EW_VELOCITY][e] / sqrt(GAMMA * R * t);
}

static void fanno_flow(void **state) {
  (void)state;
  /* Tabulated 4fL/D of Shapiro: 1.06906 at M 0.5, 14.53327 at 0.2. */
  assert_true(fabs(fanno(0.5) - 1.06906) < 1e-5 && fabs(fanno(0.2) - 14.53327) < 1e-5);
  struct rig r;
  int cells = 200;
  rig_begin(&r, 1, &cells, 4, 0.04);
  r.physics.friction = 1;
  int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, 0, 1, 1);
  for (int l = 0; l < EW_LANES; l++) {
    node_set(&r.node[0], l, 3e5, 300);
    node_set(&r.node[1], l, 1.2e5, 300);
    open_to(&r.end[a], l, 1);
    open_to(&r.end[b], l, 1);
  }
  for (int n = 0; n < 20000; n++)
    rig_step(&r, 0.8);
  double p1, p2, m1 = mach(&r, 20, &p1), m2 = mach(&r, 180, &p2);
  double parameter = 4 * 0.004 * (160 * 0.02) / 0.04; /* Re > 1.6e5: the floor of f */
  print_message("Fanno: M %.4f to %.4f, 4fL/D %.4f, want %.4f\n", m1, m2, fanno(m1) - fanno(m2),
                parameter);
  assert_true(m2 > m1 + 0.1);
  assert_true(fabs((fanno(m1) - fanno(m2)) / parameter - 1) < 0.01);
  double ratio1 = 1 / m1 * sqrt((GAMMA + 1) / (2 + (GAMMA - 1) * m1 * m1));
  double ratio2 = 1 / m2 * sqrt((GAMMA + 1) / (2 + (GAMMA - 1) * m2 * m2));
  assert_true(fabs((p2 / p1) / (ratio2 / ratio1) - 1) < 0.01);
  ew_pipes_free(r.pipes);
}

/* A convergent-divergent nozzle run supersonic: Mach number at A/A* of 1.17617 is 1.5, of 1.68750 is 2
 * (NACA Report 1135). */
static void supersonic_nozzle(void **state) {
  (void)state;
  struct rig r;
  int cells = 400;
  rig_begin(&r, 1, &cells, 1, 0.04);
  double d[401];
  for (int i = 0; i <= cells; i++) {
    double x = i / 400.0,
           ratio = x < 0.3 ? 1 + 2 * pow((0.3 - x) / 0.3, 2) : 1 + 0.9 * pow((x - 0.3) / 0.7, 2);
    d[i] = 0.03 * sqrt(ratio);
  }
  for (int l = 0; l < EW_LANES; l++)
    ew_pipes_shape(r.pipes, 0, l, 1, d, 0, NULL, NULL);
  struct ew_working_gas gas = perfect();
  int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, 0, 1, 1);
  for (int l = 0; l < EW_LANES; l++) {
    node_set(&r.node[0], l, 6e5, 300);
    node_set(&r.node[1], l, 0.3e5, 300);
    open_to(&r.end[a], l, 1);
    open_to(&r.end[b], l, 1);
    for (int c = 0; c < cells; c++)
      ew_pipes_set_state(r.pipes, 0, c, l, &gas, c < 120 ? 5e5 : 0.5e5, 300, 0, 0, 0);
  }
  for (int n = 0; n < 15000; n++)
    rig_step(&r, 0.8);
  static const double want[][3] = {{1.17617, 1.5, 0.27240}, {1.68750, 2.0, 0.12780}};
  for (int i = 0; i < 2; i++) {
    double x = 0.3 + 0.7 * sqrt((want[i][0] - 1) / 0.9), p, pressure;
    int c = (int)(x * 400 - 0.5);
    double m0 = mach(&r, c, &p), m1 = mach(&r, c + 1, &pressure), w = x * 400 - 0.5 - c;
    double m = m0 + w * (m1 - m0);
    p = (p + w * (pressure - p)) / 6e5;
    print_message("nozzle A/A* %.5f: M %.4f (%.1f), p/p0 %.5f (%.5f)\n", want[i][0], m, want[i][1],
                  p, want[i][2]);
    assert_true(fabs(m / want[i][1] - 1) < 0.01 && fabs(p / want[i][2] - 1) < 0.015);
  }
  ew_pipes_free(r.pipes);
}

/* A vessel of 35 cm3 at 6 bar, 1,200 K blows through an opening port: pressures stay positive and the
 * energy audit closes. */
static void blowdown(void **state) {
  (void)state;
  struct rig r;
  int cells = 30;
  double volume = 35e-6, cv = R / (GAMMA - 1), least_p = 1e9;
  rig_begin(&r, 1, &cells, 0.6, 0.034);
  int a = rig_end(&r, 0, 0, 0), b = rig_end(&r, 0, 1, 1);
  double mass = 6e5 * volume / (R * 1200), energy = mass * cv * 1200;
  double before = total(&r, EW_ENERGY, 0) + energy;
  for (int l = 0; l < EW_LANES; l++) {
    node_set(&r.node[0], l, 6e5, 1200);
    node_set(&r.node[1], l, 1e5, 300);
    open_to(&r.end[b], l, 1);
  }
  for (int n = 0; n < 1500; n++) {
    for (int l = 0; l < EW_LANES; l++)
      open_to(&r.end[a], l, fmin(0.6, n / 500.0));
    rig_step(&r, 0.85);
    double m = mass + r.node[0].gained[EW_MASS][0], u = energy + r.node[0].gained[EW_ENERGY][0];
    for (int l = 0; l < EW_LANES; l++)
      node_set(&r.node[0], l, (GAMMA - 1) * u / volume, u / m / cv);
    least_p = fmin(least_p, r.node[0].pressure_pa[0]);
    for (int c = 0; c < cells; c++)
      least_p = fmin(least_p, r.pipes->primitive[EW_PRESSURE][ew_pipes_element(r.pipes, 0, c, 0)]);
  }
  double after = total(&r, EW_ENERGY, 0) + energy + r.node[0].gained[EW_ENERGY][0] +
                 r.node[1].gained[EW_ENERGY][0];
  assert_true(least_p > 2e4);
  print_message("blowdown: 6 bar to %.3f bar, least %.3f bar\n", r.node[0].pressure_pa[0] / 1e5,
                least_p / 1e5);
  assert_true(fabs(r.node[0].pressure_pa[0] / 1e5 - 1) < 0.3);
  assert_true(fabs(after / before - 1) < 1e-12);
  ew_pipes_free(r.pipes);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(orifice_values),
      cmocka_unit_test(steady_discharge),
      cmocka_unit_test(quarter_wave),
      cmocka_unit_test(helmholtz),
      cmocka_unit_test(junction_splits_a_pulse),
      cmocka_unit_test(two_joined_pipes_are_one),
      cmocka_unit_test(fanno_flow),
      cmocka_unit_test(supersonic_nozzle),
      cmocka_unit_test(blowdown),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
