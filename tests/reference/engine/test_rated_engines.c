/* 205 and 93 production engines (data/rated-engines/PROVENANCE.md). Sources of the bands: J. B.
 * Heywood, Internal Combustion Engine Fundamentals, table of typical design data: passenger cars with
 * spark ignition 7 to 10 atm of BMEP at rated power, and section 2.2: mean piston speeds of 8 to 15
 * m/s; "production engines below 20 m/s" (all from memory). */
#include "near.h"
#include "engine/check.h"
#include "engine/compression.h"
#include "engine/slider_crank.h"

static const char *path_of(const char *name) {
  const char *data = g_getenv("EW_TEST_DATA");
  return g_build_filename(data ? data : "tests/reference/data", "rated-engines", name, NULL);
}

static char **lines_of(const char *name) {
  g_autofree char *path = (char *)path_of(name), *text = NULL;
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  return g_strsplit(g_strstrip(text), "\n", -1);
}

static int cylinders_of(const char *word) {
  static const char *const words[] = {"two", "three", "four", "five", "six", "eight", "twelve"};
  static const int counts[] = {2, 3, 4, 5, 6, 8, 12};
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (strcmp(words[i], word) == 0)
      return counts[i];
  return atoi(word);
}

static void line_of(GString *yaml, const char *name, const char *value, const char *unit) {
  if (strcmp(value, "?") != 0)
    g_string_append_printf(yaml, "%s: %s%s%s\n", name, value, *unit ? " " : "", unit);
}

static char *yaml_1985(char **cell) {
  GString *yaml = g_string_new(NULL);
  g_string_append_printf(yaml, "cylinders: %d\n", cylinders_of(cell[3]));
  line_of(yaml, "displacement", cell[4], "in3");
  line_of(yaml, "bore", cell[5], "in");
  line_of(yaml, "stroke", cell[6], "in");
  if (strcmp(cell[7], "?") != 0)
    g_string_append_printf(yaml, "compression:\n  ratio: %s\n", cell[7]);
  if (strcmp(cell[8], "?") != 0)
    g_string_append_printf(yaml, "breathing:\n  expected_power: %s hp\n  power_speed: %s rpm\n",
                           cell[8], cell[9]);
  return g_string_free(yaml, FALSE);
}

/* -1 when refused, else the number of warnings that power, speed and displacement clash. */
static int read_row(const char *yaml, double *bmep_pa, double *piston_m_s) {
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) tree = ew_node_parse("row", yaml, strlen(yaml), &error);
  struct ew_engine engine;
  if (!tree || !ew_engine_read(tree, "row", &engine, &error)) {
    assert_true_says(strstr(error->message, "contradicts") != NULL, error->message);
    return -1;
  }
  struct ew_engine_check *check = ew_engine_check_new(&engine);
  const struct ew_figure *bmep = ew_engine_check_find(check, "bmep_at_power");
  const struct ew_figure *speed = ew_engine_check_find(check, "mean_piston_speed");
  *bmep_pa = bmep ? bmep->values[0] : NAN;
  *piston_m_s = speed ? speed->values[0] : NAN;
  int clashes = 0;
  for (guint i = 0; i < check->warnings->len; i++)
    clashes += strcmp(ew_message_subject(g_ptr_array_index(check->warnings, i)),
                      "breathing.expected_power") == 0;
  ew_engine_check_free(check);
  ew_engine_clear(&engine);
  return clashes;
}

static double off_by(char **cell) {
  double bore = atof(cell[5]), stroke = atof(cell[6]);
  if (bore == 0 || stroke == 0)
    return 0;
  return fabs(G_PI / 4 * bore * bore * stroke * cylinders_of(cell[3]) / atof(cell[4]) - 1);
}

static void engines_of_1985(void **state) {
  (void)state;
  g_auto(GStrv) lines = lines_of("rated-1985.csv");
  int rows = 0, refused = 0, good = 0, good_flagged = 0, natural = 0, in_band = 0, speeds = 0,
      slow = 0, refused_wrongly = 0;
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cell = g_strsplit(g_strstrip(lines[i]), ",", -1);
    g_autofree char *yaml = yaml_1985(cell);
    double bmep, speed;
    int flags = read_row(yaml, &bmep, &speed);
    rows++;
    refused += flags < 0;
    if (off_by(cell) < 0.02) { /* rounding of three-digit figures, summed */
      good++;
      good_flagged += flags != 0;
    }
    if (off_by(cell) > 0.045)
      assert_true_says(flags != 0, lines[i]);
    refused_wrongly += flags < 0 && off_by(cell) < 0.035;
    if (flags != 0)
      continue;
    if (!isnan(speed)) {
      speeds++;
      assert_true_says(speed < 20, lines[i]);
      slow += speed >= 8 && speed <= 15;
    }
    if (strcmp(cell[0], "gas") == 0 && strcmp(cell[1], "std") == 0 && !isnan(bmep) &&
        strcmp(cell[2], "rotor") != 0) {
      natural++;
      in_band += bmep >= 7 * 101325 && bmep <= 10 * 101325;
    }
  }
  print_message("1985: %d rows, %d contradict themselves, %d of %d good ones flagged; BMEP in band "
                "%d of %d, piston speed %d of %d\n",
                rows, refused, good_flagged, good, in_band, natural, slow, speeds);
  assert_int_equal(rows, 205);
  assert_true(refused >= 18 && refused <= 24);
  assert_true(good_flagged < 0.02 * good);
  assert_int_equal(refused_wrongly, 0);
  assert_true(in_band >= 0.97 * natural && natural > 130);
  assert_true(slow >= 0.65 * speeds && speeds > 150);
}

static void engines_of_1993(void **state) {
  (void)state;
  g_auto(GStrv) lines = lines_of("rated-1993.csv");
  int rows = 0, flagged = 0, in_band = 0;
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cell = g_strsplit(g_strstrip(lines[i]), ",", -1);
    gboolean rotary = strcmp(cell[0], "rotary") == 0;
    g_autofree char *yaml =
        g_strdup_printf("cylinders: %s\ndisplacement: %s L\nbreathing:\n  expected_power: %s hp\n"
                        "  power_speed: %s rpm\n",
                        rotary ? "2" : cell[0], cell[1], cell[2], cell[3]);
    double bmep, speed;
    int flags = read_row(yaml, &bmep, &speed);
    rows++;
    assert_true_says((flags != 0) == rotary, lines[i]); /* 27 bar: swept volume counted once */
    flagged += flags != 0;
    in_band += bmep >= 7 * 101325 && bmep <= 11.2e5;
  }
  assert_int_equal(rows, 93);
  assert_int_equal(flagged, 1);
  assert_true(in_band >= 90);
}

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* The fuel check on engines that are known to have run on the regular petrol of their day (91 RON,
 * from memory), with closing at 50 degrees and a rod ratio of 1.7 (common practice, no source): few
 * may come out beyond the edge, and nearly all must on 75 octane. */
static void the_fuel_check_lets_production_engines_run(void **state) {
  (void)state;
  g_auto(GStrv) lines = lines_of("rated-1985.csv");
  double integral[205];
  int n = 0, beyond = 0, beyond_on_poor = 0;
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cell = g_strsplit(g_strstrip(lines[i]), ",", -1);
    if (strcmp(cell[0], "gas") != 0 || strcmp(cell[1], "std") != 0 || off_by(cell) > 0.02 ||
        strcmp(cell[5], "?") == 0 || atof(cell[7]) > 10)
      continue;
    double stroke = atof(cell[6]) * 0.0254, ratio = atof(cell[7]);
    struct ew_slider_crank crank = {stroke / 2, 1.7 * stroke, 0};
    double left = ew_piston_at(crank, 130, 0).travel_m / stroke;
    struct ew_fuel_case c = {
        ratio, 1 + left * (ratio - 1),      crank.throw_m, crank.rod_m, 91, 99000, 298.15, 0.85,
        3000,  0.8 * 1.157 * 43.5e6 / 14.6, FALSE};
    integral[n] = ew_knock_integral(&c, 91);
    beyond += integral[n] > 1;
    beyond_on_poor += ew_knock_integral(&c, 75) > 1;
    n++;
  }
  qsort(integral, (size_t)n, sizeof *integral, by_value);
  print_message(
      "fuel check of %d engines on 91 RON: median %.2f, greatest %.2f, %d beyond 1; %d on "
      "75\n",
      n, integral[n / 2], integral[n - 1], beyond, beyond_on_poor);
  assert_true(n > 90 && beyond < 0.05 * n);
  assert_true(integral[n / 2] > 0.4 && integral[n / 2] < 0.9);
  assert_true(beyond_on_poor > 0.5 * n);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(engines_of_1985),
                                     cmocka_unit_test(engines_of_1993),
                                     cmocka_unit_test(the_fuel_check_lets_production_engines_run)};
  return cmocka_run_group_tests_name("rated engines", tests, NULL, NULL);
}
