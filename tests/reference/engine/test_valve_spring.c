/* Springs, contact loss, rocker. Sources: closed form of a harmonic cam; direct integration of the
 * equation of motion of a mass on a stiff one-sided contact with GSL's ODE solver (rk8pd); energy
 * reduction and surge by their closed forms (S. S. Rao, Mechanical Vibrations, from memory). */
#include "near.h"
#include "engine/rocker.h"
#include "engine/valve_spring.h"
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

/* l = A/2 (1 + cos t): nose deceleration A/2, so n = 30/pi sqrt((F0 + k A) / (m A/2)). */
static void a_harmonic_cam(void **state) {
  (void)state;
  struct ew_engine e = engine_of("inlet:\n  spring_force: 300 N\n  spring_rate: 40 N/mm\n"
                                 "  effective_mass: 250 g\n");
  struct ew_valve_motion m = {.rocker_ratio = 1,
                              .lobe = {.kind = EW_LOBE_FITTED, .harmonics = 2, .reach_deg = 180}};
  m.lobe.cosine[0] = m.lobe.cosine[2] = 5e-3;
  struct ew_contact_loss loss = ew_contact_loss_of(&e.inlet, &m);
  assert_relative(loss.speed_rpm, 30 / G_PI * sqrt((300 + 40000 * 10e-3) / (0.25 * 5e-3)), 1e-6);
  assert_near(loss.from_centre_deg, 0, 0.11);
  ew_engine_clear(&e);
}

struct train {
  const struct ew_engine_valves *side;
  const struct ew_valve_motion *motion;
  double mass, w, stiffness, damping;
};

static double contact_force(const struct train *t, double angle_rad, const double y[2]) {
  struct ew_lobe_point p = ew_lobe_at(&t->motion->lobe, angle_rad * 180 / G_PI);
  double cam = p.lift_m * t->motion->rocker_ratio - t->motion->lash_m;
  double speed = p.velocity_m_rad * t->motion->rocker_ratio * t->w;
  return fmax(0, t->stiffness * (cam - y[0]) + t->damping * (speed - y[1]));
}

static int motion(double time, const double y[], double dy[], void *parameters) {
  const struct train *t = parameters;
  dy[0] = y[1];
  dy[1] = (contact_force(t, t->w * time, y) - ew_spring_force_n(t->side, y[0])) / t->mass;
  return GSL_SUCCESS;
}

/* Whether the contact force reaches zero anywhere between the flanks at this speed. */
static gboolean lets_go(struct train *t, double speed_rpm, double from_deg) {
  t->w = speed_rpm * G_PI / 30;
  gsl_odeiv2_system system = {motion, NULL, 2, t};
  gsl_odeiv2_driver *driver =
      gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1e-7, 1e-12, 1e-10);
  struct ew_lobe_point p = ew_lobe_at(&t->motion->lobe, from_deg);
  double ratio = t->motion->rocker_ratio, cam = p.lift_m * ratio - t->motion->lash_m;
  double pressed =
      t->mass * p.acceleration_m_rad2 * ratio * t->w * t->w + ew_spring_force_n(t->side, cam);
  double y[2] = {cam - pressed / t->stiffness, p.velocity_m_rad * ratio * t->w};
  double time = from_deg * G_PI / 180 / t->w, least = INFINITY;
  for (double angle = from_deg + 0.25; angle <= -from_deg; angle += 0.25) {
    gsl_odeiv2_driver_apply(driver, &time, angle * G_PI / 180 / t->w, y);
    least = fmin(least, contact_force(t, angle * G_PI / 180, y));
  }
  gsl_odeiv2_driver_free(driver);
  return least <= 0;
}

static double integrated_speed(struct train *t, double guess) {
  double low = guess * 0.9, high = guess * 1.1;
  assert_false(lets_go(t, low, -110));
  assert_true(lets_go(t, high, -110));
  for (int i = 0; i < 12; i++) {
    double middle = (low + high) / 2;
    if (lets_go(t, middle, -110))
      high = middle;
    else
      low = middle;
  }
  return (low + high) / 2;
}

static void contact_loss_agrees_with_the_motion(void **state) {
  (void)state;
  static const char *const yaml[] = {
      "cam:\n  lobe_separation: 108 deg\n  inlet_centreline: 104 deg\n"
      "inlet:\n  lobe_lift: 7.55 mm\n  rocker_ratio: 1.55\n  lash: 0.40 mm\n  duration: 284 deg\n"
      "  check_duration: 248 deg\n  ramp_height: 0.32 mm\n  ramp_length: 34 deg\n"
      "  spring_force: 480 N\n  spring_rate: 62 N/mm\n  effective_mass: 365 g\n",
      "cam:\n  lobe_separation: 110 deg\n  inlet_centreline: 107 deg\n"
      "inlet:\n  lobe_lift: 9.0 mm\n  duration: 260 deg\n  duration_lift: 0.15 mm\n"
      "  check_duration: 205 deg\n  ramp_height: 0.10 mm\n  ramp_length: 30 deg\n"
      "  spring_force: 260 N\n  spring_rate: 34 N/mm\n  effective_mass: 118 g\n"};
  for (int i = 0; i < 2; i++) {
    struct ew_engine e = engine_of(yaml[i]);
    struct ew_valve_motion m;
    assert_true(ew_valve_motion_of(&e, EW_INLET, &m, NULL));
    double mass = e.inlet.effective_mass_kg, stiffness = 1e9;
    struct train t = {&e.inlet, &m, mass, 0, stiffness, 2 * sqrt(stiffness * mass)};
    double closed = ew_contact_loss_of(&e.inlet, &m).speed_rpm;
    double integrated = integrated_speed(&t, closed);
    print_message("contact loss: %.0f rpm by the formula, %.0f by integration\n", closed,
                  integrated);
    assert_relative(closed, integrated, 0.01);
    ew_engine_clear(&e);
  }
}

/* Kinetic energy of the parts at one valve speed equals that of the effective mass. */
static void effective_mass(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("inlet:\n  rocker_ratio: 1.6\n  valve_mass: 110 g\n  retainer_mass: 25 g\n"
                "  spring_mass: 90 g\n  rocker_inertia: 0.00015 kg·m2\n  rocker_arm: 40 mm\n"
                "  pushrod_mass: 70 g\n  lifter_mass: 100 g\n  spring_rate: 60 N/mm\n");
  double v = 3, lifter = v / 1.6, turning = v / 0.040;
  double energy = 0.5 * (0.110 + 0.025 + 0.090 / 3) * v * v + 0.5 * 0.170 * lifter * lifter +
                  0.5 * 0.00015 * turning * turning;
  assert_relative(0.5 * ew_effective_mass_kg(&e.inlet) * v * v, energy, 1e-12);
  assert_relative(ew_spring_surge_hz(&e.inlet), 0.5 * sqrt(60000 / 0.090), 1e-12);
  ew_engine_clear(&e);
}

static void spring_heights(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("inlet:\n  lobe_lift: 7.55 mm\n  rocker_ratio: 1.55\n  lash: 0.40 mm\n  "
                "spring_height: 47 mm\n"
                "  spring_force: 480 N\n  spring_rate: 62 N/mm\n  spring_bind: 33.6 mm\n"
                "  retainer_to_seal: 13.6 mm\n");
  assert_near(ew_net_lift_m(&e.inlet) * 1e3, 11.3025, 1e-9);
  assert_near(ew_spring_force_n(&e.inlet, ew_net_lift_m(&e.inlet)), 1180.755, 1e-6);
  assert_near(ew_coil_bind_gap_m(&e.inlet) * 1e3, 47 - 11.7025 - 33.6, 1e-9);
  assert_near(ew_retainer_gap_m(&e.inlet) * 1e3, 13.6 - 11.7025, 1e-9);
  ew_engine_clear(&e);
}

/* The wipe is least when the tip is as far above the pivot closed as below it open, and following
 * the correction (a turn of the rocker) gets there. */
static void rocker_wipe(void **state) {
  (void)state;
  double arm = 0.039, lift = 0.0113, least = ew_rocker_wipe_m(arm, lift / 2, lift);
  for (double h = -0.004; h < 0.014; h += 0.0002)
    assert_true(ew_rocker_wipe_m(arm, h, lift) >= least - 1e-12);
  assert_near(least, arm - sqrt(arm * arm - lift * lift / 4), 1e-12);
  double height = 0.0080, longer = ew_pushrod_correction_m(arm, height, lift, 1.55);
  double angle = asin(height / arm) - longer * 1.55 / arm;
  assert_near(arm * sin(angle), lift / 2, 1e-12);
  assert_true(longer > 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_harmonic_cam), cmocka_unit_test(contact_loss_agrees_with_the_motion),
      cmocka_unit_test(effective_mass), cmocka_unit_test(spring_heights),
      cmocka_unit_test(rocker_wipe)};
  return cmocka_run_group_tests_name("valve spring", tests, NULL, NULL);
}
