/* Statistics of 40 CFR part 1065.602, with its printed examples (data/examples.csv; US government
 * text). Expected figures are printed to 4 digits or so: half a unit of the last is allowed. */
#include "../near.h"
#include "base/statistics.h"

struct example {
  char **cells; /* section, what, inputs, expected, unit */
};

static struct example find(const char *section, const char *what) {
  g_auto(GStrv) lines = data_lines("examples.csv");
  for (int i = 1; lines[i]; i++) {
    char **cells = cells_of(lines[i]);
    if (strcmp(cells[0], section) == 0 && strstr(cells[1], what))
      return (struct example){cells};
    g_strfreev(cells);
  }
  assert_true_says(FALSE, section);
  return (struct example){NULL};
}

static gsize inputs(const char *text, double *values) {
  g_auto(GStrv) parts = g_strsplit(text, ";", -1);
  gsize n = 0;
  for (; parts[n]; n++) {
    const char *equals = strchr(parts[n], '=');
    values[n] = g_ascii_strtod(equals ? equals + 1 : parts[n], NULL);
  }
  return n;
}

/* half a unit in the last printed place */
static double last_place(const char *printed) {
  const char *point = strchr(printed, '.');
  return 0.5001 * pow(10, point ? -(double)strlen(point + 1) : 0);
}

static void same(const char *section, const char *what,
                 double (*of)(const double *, gsize, gsize *)) {
  struct example e = find(section, what);
  double x[8];
  gsize n = inputs(e.cells[2], x);
  assert_near_says(of(x, n, EW_NONE_ABSENT), g_ascii_strtod(e.cells[3], NULL),
                   last_place(e.cells[3]), what);
  g_strfreev(e.cells);
}

static void mean_and_deviation(void **state) {
  (void)state;
  same("1065.602(b)", "arithmetic mean", ew_mean);
  same("1065.602(c)", "standard deviation", ew_standard_deviation);
}

static void medians(void **state) {
  (void)state;
  same("1065.602(m)", "even count", ew_median);
  same("1065.602(m)", "odd count", ew_median);
}

/* Accuracy: the mean of the errors against the reference, without sign. */
static void accuracy(void **state) {
  (void)state;
  struct example e = find("1065.602(e)", "accuracy");
  double x[8], errors[8];
  gsize n = inputs(e.cells[2], x);
  for (gsize i = 1; i < n; i++)
    errors[i - 1] = x[i] - x[0];
  assert_near(fabs(ew_mean(errors, n - 1, EW_NONE_ABSENT)), g_ascii_strtod(e.cells[3], NULL),
              last_place(e.cells[3]));
  g_strfreev(e.cells);
}

/* Root mean square, from mean and deviation: rms^2 = mean^2 + (n - 1)/n s^2. */
static void root_mean_square(void **state) {
  (void)state;
  struct example e = find("1065.602(d)", "root mean square");
  double x[8];
  gsize n = inputs(e.cells[2], x);
  double mean = ew_mean(x, n, EW_NONE_ABSENT), sd = ew_standard_deviation(x, n, EW_NONE_ABSENT);
  assert_near(sqrt(mean * mean + (double)(n - 1) / (double)n * sd * sd),
              g_ascii_strtod(e.cells[3], NULL), last_place(e.cells[3]));
  g_strfreev(e.cells);
}

/* The line goes through the means: with the printed slope and means the printed intercept follows. */
static void intercept(void **state) {
  (void)state;
  struct example e = find("1065.602(i)", "intercept");
  double mean = named(e.cells[2], "ybar"), slope = named(e.cells[2], "slope"),
         at = named(e.cells[2], "yrefbar");
  double design[8], y[4];
  for (int i = 0; i < 4; i++) { /* four points on that line, about the printed means */
    double x = at + 300 * (i - 1.5);
    design[2 * i] = 1, design[2 * i + 1] = x, y[i] = mean + slope * (x - at);
  }
  struct ew_fit fit;
  assert_true(ew_fit_linear(design, y, 4, 2, &fit, NULL));
  assert_near(fit.coefficient[0], g_ascii_strtod(e.cells[3], NULL), last_place(e.cells[3]));
  assert_relative(fit.coefficient[1], slope, 1e-13);
  g_strfreev(e.cells);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(mean_and_deviation), cmocka_unit_test(medians), cmocka_unit_test(accuracy),
      cmocka_unit_test(root_mean_square), cmocka_unit_test(intercept)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
