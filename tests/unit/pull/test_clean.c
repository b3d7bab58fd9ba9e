#include "recording.h"
#include "pull/clean.h"

/* A series of time, speed and one channel, cleaned; x is what stood in the file. */
struct cleaned {
  struct ew_series *series;
  struct ew_series_channel *one;
};

static struct cleaned clean(const char *heading, enum ew_channel channel, const double *x,
                            gsize n) {
  GString *text = g_string_new(NULL);
  g_string_append_printf(text, "Time [s],RPM,%s\n", heading);
  for (gsize i = 0; i < n; i++) {
    g_string_append_printf(text, "%.3f,%.1f,", (double)i / 50, 3000 + 8.0 * (double)i);
    if (isnan(x[i]))
      g_string_append(text, "\n");
    else
      g_string_append_printf(text, "%.17g\n", x[i]);
  }
  struct ew_table *table = ew_table_read_bytes(text->str, text->len, "x", NULL);
  struct cleaned c = {ew_series_from_table(table, "x", NULL, NAN, NULL), NULL};
  ew_table_free(table);
  g_string_free(text, TRUE);
  assert_non_null(c.series);
  struct ew_method method;
  ew_method_defaults(&method);
  ew_clean(c.series, &method);
  c.one = ew_series_find(c.series, channel, 0);
  assert_non_null(c.one);
  return c;
}

#define N 300
static void noisy(double *x, double level, double sd) {
  g_autoptr(GRand) random = g_rand_new_with_seed(5);
  for (int i = 0; i < N; i++)
    x[i] = level + sd * (g_rand_double(random) + g_rand_double(random) - 1);
}

static void spikes(void **state) {
  (void)state;
  double x[N];
  noisy(x, 200, 2);
  x[50] = 900, x[120] = -400, x[121] = 870;
  struct cleaned c = clean("Torque [N·m]", EW_CHANNEL_TORQUE, x, N);
  struct ew_clean_counts n = ew_clean_count(c.one, 0, N);
  assert_int_equal(n.spikes, 3);
  assert_true((c.one->flags[50] & EW_FLAG_SPIKE) && (c.one->flags[121] & EW_FLAG_SPIKE));
  assert_true(fabs(c.one->values[50] - 200) < 5 && fabs(c.one->values[120] - 200) < 5);
  for (int i = 0; i < N; i++) /* every other sample is as it was */
    if (i != 50 && i != 120 && i != 121)
      assert_true(c.one->values[i] == x[i] && c.one->flags[i] == 0);
  ew_series_free(c.series);
}

/* A clean recording is not touched: the share of false spikes is small. */
static void nothing_to_clean(void **state) {
  (void)state;
  double x[N];
  noisy(x, 200, 2);
  struct cleaned c = clean("Torque [N·m]", EW_CHANNEL_TORQUE, x, N);
  struct ew_clean_counts n = ew_clean_count(c.one, 0, N);
  assert_true(n.spikes <= 1 && !n.dropouts && !n.flat && !n.saturated && !n.lost);
  ew_series_free(c.series);
}

static void dropouts(void **state) {
  (void)state;
  double x[N];
  noisy(x, 200, 2);
  x[60] = x[61] = x[62] = 0;      /* zero between living values */
  x[100] = x[101] = NAN;          /* short gap: filled */
  for (int i = 200; i < 240; i++) /* 0.8 s: too long to fill */
    x[i] = NAN;
  struct cleaned c = clean("Torque [N·m]", EW_CHANNEL_TORQUE, x, N);
  struct ew_clean_counts n = ew_clean_count(c.one, 0, N);
  assert_int_equal(n.dropouts, 3 + 2 + 40);
  assert_int_equal(n.lost, 40);
  assert_true(fabs(c.one->values[61] - 200) < 5 && fabs(c.one->values[100] - 200) < 5);
  assert_true(isnan(c.one->values[220]) && (c.one->flags[220] & EW_FLAG_LOST));
  ew_series_free(c.series);
  noisy(x, 0, 0);
  c = clean("Knock Count", EW_CHANNEL_KNOCK, x, N); /* a count of nothing is no dropout */
  assert_int_equal(ew_clean_count(c.one, 0, N).dropouts, 0);
  ew_series_free(c.series);
}

static void flat_and_saturated(void **state) {
  (void)state;
  double x[N];
  noisy(x, 200, 2);
  for (int i = 100; i < 200; i++)
    x[i] = 199.5; /* two seconds, while the speed moves by 800 rpm */
  struct cleaned c = clean("Torque [N·m]", EW_CHANNEL_TORQUE, x, N);
  assert_int_equal(ew_clean_count(c.one, 0, N).flat, 100);
  assert_true(c.one->values[150] == 199.5); /* kept */
  ew_series_free(c.series);
  for (int i = 0; i < N; i++)
    x[i] = fmin(150 + 0.5 * i + (i % 3), 250);
  c = clean("Torque [N·m]", EW_CHANNEL_TORQUE, x, N);
  assert_true(ew_clean_count(c.one, 0, N).saturated > 80);
  assert_true((c.one->flags[290] & EW_FLAG_SATURATED) && c.one->values[290] == 250);
  ew_series_free(c.series);
  noisy(x, 90, 0);
  c = clean("Coolant Temp [°C]", EW_CHANNEL_COOLANT_TEMPERATURE, x, N);
  assert_int_equal(ew_clean_count(c.one, 0, N).flat, 0); /* a still coolant is no fault */
  ew_series_free(c.series);
}

/* None is taken unless a channel map states one; then the last samples are missing, as nobody measured them. */
static void lag(void **state) {
  (void)state;
  static const char stated[] =
      "channels:\n  exhaust_temperature: { column: \"EGT\", lag: 0.4 s }\n";
  for (int with = 0; with < 2; with++) {
    GString *text = g_string_new("Time [s],RPM,EGT [°C]\n");
    for (int i = 0; i < N; i++)
      g_string_append_printf(text, "%.2f,%d,%d\n", i / 50.0, 3000 + 8 * i, 600 + i);
    g_autoptr(ew_node) root = ew_node_parse("map", stated, strlen(stated), NULL);
    struct ew_channel_map *map = with ? ew_channel_map_read(root, "map", NULL) : NULL;
    struct ew_table *table = ew_table_read_bytes(text->str, text->len, "x", NULL);
    struct ew_series *series = ew_series_from_table(table, "x", map, NAN, NULL);
    struct ew_method method;
    ew_method_defaults(&method);
    ew_clean(series, &method);
    const struct ew_series_channel *c = ew_series_find(series, EW_CHANNEL_EXHAUST_TEMPERATURE, 0);
    gsize shift = with ? 20 : 0;
    assert_string_equal(ew_series_lag_from(c), with ? "channel map" : "not stated");
    assert_true(c->lag_stated == with && c->lag_rows == shift);
    for (gsize i = 0; i < N - shift; i++)
      expect_near(c->values[i], 873.15 + (double)(i + shift), 1e-9, "earlier by its lag");
    for (gsize i = N - shift; i < N; i++)
      assert_true(isnan(c->values[i]) && c->flags[i] == EW_FLAG_LOST);
    ew_series_free(series);
    ew_table_free(table);
    ew_channel_map_free(map);
    g_string_free(text, TRUE);
  }
}

/* The filter itself, against a straightforward writing of Hampel's rule: median of 7, 1.4826 MAD. */
static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static void hampel_by_the_book(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(9);
  double x[500];
  guint8 spike[500];
  for (int i = 0; i < 500; i++)
    x[i] = g_rand_double(random) < 0.05 ? 50 * g_rand_double(random) : g_rand_double(random);
  ew_hampel(x, 500, 6, 0.5, spike);
  for (int i = 3; i < 497; i++) {
    double w[7], away[7];
    memcpy(w, x + i - 3, sizeof w);
    qsort(w, 7, sizeof *w, by_size);
    for (int k = 0; k < 7; k++)
      away[k] = fabs(w[k] - w[3]);
    qsort(away, 7, sizeof *away, by_size);
    double distance = fabs(x[i] - w[3]);
    assert_int_equal(spike[i], distance > 0.5 && distance > 6 * 1.4826 * away[3]);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(spikes),   cmocka_unit_test(nothing_to_clean),
      cmocka_unit_test(dropouts), cmocka_unit_test(flat_and_saturated),
      cmocka_unit_test(lag),      cmocka_unit_test(hampel_by_the_book)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
