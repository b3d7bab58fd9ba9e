/* A reading that is not there costs that reading, and nothing else.
 *
 * Property: in a recording of known shape one to three samples of one channel, anywhere (first and last row, first
 * and last of the pull too), become absent, NaN or infinite. The pulls found, and every point of torque, headline
 * and columns, are those of the same recording without those rows, within three of the stated standard
 * uncertainties (hundreds of thousands of points are compared, so that two would be passed by chance); a column has
 * as many points; nothing that is kept is NaN.
 *
 * EW_ABSENT_TRIALS trials (260 by default; the long form: 20,000) from EW_ABSENT_SEED (printed). */
#include "recording.h"
#include <stdio.h>
#include <stdlib.h>

#define WITHIN 3.0 /* standard uncertainties */

enum { TIME, SPEED, TORQUE, THROTTLE, LAMBDA, OIL, BARO, INLET, KNOCK, COLUMNS };
static const char *const headings[COLUMNS] = {"Time [s]",   "RPM",      "Torque [N·m]",
                                              "TPS [%]",    "Lambda",   "Oil Pressure [bar]",
                                              "Baro [hPa]", "IAT [°C]", "Knock Count"};

struct grid {
  GArray *rows; /* double[COLUMNS] */
  gsize pull_first, pull_last;
  gboolean throttle;
};

static double noise_of(GRand *random) {
  double sum = -6;
  for (int i = 0; i < 12; i++)
    sum += g_rand_double(random);
  return sum; /* of variance 1 */
}

static void add_row(struct grid *g, GRand *random, double time, double speed, double load) {
  double row[COLUMNS] = {
      [TIME] = time,
      [SPEED] = speed + 1.5 * noise_of(random),
      [TORQUE] = load * true_torque_n_m(speed) + noise_of(random),
      [THROTTLE] = 100 * load + 0.2 * noise_of(random),
      [LAMBDA] = 0.88 + 0.00001 * (speed - 4000) + 0.003 * noise_of(random),
      [OIL] = 2 + speed / 3000 + 0.02 * noise_of(random),
      [BARO] = 990 + 0.1 * noise_of(random),
      [INLET] = 25 + 0.1 * noise_of(random),
      [KNOCK] = 0,
  };
  g_array_append_vals(g->rows, row, 1);
}

static void add_part(struct grid *g, GRand *random, double hz, double seconds, double from,
                     double rate, double load) {
  for (int i = 0; i < (int)lround(seconds * hz); i++)
    add_row(g, random, (double)g->rows->len / hz, from + rate * i / hz, load);
}

/* Every k-th sample of a column is its own, the rest is not there. */
static void thin(struct grid *g, int column, guint every) {
  for (guint i = 0; i < g->rows->len; i++)
    if (i % every)
      ((double *)(void *)g->rows->data)[i * COLUMNS + (guint)column] = NAN;
}

static const struct shape {
  const char *says;
  double hz, rate;
  gboolean lead, lift, throttle, steps;
  int thin_column;
  guint thin_every;
} shapes[] = {
    {"50 Hz, load and lift, throttle", 50, 400, TRUE, TRUE, TRUE, FALSE, -1, 0},
    {"50 Hz, the pull begins in the first row and ends in the last", 50, 400, FALSE, FALSE, TRUE,
     FALSE, -1, 0},
    {"100 Hz without throttle", 100, 400, TRUE, TRUE, FALSE, FALSE, -1, 0},
    {"20 Hz without throttle, begins and ends with the file", 20, 250, FALSE, FALSE, FALSE, FALSE,
     -1, 0},
    {"10 Hz", 10, 300, TRUE, TRUE, TRUE, FALSE, -1, 0},
    {"5 Hz: a pull of 80 samples", 5, 250, TRUE, TRUE, TRUE, FALSE, -1, 0},
    {"3 Hz: a pull of few samples", 3, 300, TRUE, TRUE, TRUE, FALSE, -1, 0},
    {"100 Hz with speed at 3 Hz", 100, 400, TRUE, TRUE, TRUE, FALSE, SPEED, 33},
    {"50 Hz with throttle at 4 Hz", 50, 400, TRUE, TRUE, TRUE, FALSE, THROTTLE, 12},
    {"50 Hz with lambda at 5 Hz", 50, 400, TRUE, TRUE, TRUE, FALSE, LAMBDA, 10},
    {"100 Hz with torque at 10 Hz", 100, 400, TRUE, TRUE, TRUE, FALSE, TORQUE, 10},
    {"10 Hz, a step test", 10, 0, FALSE, FALSE, TRUE, TRUE, -1, 0},
    {"20 Hz, a step test without throttle", 20, 0, TRUE, TRUE, FALSE, TRUE, -1, 0},
};

static struct grid make_grid(const struct shape *s, GRand *random) {
  struct grid g = {g_array_new(FALSE, FALSE, COLUMNS * sizeof(double)), 0, 0, s->throttle};
  if (s->lead)
    add_part(&g, random, s->hz, 2, 2500, 0, 0.2);
  g.pull_first = g.rows->len;
  if (s->steps)
    for (int i = 0; i < 5; i++) {
      add_part(&g, random, s->hz, 6, 2500 + 700 * i, 0, 1);
      if (i < 4)
        add_part(&g, random, s->hz, 1, 2500 + 700 * i, 700, 1);
    }
  else
    add_part(&g, random, s->hz, 4000 / s->rate, 2500, s->rate, 1);
  g.pull_last = g.rows->len - 1;
  if (s->lift)
    add_part(&g, random, s->hz, 1.5, s->steps ? 5300 : 6500, -800, 0.05);
  if (s->thin_column >= 0)
    thin(&g, s->thin_column, s->thin_every);
  return g;
}

struct hole {
  int column;
  gsize first, count;
  const char *mark; /* what stands in the cell; NULL: the whole row is left out */
};

static char *text_of(const struct grid *g, const struct hole *hole) {
  GString *text = g_string_new(NULL);
  for (int c = 0; c < COLUMNS; c++)
    if (c != THROTTLE || g->throttle)
      g_string_append_printf(text, "%s%s", c ? "," : "", headings[c]);
  g_string_append_c(text, '\n');
  for (gsize i = 0; i < g->rows->len; i++) {
    const double *row = (const double *)(void *)g->rows->data + i * COLUMNS;
    gboolean here = hole && i >= hole->first && i < hole->first + hole->count;
    if (here && !hole->mark)
      continue;
    for (int c = 0; c < COLUMNS; c++) {
      if (c == THROTTLE && !g->throttle)
        continue;
      if (c)
        g_string_append_c(text, ',');
      if (here && c == hole->column)
        g_string_append(text, hole->mark);
      else if (!isnan(row[c]))
        g_string_append_printf(text, "%.6g", row[c]);
    }
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}

/* At a few samples a second one is a gap already: of more, points of the curve may rightly go. */
static struct hole any_hole(const struct shape *s, const struct grid *g, GRand *random) {
  static const char *const marks[] = {"", "NaN", "inf", "-inf", "1e999", "-1e999"};
  gsize n = g->rows->len;
  const gsize corners[] = {
      0, n - 1, g->pull_first, g->pull_last, g->pull_first + 1, g->pull_last - 1};
  struct hole h = {g_rand_int_range(random, 0, COLUMNS), 0,
                   (gsize)g_rand_int_range(random, 1,
                                           s->hz <= 3   ? 2
                                           : s->hz <= 5 ? 3
                                                        : 4),
                   marks[g_rand_int_range(random, 0, G_N_ELEMENTS(marks))]};
  if (h.column == THROTTLE && !g->throttle)
    h.column = TORQUE;
  h.first = g_rand_int_range(random, 0, 3)
                ? (gsize)g_rand_int_range(random, 0, (gint32)n)
                : corners[g_rand_int_range(random, 0, G_N_ELEMENTS(corners))];
  h.count = MIN(h.count, n - h.first);
  return h;
}

static void same_column(const struct ew_curve *a, const struct ew_curve_column *x,
                        const struct ew_curve *b, const char *says) {
  const struct ew_curve_column *y = ew_curve_column(b, x->key, x->index);
  expect(y != NULL, says, "%s is gone", x->key);
  for (gsize j = 0; j < a->points; j++) {
    double speed = a->speed_rpm[j], there = ew_curve_at(b, y->values, speed);
    double allowed = WITHIN * fmax(x->se[j], ew_curve_at(b, y->se, speed));
    if (speed < b->speed_rpm[0] || speed > b->speed_rpm[b->points - 1])
      continue;
    gboolean end = j == 0 || j + 1 == a->points ||
                   speed <= b->speed_rpm[1]; /* may go with the sample it hung on */
    expect(isnan(x->values[j]) == isnan(there) || end, says, "%s at %.0f rpm: %g and %g", x->key,
           speed, x->values[j], there);
    expect(isnan(x->values[j]) || isnan(there) || isnan(allowed) ||
               fabs(x->values[j] - there) <= allowed + 1e-9,
           says, "%s at %.0f rpm: %.9g and %.9g, %.3g allowed", x->key, speed, x->values[j], there,
           allowed);
  }
}

/* `slack`: points of the grid that go when the rows are left out at an end. */
static void same_curve(const struct ew_curve *a, const struct ew_curve *b, gsize slack,
                       const char *says) {
  expect(a->kind == b->kind, says, "kinds %d and %d", a->kind, b->kind);
  expect(a->points + slack >= b->points && b->points + slack >= a->points, says,
         "%zu and %zu points; %.0f to %.0f, %.0f to %.0f rpm", a->points, b->points,
         a->speed_rpm[0], a->speed_rpm[a->points - 1], b->speed_rpm[0],
         b->speed_rpm[b->points - 1]);
  for (gsize j = 0; j < a->points; j++) {
    double speed = a->speed_rpm[j];
    expect(isfinite(a->torque_n_m[j]) && isfinite(a->power_w[j]), says, "%g at %.0f rpm",
           a->torque_n_m[j], speed);
    expect(a->torque_se_n_m[j] >= 0, says, "uncertainty %g at %.0f rpm", a->torque_se_n_m[j],
           speed);
    gsize k = MIN(j, b->points - 1); /* the dwells of a step test are where they are */
    double there =
        a->kind == EW_SEGMENT_SWEEP ? ew_curve_at(b, b->torque_n_m, speed) : b->torque_n_m[k];
    double se =
        a->kind == EW_SEGMENT_SWEEP ? ew_curve_at(b, b->torque_se_n_m, speed) : b->torque_se_n_m[k];
    double allowed = WITHIN * fmax(a->torque_se_n_m[j], se);
    expect(isnan(there) || fabs(a->torque_n_m[j] - there) <= allowed, says,
           "%.6g and %.6g N·m at %.0f rpm, %.3g allowed", a->torque_n_m[j], there, speed, allowed);
  }
  /* a last row that is gone may take the last point of the grid, and the band of use, with it: of the common band */
  double low = fmax(a->band_low_rpm, b->band_low_rpm),
         high = fmin(a->band_high_rpm, b->band_high_rpm);
  double off = ew_curve_band_log(a, low, high) - ew_curve_band_log(b, low, high);
  expect(fabs(off) <= WITHIN * fmax(a->band_mean_se, b->band_mean_se), says,
         "headlines %.6g and %.6g N·m, %.3g apart, relative uncertainty %.3g", a->band_mean_n_m,
         b->band_mean_n_m, off, a->band_mean_se);
  expect(a->columns->len == b->columns->len, says, "%u and %u columns", a->columns->len,
         b->columns->len);
  for (guint c = 0; a->kind == EW_SEGMENT_SWEEP && c < a->columns->len; c++)
    same_column(a, &g_array_index(a->columns, struct ew_curve_column, c), b, says);
}

static void try_hole(const struct grid *g, const struct hole *hole, const struct facts *f,
                     gsize slack, const char *says) {
  struct hole without = *hole;
  without.mark = NULL;
  g_autofree char *text = text_of(g, hole), *bare = text_of(g, &without);
  struct ew_processed *a = process_text(text, f, says), *b = process_text(bare, f, says);
  expect(a->curves->len == 1, says, "%u pulls: %s", a->curves->len, id_of(a->why_none));
  expect(b->curves->len == 1, says, "%u pulls without the row: %s", b->curves->len,
         id_of(b->why_none));
  same_curve(curve_of(a, 0), curve_of(b, 0), slack, says);
  ew_processed_free(a);
  ew_processed_free(b);
}

static gsize lost_points(const struct shape *s, gsize rows) {
  return 1 + (gsize)ceil(s->rate / s->hz * (double)rows / 100);
}

static guint number_from(const char *name, guint usual) {
  const char *given = g_getenv(name);
  return given ? (guint)strtoul(given, NULL, 10) : usual;
}

static void an_absent_reading_costs_that_reading(void **state) {
  (void)state;
  guint seed = number_from("EW_ABSENT_SEED", 20261201),
        trials = number_from("EW_ABSENT_TRIALS", 260);
  g_autoptr(GRand) random = g_rand_new_with_seed(seed);
  print_message("seed %u, %u trials\n", seed, trials);
  struct facts *f = facts_new();
  f->bench.rotor_inertia_kg_m2 = 0.1;
  for (guint trial = 0; trial < trials; trial++) {
    const struct shape *shape = &shapes[trial % G_N_ELEMENTS(shapes)];
    struct grid g = make_grid(shape, random);
    struct hole hole = any_hole(shape, &g, random);
    g_autofree char *says = g_strdup_printf(
        "trial %u of seed %u: %s; '%s' in %zu rows of '%s' from row %zu of %u", trial, seed,
        shape->says, hole.mark, hole.count, headings[hole.column], hole.first, g.rows->len);
    try_hole(&g, &hole, f, lost_points(shape, hole.count), says);
    g_array_unref(g.rows);
  }
  facts_free(f);
}

/* The same at each place that matters, one by one, of each channel and shape. */
static void at_the_first_and_the_last_sample(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  struct facts *f = facts_new();
  for (gsize k = 0; k < G_N_ELEMENTS(shapes); k++) {
    struct grid g = make_grid(&shapes[k], random);
    const gsize places[] = {0, g.pull_first, g.pull_last, g.rows->len - 1};
    for (int column = 0; column < COLUMNS; column++)
      for (gsize p = 0; p < G_N_ELEMENTS(places); p++) {
        if (column == THROTTLE && !g.throttle)
          continue;
        struct hole hole = {column, places[p], 1, "NaN"};
        g_autofree char *says =
            g_strdup_printf("%s; row %zu of '%s'", shapes[k].says, places[p], headings[column]);
        try_hole(&g, &hole, f, lost_points(&shapes[k], 1), says);
      }
    g_array_unref(g.rows);
  }
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(an_absent_reading_costs_that_reading),
                                     cmocka_unit_test(at_the_first_and_the_last_sample)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
