/* Measurements. Sources: JCGM 100:2008 (GUM) 4.4.3, Table 1 (twenty temperatures: mean 100.145, s
 * 1.489, standard uncertainty 0.333), F.2.2.1 (0.29 of an instrument's step), G.4 (degrees of
 * freedom); critical values of Student's t in 40 CFR 1065.602, Table 1; JCGM 106:2012 for the idea of
 * a guarded limit. */
#include "../engine/near.h"
#include "build/measure.h"

/* Value of the table for 95 % two-sided; its first columns are degrees of freedom and 95 %. */
static double t_of(int freedom) {
  g_autofree char *path = g_build_filename(g_getenv("EW_TEST_DATA"),
                                           "t-critical-table-1065.602.csv", NULL),
                  *text = NULL;
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  int column = -1;
  for (int i = 0; lines[i]; i++) {
    g_auto(GStrv) cells = g_strsplit(lines[i], ",", -1);
    for (int k = 0; column < 0 && cells[k]; k++)
      if (strstr(cells[k], "95"))
        column = k;
    if (cells[0] && g_ascii_strtoll(cells[0], NULL, 10) == freedom && column > 0)
      return g_ascii_strtod(cells[column], NULL);
  }
  fail_msg("no t for %d", freedom);
  return NAN;
}

static void the_guide(void **state) {
  (void)state;
  const double t[] = {96.90,  98.18,  98.25,  98.61,  99.03,  99.49,  99.56,
                      99.74,  99.89,  100.07, 100.33, 100.42, 100.68, 100.95,
                      101.11, 101.20, 101.57, 101.84, 102.36, 102.72};
  struct ew_readings r = ew_readings_of(t, 20, NAN);
  assert_near(r.mean, 100.145, 0.0005); /* printed with 2 decimals: 100.14 and s 1.489 */
  assert_near(r.standard, 0.333, 0.0005);
  assert_near(r.freedom, 19, 1e-9);
  assert_near(r.range, 5.82, 1e-9);
  const double one[] = {7};
  struct ew_readings step = ew_readings_of(one, 1, 1);
  assert_near(step.standard, 0.29, 0.0015);
  assert_true(isinf(step.freedom));
  assert_near(step.expanded, 1.96 * 0.2887, 0.001);
}

static void expanded_by_student(void **state) {
  (void)state;
  const double x[] = {58, 59, 60, 57, 61};
  for (gsize n = 2; n <= 5; n++) {
    struct ew_readings r = ew_readings_of(x, n, NAN);
    assert_near(r.expanded / r.standard, t_of((int)n - 1), 0.0006);
  }
  /* G.4 with two parts of which one has no end of freedom: (u / u_a)^4 (n - 1) */
  struct ew_readings both = ew_readings_of(x, 5, 2);
  double scatter = sqrt(2.5 / 5), step = 2 / sqrt(12);
  assert_near(both.freedom, pow(hypot(scatter, step) / scatter, 4) * 4, 1e-9);
  assert_true(both.expanded > 2 * scatter);
}

static void in_near_or_out(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double mean, expanded, low, high;
    enum ew_fit_verdict want;
  } rows[] = {{"well inside", 60, 3, 50, 70, EW_FIT_IN},
              {"the interval touches the limit", 67, 3, 50, 70, EW_FIT_IN},
              {"the interval reaches over it", 68, 3, 50, 70, EW_FIT_NEAR},
              {"the mean stands on the limit", 70, 3, 50, 70, EW_FIT_NEAR},
              {"the mean is over it", 70.5, 3, 50, 70, EW_FIT_OUT},
              {"under the low limit", 49, 0, 50, 70, EW_FIT_OUT},
              {"only a low limit", 49, 0, 50, NAN, EW_FIT_OUT},
              {"only a high limit", 69, 0, NAN, 70, EW_FIT_IN},
              {"no limit at all", 69, 0, NAN, NAN, EW_FIT_NO_TARGET}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_readings r = {.count = 1, .mean = rows[i].mean, .expanded = rows[i].expanded};
    assert_true_says(ew_fit_judge(r, rows[i].low, rows[i].high) == rows[i].want, rows[i].says);
  }
  assert_int_equal(ew_fit_judge((struct ew_readings){0}, 1, 2), EW_FIT_MISSING);
}

static struct ew_build *build_of(const char *yaml, const struct ew_engine *engine) {
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) tree = ew_node_parse("build", yaml, strlen(yaml), &error);
  struct ew_build *build = ew_build_new();
  assert_true_says(tree && ew_build_read_file(tree, "build", engine, NULL, build, &error),
                   error ? error->message : "no tree");
  return build;
}

#define BUILD                                                                                      \
  "items:\n"                                                                                       \
  "  - {item: bore, by: bore, taper: 0.010 mm, ovality: 0.010 mm}\n"                               \
  "  - {item: piston, by: cylinder}\n"                                                             \
  "  - {item: wall, by: cylinder, larger: bore, smaller: piston, low: 0.06 mm, high: 0.09 mm}\n"   \
  "  - {item: gap, by: cylinder, times: bore, low: 0.004, high: 0.006}\n"                          \
  "measured:\n"                                                                                    \
  "  - {item: bore, resolution: 0.001 mm, each: {1 top thrust: 100.010 mm, 1 top axial: 100.002 "  \
  "mm,"                                                                                            \
  " 1 middle thrust: 100.006 mm, 1 middle axial: 100.004 mm, 1 bottom thrust: 99.997 mm,"          \
  " 1 bottom axial: 100.000 mm}}\n"                                                                \
  "  - {item: piston, position: 1, readings: [99.92 mm], resolution: 0.01 mm}\n"                   \
  "  - {item: gap, position: 1, readings: [0.39 mm]}\n"                                            \
  "  - {item: gap, position: 1, readings: [0.41 mm]}\n"                                            \
  "  - {item: gap, position: 2, readings: [0.41 mm], low: 0.45 mm, from: the maker}\n"

static const struct ew_build_line *line_of(const GArray *lines, const char *name,
                                           const char *position) {
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    if (strcmp(line->name, name) == 0 && strcmp(line->position, position) == 0)
      return line;
  }
  fail_msg("no line %s %s", name, position);
  return NULL;
}

/* Definitions on numbers of our own: taper 13 um in the thrust direction, ovality 8 um at the top,
 * clearance 99.997 - 99.92 with both uncertainties in squares, factors of the bore. */
static void shape_difference_and_factors(void **state) {
  (void)state;
  struct ew_engine e = engine_of("bore: 100 mm\nstroke: 90 mm\ncylinders: 2\n");
  g_autoptr(ew_build) build = build_of(BUILD, &e);
  g_autoptr(GArray) lines = ew_build_lines(build, &e);
  struct ew_bore_shape s = ew_bore_shape_of(lines, "bore", 1);
  assert_near(s.taper_m, 13e-6, 1e-12);
  assert_near(s.ovality_m, 8e-6, 1e-12);
  assert_near(s.least_m, 99.997e-3, 1e-12);
  assert_true(isnan(ew_bore_shape_of(lines, "bore", 2).taper_m));
  const struct ew_build_line *wall = line_of(lines, "wall", "1");
  assert_near(wall->value.mean, 0.077e-3, 1e-12);
  assert_near(wall->value.standard, hypot(0.001e-3, 0.01e-3) / sqrt(12), 1e-12);
  assert_int_equal(wall->verdict, EW_FIT_IN);
  assert_int_equal(line_of(lines, "wall", "2")->verdict, EW_FIT_MISSING);
  const struct ew_build_line *gap = line_of(lines, "gap", "1");
  assert_near(gap->low, 0.4e-3, 1e-12);
  assert_near(gap->value.mean, 0.41e-3, 1e-12); /* the later reading counts */
  assert_int_equal(gap->verdict, EW_FIT_IN);
  const struct ew_build_line *maker = line_of(lines, "gap", "2");
  assert_int_equal(maker->verdict, EW_FIT_OUT);
  assert_string_equal(maker->from, "the maker");
  ew_engine_clear(&e);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_guide), cmocka_unit_test(expanded_by_student),
      cmocka_unit_test(in_near_or_out), cmocka_unit_test(shape_difference_and_factors)};
  return cmocka_run_group_tests_name("measurements", tests, NULL, NULL);
}
