/* The cylinder alone: ideal cycles, finite heat release, Woschni, audit, shape of the burn model.
 *
 * Otto efficiency 1 - r^(1-g). Finite heat release: Ferguson and Kirkpatrick, Internal Combustion
 * Engines, ch. 2 form (constant gamma, a = 5, n = 3, Q/(p1 V1) = 20, r = 10, 40 deg), values from an
 * independent integration at 1e-11. Woschni SAE 670931 in Heywood's form, checked by hand. */
#include "cycle/cylinder.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static const struct ew_cycle_cylinder square = {0, 0.086, 0.086, 50, 0, 10, 1.15, 1, 460};

/* A gas of constant gamma whose burned kind holds q less: burning by composition releases q. */
static struct ew_working_gas releasing(double gamma, double q) {
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(gamma, 287, &gas);
  gas.energy_j_kg[EW_GAS_BURNED][0] = -q;
  return gas;
}

static struct ew_cycle_model model_of(const struct ew_cycle_cylinder *shape) {
  struct ew_cycle_model m;
  ew_cycle_model_defaults(&m);
  m.cylinders = 1;
  m.cylinder = shape;
  return m;
}

static void finite_heat_release(void **state) {
  (void)state;
  static const struct {
    double gamma, start, peak, work;
  } rows[] = {{1.4, -20, 87.7823, 11.84032},
              {1.4, 0, 53.5326, 11.03578},
              {1.4, -40, 112.7949, 11.13912},
              {1.3, -20, 67.2266, 9.79960},
              {1.3, 0, 41.8357, 9.05543}};
  struct ew_cycle_cylinder shape = square;
  shape.rod_m = 4000; /* V = V1 (1 + (r-1)/2 (1 - cos))/r wants an endless rod */
  struct ew_cycle_model m = model_of(&shape);
  m.woschni_factor = 0;
  m.combustion.fixed_duration_deg = 40;
  m.combustion.fixed_exponent = 3;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double t1 = 300, q = 20 * 287 * t1;
    struct ew_working_gas gas = releasing(rows[i].gamma, q);
    struct ew_cylinder_frame f;
    struct ew_cylinder c;
    ew_cylinder_frame_make(m.cylinder, &m.combustion, m.woschni_factor, &gas, 3000, &f);
    ew_cylinder_fill(&f, -180, 1e5, t1, 0, 0, &c);
    ew_cylinder_shut(&f, &c);
    double scale = 1e5 * c.volume_m3;
    c = ew_cylinder_closed(&f, &c, -180, 180, -rows[i].start, 0.1);
    print_message("g %.1f start %3.0f: p %.4f (%.4f) W %.5f (%.5f)\n", rows[i].gamma, rows[i].start,
                  c.last.peak_pa / 1e5, rows[i].peak, c.work_j / scale, rows[i].work);
    assert_true(fabs(c.last.peak_pa / 1e5 / rows[i].peak - 1) < 1e-3);
    assert_true(fabs(c.work_j / scale / rows[i].work - 1) < 5e-4);
  }
}

static void otto_in_the_limit(void **state) {
  (void)state;
  for (double gamma = 1.3; gamma < 1.45; gamma += 0.1) {
    struct ew_cycle_model m = model_of(&square);
    m.woschni_factor = 0;
    m.combustion.fixed_duration_deg = 0.02;
    m.combustion.fixed_exponent = 1;
    struct ew_working_gas gas = releasing(gamma, 1e6);
    struct ew_cylinder_frame f;
    struct ew_cylinder c;
    ew_cylinder_frame_make(m.cylinder, &m.combustion, m.woschni_factor, &gas, 3000, &f);
    ew_cylinder_fill(&f, -180, 1e5, 300, 0, 0, &c);
    ew_cylinder_shut(&f, &c);
    double released = 1e6 * c.mass_kg;
    c = ew_cylinder_closed(&f, &c, -180, 180, 0.01, 0.25);
    double want = 1 - pow(10, 1 - gamma), got = c.work_j / (released * c.x);
    print_message("Otto, gamma %.1f: %.5f (%.5f)\n", gamma, got, want);
    assert_true(fabs(got - want) < 5e-4);
  }
}

/* Air compressed and expanded without heat: no net work, and the entropy of the NASA polynomials, which
 * the cylinder does not use, stays the same up to top dead centre. */
static void motored_is_isentropic(void **state) {
  (void)state;
  struct ew_cycle_model m = model_of(&square);
  m.woschni_factor = 0;
  struct ew_working_gas gas;
  assert_true(ew_working_gas_make(m.fuel, 1, 0, &gas, NULL));
  struct ew_cylinder_frame f;
  struct ew_cylinder c;
  ew_cylinder_frame_make(m.cylinder, &m.combustion, m.woschni_factor, &gas, 3000, &f);
  ew_cylinder_fill(&f, -180, 1e5, 330, 0, 0, &c);
  ew_cylinder_shut(&f, &c);
  struct ew_cylinder top = ew_cylinder_closed(&f, &c, -180, 0, -15, 0.5);
  struct ew_cylinder end = ew_cylinder_closed(&f, &c, -180, 180, -15, 0.5);
  double t = top.temperature_k, entropy = 0, moles = 1 + 3.773;
  static const enum ew_species species[] = {EW_O2, EW_N2};
  static const double share[] = {1, 3.773};
  for (int i = 0; i < 2; i++)
    entropy +=
        share[i] / moles *
        (ew_species_entropy_j_mol_k(species[i], t) - ew_species_entropy_j_mol_k(species[i], 330));
  double want = 1e5 * exp(entropy / EW_GAS_CONSTANT_J_MOL_K);
  print_message(
      "motored: %.3f bar and %.1f K at the top, by entropy %.3f bar; net work %.1e of it\n",
      top.pressure_pa / 1e5, t, want / 1e5, end.work_j / top.work_j);
  assert_true(fabs(top.pressure_pa / want - 1) < 4e-3);
  assert_true(fabs(end.work_j) < 1e-5 * fabs(top.work_j));
}

static void woschni_by_hand(void **state) {
  (void)state;
  assert_true(fabs(ew_woschni_w_m2_k(0.086, 4e6, 2200, 42.0456) / 1171.14 - 1) < 1e-4);
  assert_true(fabs(ew_woschni_w_m2_k(0.086, 1e6, 600, 22.8) / 483.819 - 1) < 1e-4);
  assert_true(fabs(ew_woschni_w_m2_k(0.086, 1e5, 350, 61.8) / 229.019 - 1) < 1e-4);
}

static struct ew_working_gas petrol(double phi) {
  struct ew_working_gas gas;
  assert_true(ew_working_gas_make(ew_combustible_find("petrol"), phi, 0, &gas, NULL));
  return gas;
}

static struct ew_cylinder fired(const struct ew_cycle_model *m, const struct ew_working_gas *gas,
                                double rpm, double spark, double residual) {
  struct ew_cylinder_frame f;
  struct ew_cylinder c;
  ew_cylinder_frame_make(m->cylinder, &m->combustion, m->woschni_factor, gas, rpm, &f);
  ew_cylinder_fill(&f, -125, 1.05e5, 360, residual, (1 - residual) * gas->fuel_share, &c);
  ew_cylinder_shut(&f, &c);
  double before = c.energy_j;
  c = ew_cylinder_closed(&f, &c, -125, 130, spark, 1);
  double apart = c.energy_j - (before - c.work_j - c.heat_j);
  assert_true(fabs(apart) < 1e-12 * fabs(c.work_j) * 100);
  return c;
}

static void real_gas_burn(void **state) {
  (void)state;
  struct ew_cycle_cylinder shape = {0, 0.086, 0.086, 0.143, 0, 10.5, 1.15, 1, 460};
  struct ew_cycle_model m = model_of(&shape);
  m.combustion.turbulence = 1.15;
  struct ew_working_gas gas = petrol(1.1);
  struct ew_cylinder base = fired(&m, &gas, 3000, 26, 0.03);
  double d10 = base.last.ca10_deg + 26, d90 = base.last.ca90_deg - base.last.ca10_deg;
  print_message("3000 rpm: 0-10 %.1f, 10-90 %.1f, CA50 %.1f, p_max %.1f bar at %.1f, knock %.2f, "
                "heat %.0f J, work %.0f J\n",
                d10, d90, base.last.ca50_deg, base.last.peak_pa / 1e5, base.last.peak_deg,
                base.last.knock, base.heat_j, base.work_j);
  /* Four valves and tumble at 3,000 rpm: some 16 to 22 degrees to a tenth, 17 to 24 from there to nine tenths (common practice, no
   * source); best spark, which follows from both, is held by tests/rates/cycle/trends.py. */
  assert_true(d10 > 16 && d10 < 22 && d90 > 17 && d90 < 24);
  assert_true(base.last.peak_pa > 40e5 && base.last.peak_pa < 90e5);
  /* Responses: slower at higher speed, lean, and with residual gas. */
  struct ew_working_gas lean = petrol(0.85);
  assert_true(fired(&m, &gas, 6000, 26, 0.03).last.ca50_deg > base.last.ca50_deg + 1);
  assert_true(fired(&m, &lean, 3000, 26, 0.03).last.ca50_deg > base.last.ca50_deg + 2);
  assert_true(fired(&m, &gas, 3000, 26, 0.12).last.ca50_deg > base.last.ca50_deg + 2);
  assert_true(fired(&m, &gas, 3000, 36, 0.03).last.peak_pa > base.last.peak_pa + 5e5);
  assert_true(fired(&m, &gas, 3000, 36, 0.03).last.knock > base.last.knock);
}

static void spark_sweep_has_one_flat_top(void **state) {
  (void)state;
  struct ew_cycle_cylinder shape = {0, 0.086, 0.086, 0.143, 0, 10.5, 1.15, 1, 460};
  struct ew_cycle_model m = model_of(&shape);
  m.combustion.turbulence = 1.15;
  struct ew_working_gas gas = petrol(1.1);
  double work[41], best = 0;
  int at = 0, rises = 0;
  for (int i = 0; i <= 40; i++) {
    work[i] = fired(&m, &gas, 2000, 5 + i, 0.03).work_j;
    if (work[i] > best)
      best = work[at = i];
    if (i > 1 && (work[i] > work[i - 1]) != (work[i - 1] > work[i - 2]))
      rises++;
  }
  assert_int_equal(rises, 1);
  double five = 1 - work[at - 5] / best, ten = 1 - work[at - 10] / best;
  print_message("2000 rpm: best spark %d, loss %.2f %% at 5 deg late, %.2f %% at 10\n", 5 + at,
                100 * five, 100 * ten);
  assert_true(ten / five > 2.5 && ten / five < 5.5);
  assert_true(ten > 0.015 && ten < 0.05);
}

static void compression_pays_as_published(void **state) {
  (void)
      state; /* 9 to 11: 3 to 6 % indicated, constant-gamma Otto at 1.3 says 6.2 (Heywood ch. 15) */
  double work[2];
  struct ew_working_gas gas = petrol(1.1);
  for (int i = 0; i < 2; i++) {
    struct ew_cycle_cylinder shape = {0, 0.086, 0.086, 0.143, 0, 9 + 2 * i, 1.15, 1, 460};
    struct ew_cycle_model m = model_of(&shape);
    work[i] = 0;
    for (int s = 10; s < 45; s++)
      work[i] = fmax(work[i], fired(&m, &gas, 4000, s, 0.03).work_j /
                                  (1 + 1 / (8.0 + 2 * i))); /* the same displaced charge */
  }
  double gain = work[1] / work[0] - 1;
  print_message("compression 9 to 11: %+.1f %%\n", 100 * gain);
  assert_true(gain > 0.025 && gain < 0.065);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(finite_heat_release),
      cmocka_unit_test(otto_in_the_limit),
      cmocka_unit_test(motored_is_isentropic),
      cmocka_unit_test(woschni_by_hand),
      cmocka_unit_test(real_gas_burn),
      cmocka_unit_test(spark_sweep_has_one_flat_top),
      cmocka_unit_test(compression_pays_as_published),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
