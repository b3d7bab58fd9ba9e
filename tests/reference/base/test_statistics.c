/* Mean, standard deviation (n - 1) and lag-1 autocorrelation against the NIST Statistical Reference
 * Datasets, univariate summary statistics: nine sets with certified values (public domain; copies in
 * data/nist-strd). Digits are counted as NIST does: -log10(|got - certified| / |certified|).
 *
 * The certified values have 15 digits, and a double holds 15.9: full agreement shows as 14 or more.
 * NumAcc3 and NumAcc4 are built to fail: steps of 0.1 on 1e6 and 1e7. Their decimal data have no exact
 * double: an error of half a unit in the last place of 1e7, 9e-10, against the deviations of 0.1 leaves
 * 8 digits of the deviation, whatever the method. More than that is not asked there. */
#include "../near.h"
#include "base/statistics.h"

struct dataset {
  const char *name;
  double mean_digits, sd_digits, lag_digits; /* at least */
};

static const struct dataset sets[] = {
    {"univariate-PiDigits.txt", 14, 14, 12}, {"univariate-Lottery.txt", 14, 14, 13},
    {"univariate-Lew.txt", 14, 14, 13},      {"univariate-Mavro.txt", 14, 12, 12},
    {"univariate-Michelso.txt", 14, 13, 12}, {"univariate-NumAcc1.txt", 14, 14, 14},
    {"univariate-NumAcc2.txt", 14, 14, 14},  {"univariate-NumAcc3.txt", 14, 9, 9},
    {"univariate-NumAcc4.txt", 14, 8, 8},
};

struct certified {
  double mean, sd, lag;
};

static double after(const char *line, char sign) {
  return g_ascii_strtod(strrchr(line, sign) + 1, NULL);
}

/* Both layouts that the sets come in: "mean = x" and "ybar:  x". The data follow the last rule. */
static GArray *read_set(const char *name, struct certified *c) {
  g_autofree char *path = g_build_filename("nist-strd", name, NULL);
  g_auto(GStrv) lines = data_lines(path);
  *c = (struct certified){NAN, NAN, NAN};
  int begin = 0;
  for (int i = 0; lines[i]; i++) {
    if (g_str_has_prefix(lines[i], "####") || g_str_has_prefix(lines[i], "----"))
      begin = i + 1;
    if (g_str_has_prefix(lines[i], "mean "))
      c->mean = after(lines[i], '=');
    else if (g_str_has_prefix(lines[i], "standardDeviation"))
      c->sd = after(lines[i], '=');
    else if (g_str_has_prefix(lines[i], "autocorrelation"))
      c->lag = after(lines[i], '=');
    else if (strstr(lines[i], "ybar:"))
      c->mean = after(lines[i], ':');
    else if (strstr(lines[i], " s:"))
      c->sd = after(lines[i], ':');
    else if (strstr(lines[i], "r(1):"))
      c->lag = after(lines[i], ':');
  }
  GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
  for (int i = begin; lines[i]; i++) {
    const char *text = g_strstrip(lines[i]);
    double value = g_ascii_strtod(text, NULL);
    if (*text)
      g_array_append_val(values, value);
  }
  return values;
}

static double digits(double got, double want) {
  return got == want ? 16 : -log10(fabs((got - want) / want));
}

static void enough(double got, double want, double least, const char *name, const char *what) {
  if (!(digits(got, want) >= least)) {
    print_error("%s, %s: %.17g against %.17g: %.2f digits, %.0f wanted\n", name, what, got, want,
                digits(got, want), least);
    fail();
  }
}

static void univariate(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(sets); i++) {
    struct certified c;
    GArray *a = read_set(sets[i].name, &c);
    const double *x = (const double *)(void *)a->data;
    assert_true_says(a->len >= 3 && !isnan(c.mean) && !isnan(c.sd) && !isnan(c.lag), sets[i].name);
    enough(ew_mean(x, a->len, EW_NONE_ABSENT), c.mean, sets[i].mean_digits, sets[i].name, "mean");
    enough(ew_standard_deviation(x, a->len, EW_NONE_ABSENT), c.sd, sets[i].sd_digits, sets[i].name,
           "deviation");
    enough(ew_autocorrelation(x, a->len, EW_NONE_ABSENT), c.lag, sets[i].lag_digits, sets[i].name,
           "autocorrelation");
    g_array_unref(a);
  }
}

/* The same with exact data: NumAcc4 in units of 0.1 has whole numbers, so that its deviation is
 * certified to be 0.1 in full: all digits must come. */
static void exact_data_give_all_digits(void **state) {
  (void)state;
  double x[1001] = {100000002};
  for (int i = 1; i < 1001; i++)
    x[i] = i % 2 ? 100000001 : 100000003;
  assert_true(ew_mean(x, 1001, EW_NONE_ABSENT) == 100000002);
  assert_true(ew_standard_deviation(x, 1001, EW_NONE_ABSENT) == 1);
  enough(ew_autocorrelation(x, 1001, EW_NONE_ABSENT), -0.999, 15, "NumAcc4 in whole numbers",
         "autocorrelation");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(univariate),
                                     cmocka_unit_test(exact_data_give_all_digits)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
