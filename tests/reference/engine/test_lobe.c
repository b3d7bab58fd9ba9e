/* Lobes. Sources: derivatives against central differences; the durations that went in; and lobes made
 * from known harmonics (powers of a cosine of a quarter of the crank angle are finite sums of
 * harmonics of the cam's turn, de Moivre), read with noise and rounding and recovered. */
#include "near.h"
#include "engine/lobe_built.h"
#include "engine/lobe_fit.h"

#define RAD (G_PI / 180)

static const struct ew_lobe_card cards[] = {
    {7.55e-3, 284, 0.5e-3, 248, 1.27e-3, 0.32e-3, 34},
    {7.40e-3, 288, 0.5e-3, 252, 1.27e-3, 0.36e-3, 36},
    {9.0e-3, 260, 0.15e-3, 205, 1.27e-3, 0.10e-3, 30},
    {10.2e-3, 270, 0.5e-3, 236, 1.27e-3, 0.30e-3, 30},
};

static void built_lobes_meet_their_card(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(cards); i++) {
    struct ew_lobe lobe;
    g_autoptr(GError) error = NULL;
    assert_true_says(ew_lobe_build(&cards[i], &lobe, &error), error ? error->message : "");
    assert_near(ew_lobe_at(&lobe, 0).lift_m, cards[i].lift_m, 1e-12);
    assert_near(ew_lobe_duration_deg(&lobe, cards[i].duration_lift_m, NULL, NULL),
                cards[i].duration_deg, 1e-6);
    assert_near(ew_lobe_duration_deg(&lobe, cards[i].check_lift_m, NULL, NULL),
                cards[i].check_duration_deg, 1e-6);
    assert_near(ew_lobe_at(&lobe, lobe.reach_deg + 1).lift_m, 0, 0);
    assert_near(ew_lobe_at(&lobe, lobe.reach_deg - 1e-6).lift_m, 0, 1e-9);
  }
}

/* Lift, velocity, acceleration and jerk hang together through ramp, flank and nose. */
static void derivatives_fit_each_other(void **state) {
  (void)state;
  const double step = 0.002;
  struct ew_lobe lobe;
  assert_true(ew_lobe_build(&cards[0], &lobe, NULL));
  struct ew_lobe_extremes most = ew_lobe_extremes_of(&lobe);
  for (double angle = -200; angle <= 200; angle += 0.37) {
    struct ew_lobe_point a = ew_lobe_at(&lobe, angle - step), b = ew_lobe_at(&lobe, angle + step);
    struct ew_lobe_point here = ew_lobe_at(&lobe, angle);
    double h = 2 * step * RAD;
    assert_near(here.velocity_m_rad, (b.lift_m - a.lift_m) / h, 1e-5 * most.velocity_m_rad);
    assert_near(here.acceleration_m_rad2, (b.velocity_m_rad - a.velocity_m_rad) / h,
                1e-3 * most.acceleration_m_rad2);
    assert_near(here.jerk_m_rad3, (b.acceleration_m_rad2 - a.acceleration_m_rad2) / h,
                2e-2 * most.jerk_m_rad3);
  }
}

static void impossible_cards_are_refused(void **state) {
  (void)state;
  static const struct {
    const char *says;
    struct ew_lobe_card card;
  } rows[] = {
      {"flanks steeper than any smooth lobe", {7.5e-3, 252, 0.5e-3, 248, 1.27e-3, 0.3e-3, 30}},
      {"flanks slower than any smooth lobe", {7.5e-3, 380, 0.5e-3, 200, 1.27e-3, 0.3e-3, 30}},
      {"the longer duration at the higher lift", {7.5e-3, 240, 0.5e-3, 250, 1.27e-3, 0.3e-3, 30}},
      {"a check lift above the lobe", {1.2e-3, 280, 0.5e-3, 250, 1.27e-3, 0.3e-3, 30}},
      {"a lift that is missing", {NAN, 280, 0.5e-3, 250, 1.27e-3, 0.3e-3, 30}},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_lobe lobe;
    g_autoptr(GError) error = NULL;
    assert_true_says(!ew_lobe_build(&rows[i].card, &lobe, &error), rows[i].says);
    assert_non_null(error);
  }
}

/* Four bumps in a row: wide, with quick flanks, harmonics of the cam up to 30. */
static struct ew_lobe_point known(double angle) {
  static const double shift[] = {-48, -16, 16, 48}, weight[] = {0.8, 1, 1, 0.8};
  struct ew_lobe_point p = {0};
  for (int i = 0; i < 4; i++) {
    double u = (angle - shift[i]) * RAD / 4, c = cos(u), s = sin(u), n = 60, k = 3.55e-3;
    p.lift_m += weight[i] * k * pow(c, n);
    p.velocity_m_rad -= weight[i] * k * n / 4 * pow(c, n - 1) * s;
    p.acceleration_m_rad2 += weight[i] * k * n / 16 * ((n - 1) * pow(c, n - 2) * s * s - pow(c, n));
  }
  return p;
}

/* Normal noise from a generator that is the same everywhere (Park and Miller; Box and Muller). */
static double noise(guint64 *seed) {
  double u[2];
  for (int i = 0; i < 2; i++) {
    *seed = *seed * 16807 % 2147483647;
    u[i] = (double)*seed / 2147483647;
  }
  return sqrt(-2 * log(u[0])) * cos(2 * G_PI * u[1]);
}

static gsize read_lobe(double every, double sd, double offset, double *angle, double *lift,
                       guint64 seed) {
  gsize n = 0;
  for (double a = -190; a <= 190; a += every) {
    angle[n] = a + offset;
    double y = known(a).lift_m + sd * noise(&seed);
    lift[n++] = sd > 0 ? round(y / 1e-5) * 1e-5 : y;
  }
  return n;
}

static void a_clean_lobe_comes_back(void **state) {
  (void)state;
  double angle[400], lift[400];
  struct ew_lobe_fit fit;
  gsize n = read_lobe(4, 0, 106, angle, lift, 1);
  assert_true(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, NULL));
  assert_near(fit.lobe.centre_deg, 106, 0.01);
  for (double a = -180; a <= 180; a += 3) {
    struct ew_lobe_point want = known(a), got = ew_lobe_at(&fit.lobe, a);
    assert_near(got.lift_m, want.lift_m, 2e-6);
    assert_near(got.acceleration_m_rad2, want.acceleration_m_rad2, 2e-4);
  }
}

/* Over twenty sets of readings: the curve lies within its stated error of the truth, and the stated
 * error is neither half nor twice the true one; the nose's deceleration is right within 6 %. */
static void noisy_readings_come_back(void **state) {
  (void)state;
  double squares = 0, stated = 0, nose = 0;
  int points = 0;
  for (guint64 seed = 1; seed <= 20; seed++) {
    double angle[400], lift[400], worst = 0;
    struct ew_lobe_fit fit;
    gsize n = read_lobe(4, 0.01e-3, 0, angle, lift, seed * 7919);
    assert_true(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, NULL));
    assert_near(fit.residual_sd_m, sqrt(0.01 * 0.01 + 0.01 * 0.01 / 12) * 1e-3, 0.003e-3);
    assert_near(fit.lobe.centre_deg, 0, 0.15);
    for (double a = -180; a <= 180; a += 2) {
      double off = ew_lobe_at(&fit.lobe, a - fit.lobe.centre_deg).lift_m - known(a).lift_m;
      worst = fmax(worst, fabs(off));
      squares += off * off;
      points++;
    }
    stated += fit.lift_sd_m * fit.lift_sd_m / 20;
    nose += ew_lobe_at(&fit.lobe, -fit.lobe.centre_deg).acceleration_m_rad2 / 20;
    assert_true(worst < 0.025e-3);
  }
  double truth = sqrt(squares / points);
  print_message("lobe from readings of 0.01 mm noise: rms error %.4f mm, stated %.4f mm\n",
                truth * 1e3, sqrt(stated) * 1e3);
  assert_true(sqrt(stated) > truth / 2 && sqrt(stated) < truth * 2);
  assert_relative(nose, known(0).acceleration_m_rad2, 0.06);
}

/* A lobe as shops have them, read every four degrees to a hundredth: what limits the speed, the
 * nose's deceleration, is right within 5 %. */
static void a_rounded_lobe_keeps_its_nose(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(cards); i++) {
    struct ew_lobe lobe;
    struct ew_lobe_fit fit;
    double angle[400], lift[400];
    gsize n = 0;
    assert_true(ew_lobe_build(&cards[i], &lobe, NULL));
    for (double a = -208; a <= 208; a += 4) {
      angle[n] = a;
      lift[n++] = round(ew_lobe_at(&lobe, a).lift_m / 1e-5) * 1e-5;
    }
    assert_true(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, NULL));
    double want = 0, got = 0;
    for (double a = -90; a <= 90; a += 0.5) {
      want = fmax(want, -ew_lobe_at(&lobe, a).acceleration_m_rad2);
      got = fmax(got, -ew_lobe_at(&fit.lobe, a).acceleration_m_rad2);
    }
    print_message("nose: %.3f mm/rad2 from rounded readings, %.3f true\n", got * 1e3, want * 1e3);
    assert_relative(got, want, 0.05);
  }
}

static void a_slipped_reading_is_found(void **state) {
  (void)state;
  double angle[400], lift[400];
  struct ew_lobe_fit fit;
  gsize n = read_lobe(4, 0.005e-3, 0, angle, lift, 99);
  lift[37] += 0.2e-3;
  assert_true(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, NULL));
  assert_int_equal(fit.worst, 37);
}

/* The dial's zero is the mean of all readings on the base circle, as many before the lobe as behind it: where the dial has moved by a
 * hundredth behind it, the nose is lower by half of that, and higher by as much where it has moved the other way. */
static void both_ends_are_the_base_circle(void **state) {
  (void)state;
  double nose[2];
  for (int way = 0; way < 2; way++) {
    double angle[400], lift[400], slip = way ? -0.01e-3 : 0.01e-3;
    struct ew_lobe_fit fit;
    gsize n = read_lobe(5, 0, 3, angle, lift, 1);
    for (gsize i = 0; i < n; i++)
      lift[i] += angle[i] > 153 ? slip : 0;
    assert_true(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, NULL));
    nose[way] = ew_lobe_at(&fit.lobe, 0).lift_m;
  }
  assert_near(nose[0] - nose[1], -0.01e-3, 1e-6);
}

static void half_a_lobe_is_refused(void **state) {
  (void)state;
  double angle[400], lift[400];
  struct ew_lobe_fit fit;
  gsize n = read_lobe(4, 0, 0, angle, lift, 1);
  g_autoptr(GError) one = NULL, two = NULL, three = NULL;
  assert_false(ew_lobe_fit(angle, lift, n * 2 / 3, 1.27e-3, &fit, &one));
  assert_non_null(one);
  assert_false(ew_lobe_fit(angle, lift, 10, 1.27e-3, &fit, &two));
  n = read_lobe(12, 0, 0, angle, lift, 1);
  assert_false(ew_lobe_fit(angle, lift, n, 1.27e-3, &fit, &three));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(built_lobes_meet_their_card),
                                     cmocka_unit_test(derivatives_fit_each_other),
                                     cmocka_unit_test(impossible_cards_are_refused),
                                     cmocka_unit_test(a_clean_lobe_comes_back),
                                     cmocka_unit_test(noisy_readings_come_back),
                                     cmocka_unit_test(a_rounded_lobe_keeps_its_nose),
                                     cmocka_unit_test(a_slipped_reading_is_found),
                                     cmocka_unit_test(both_ends_are_the_base_circle),
                                     cmocka_unit_test(half_a_lobe_is_refused)};
  return cmocka_run_group_tests_name("lobe", tests, NULL, NULL);
}
