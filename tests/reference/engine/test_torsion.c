/* Torsion. Sources: closed forms of two and three inertias (J. P. Den Hartog, Mechanical Vibrations,
 * ch. 5, from memory), and of a free row of n equal inertias, f_j = 2 sqrt(k/J) sin(j pi / 2n) / 2 pi.
 * The barred range is compared with IACS UR M68 (from memory) by hand. */
#include "near.h"
#include "engine/torsion.h"

static void two_inertias(void **state) {
  (void)state;
  const double inertia[] = {0.155, 0.135}, stiffness[] = {2500};
  double f;
  ew_torsion_frequencies_hz(inertia, stiffness, 2, &f);
  assert_relative(f, sqrt(2500 * (1 / 0.155 + 1 / 0.135)) / (2 * G_PI), 1e-12);
  assert_near(60 * f / 1.5, 1185, 1);
  assert_near(60 * f / 3, 592, 1);
}

/* w^4 - w^2 (k1 (1/J1 + 1/J2) + k2 (1/J2 + 1/J3)) + k1 k2 (J1 + J2 + J3) / (J1 J2 J3) = 0 */
static void three_inertias(void **state) {
  (void)state;
  const double j[] = {0.29, 0.045, 0.24}, k[] = {6500, 60000};
  double b = k[0] * (1 / j[0] + 1 / j[1]) + k[1] * (1 / j[1] + 1 / j[2]);
  double c = k[0] * k[1] * (j[0] + j[1] + j[2]) / (j[0] * j[1] * j[2]);
  double f[2];
  ew_torsion_frequencies_hz(j, k, 3, f);
  assert_relative(f[0], sqrt((b - sqrt(b * b - 4 * c)) / 2) / (2 * G_PI), 1e-9);
  assert_relative(f[1], sqrt((b + sqrt(b * b - 4 * c)) / 2) / (2 * G_PI), 1e-9);
}

static void a_free_row(void **state) {
  (void)state;
  double inertia[8], stiffness[7], f[7];
  for (int i = 0; i < 8; i++)
    inertia[i] = 0.02;
  for (int i = 0; i < 7; i++)
    stiffness[i] = 5e5;
  ew_torsion_frequencies_hz(inertia, stiffness, 8, f);
  for (int j = 1; j <= 7; j++)
    assert_relative(f[j - 1], 2 * sqrt(5e5 / 0.02) * sin(j * G_PI / 16) / (2 * G_PI), 1e-10);
}

static void a_barred_range(void **state) {
  (void)state;
  struct ew_barred_range r = ew_barred_range_of(29.62, 1.5, 7000);
  assert_near(r.critical_rpm, 1184.8, 0.01);
  assert_near(r.from_rpm, 16 * 1184.8 / (18 - 1184.8 / 7000), 0.01);
  assert_near(r.to_rpm, (18 - 1184.8 / 7000) * 1184.8 / 16, 0.01);
  assert_true(r.from_rpm < 1150 && r.to_rpm > 1150 && r.to_rpm < 1350);
}

static void only_what_is_given(void **state) {
  (void)state;
  double f[EW_TORSION_MAX];
  struct ew_engine engine =
      engine_of("inertia: 0.2 kg·m2\ntorsion:\n  absorber_inertia: 0.1 kg·m2\n");
  assert_int_equal(ew_torsion_of(&engine, f), 0);
  engine.torsion.coupling_stiffness_n_m_rad = 1000;
  assert_int_equal(ew_torsion_of(&engine, f), 1);
  engine.torsion.shaft_inertia_kg_m2 = 0.03;
  engine.torsion.shaft_stiffness_n_m_rad = 1e5;
  assert_int_equal(ew_torsion_of(&engine, f), 2);
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(two_inertias),
                                     cmocka_unit_test(three_inertias), cmocka_unit_test(a_free_row),
                                     cmocka_unit_test(a_barred_range),
                                     cmocka_unit_test(only_what_is_given)};
  return cmocka_run_group_tests_name("torsion", tests, NULL, NULL);
}
