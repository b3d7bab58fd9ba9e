/* Lash growth. Sources: the prediction interval of one further value of a normal sample,
 * mean +- t s sqrt(1 + 1/n) (Hahn and Meeker 1991, chapter 4, from memory), with t(3) = 3.182 of 40
 * CFR 1065.602, Table 1; and a counted experiment: of many drawn shops, 95 % of next valves lie in
 * the interval that their earlier builds gave. */
#include "../near.h"
#include "build/lash.h"

static struct ew_growth_sample sample(int build, double growth_mm, double minutes) {
  return (struct ew_growth_sample){build, 1, growth_mm * 1e-3, minutes * 60, NAN};
}

static void one_valve_a_build(void **state) {
  (void)state;
  const struct ew_growth_sample s[] = {sample(1, 0.12, 5),
                                       sample(2, 0.14, 5),
                                       sample(3, 0.15, 5),
                                       sample(4, 0.15, 5),
                                       {9, 0, 0.5e-3, 300, NAN}};
  struct ew_growth g = ew_growth_learn(s, 5, 1);
  double sd = sqrt((0.02 * 0.02 + 0 + 0.01 * 0.01 + 0.01 * 0.01) / 3);
  assert_int_equal(g.builds, 4);
  assert_int_equal(g.valves, 4);
  assert_near(g.mean_m * 1e3, 0.14, 1e-9);
  assert_near((g.high_m - g.mean_m) * 1e3, 3.182 * sd * sqrt(1.25), 2e-5);
  assert_near(g.mean_m - g.low_m, g.high_m - g.mean_m, 1e-12);
  assert_false(g.few);
}

static void little_is_said_to_be_little(void **state) {
  (void)state;
  const struct ew_growth_sample s[] = {sample(1, 0.12, 5), sample(1, 0.14, 6), sample(1, 0.13, 7)};
  struct ew_growth none = ew_growth_learn(s, 3, 0), one = ew_growth_learn(s, 3, 1),
                   single = ew_growth_learn(s, 1, 1);
  assert_int_equal(none.builds, 0);
  assert_true(isnan(none.mean_m) && none.few);
  assert_int_equal(one.builds, 1);
  assert_true(one.few && isnan(one.between_m));
  assert_near((one.high_m - one.mean_m) * 1e3, 4.303 * 0.01 * sqrt(4.0 / 3), 2e-5); /* t(2) */
  assert_true(single.few && isnan(single.low_m) && !isnan(single.mean_m));
}

/* Growth falls by 0.02 mm in ten minutes in each build, whatever its level. */
static void slope_with_time(void **state) {
  (void)state;
  struct ew_growth_sample s[12];
  const double wobble[] = {0.001, -0.001, 0.0005, -0.0005};
  for (int i = 0; i < 12; i++)
    s[i] =
        sample(i / 4, 0.12 + 0.02 * (i / 4) - 0.002 * (3 + 2 * (i % 4)) + wobble[(i + i / 4) % 4],
               3 + 2 * (i % 4));
  struct ew_growth g = ew_growth_learn(s, 12, 1);
  assert_true(fabs(g.slope_m_s * 600e3 + 0.02) < g.slope_error_m_s * 600e3);
  assert_true(g.slope_error_m_s * 600e3 < 0.005);
}

/* Sum of twelve uniform draws less six: standard deviation 1. */
static double normal(GRand *rand) {
  double sum = -6;
  for (int i = 0; i < 12; i++)
    sum += g_rand_double(rand);
  return sum;
}

static void covers_what_it_says(void **state) {
  (void)state;
  g_autoptr(GRand) rand = g_rand_new_with_seed(7);
  static const double between_mm[] = {0, 0.01, 0.03};
  for (int k = 0; k < 3; k++) {
    int inside = 0, shops = 4000;
    for (int shop = 0; shop < shops; shop++) {
      struct ew_growth_sample s[24];
      for (int b = 0; b < 4; b++) {
        double level = 0.14 + between_mm[k] * normal(rand);
        for (int v = 0; v < 6; v++)
          s[6 * b + v] = sample(b, level + 0.01 * normal(rand), 5);
      }
      double next = 0.14 + between_mm[k] * normal(rand) + 0.01 * normal(rand);
      struct ew_growth g = ew_growth_learn(s, 24, 1);
      inside += next * 1e-3 >= g.low_m && next * 1e-3 <= g.high_m;
    }
    double share = (double)inside / shops;
    /* at least what is promised, less three standard errors; wider where valves scatter more than
     * builds, since the builds' few degrees of freedom are used for all */
    assert_true_says(share > 0.95 - 3 * sqrt(0.95 * 0.05 / shops), "too narrow");
    assert_true_says(k < 2 || share < 0.97, "too wide");
  }
}

/* A change of 0.05 mm as two readings of a feeler give it, whose difference is a bit more or less in binary, does not stop the day; the next
 * leaf does, either way. Of two changes the larger counts. */
static void what_stops_the_day(void **state) {
  (void)state;
  int under = 0, over = 0;
  for (int leaf = 5; leaf <= 80; leaf++) {
    double first = leaf * 0.01e-3, last = (leaf + 5) * 0.01e-3;
    assert_false(ew_lash_stops(last - first) || ew_lash_stops(first - last));
    assert_true(ew_lash_stops((leaf + 6) * 0.01e-3 - first) &&
                ew_lash_stops(first - (leaf + 6) * 0.01e-3));
    assert_false(ew_lash_stops((leaf + 4) * 0.01e-3 - first));
    under += last - first < EW_LASH_STOP_M;
    over += last - first > EW_LASH_STOP_M;
  }
  assert_true(under > 0 && over > 0); /* both roundings were tried */
  assert_true(ew_lash_stops(0.0501e-3) && !ew_lash_stops(0) && !ew_lash_stops((double)NAN));
  static const struct {
    const char *says;
    double hot, cold, want;
  } rows[] = {{"hot alone", 0.02, NAN, 0.02},
              {"cold alone", NAN, -0.06, -0.06},
              {"the larger is cold", 0.01, -0.06, -0.06},
              {"the larger is hot", -0.06, 0.01, -0.06},
              {"neither", NAN, NAN, NAN}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_lash_row row = {.hot_change_m = rows[i].hot, .cold_change_m = rows[i].cold};
    double got = ew_lash_change_m(&row);
    assert_true_says(got == rows[i].want || (isnan(got) && isnan(rows[i].want)), rows[i].says);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(one_valve_a_build), cmocka_unit_test(little_is_said_to_be_little),
      cmocka_unit_test(slope_with_time), cmocka_unit_test(what_stops_the_day),
      cmocka_unit_test(covers_what_it_says)};
  return cmocka_run_group_tests_name("lash", tests, NULL, NULL);
}
