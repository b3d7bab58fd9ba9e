#include "shop.h"

static struct ew_processed *usual(struct facts *f) {
  f->engine.bore_m = f->engine.stroke_m = 0.086;
  f->engine.cylinders = 4;
  g_autofree char *text = sweep_text(3);
  return process_text(text, f, "a sweep");
}

static void round_trip(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  const struct ew_curve *a = curve_of(p, 0);
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(a);
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_curve *b = ew_curve_from_bytes(data, size);
  assert_non_null(b);
  g_autoptr(GBytes) again = ew_curve_to_bytes(b);
  assert_true(g_bytes_equal(bytes, again));
  assert_int_equal(a->points, b->points);
  assert_memory_equal(a->torque_n_m, b->torque_n_m, a->points * sizeof(double));
  assert_int_equal(a->columns->len, b->columns->len);
  assert_int_equal(a->warnings->len, b->warnings->len);
  assert_string_equal(a->conditions.pressure_from, b->conditions.pressure_from);
  assert_non_null(ew_curve_column(b, "bmep", 0));
  assert_true(a->raw_points == b->raw_points && a->band_mean_n_m == b->band_mean_n_m);
  ew_curve_free(b);
  ew_processed_free(p);
  facts_free(f);
}

/* The same raw and the same method give the same bytes. */
static void stable_bytes(void **state) {
  (void)state;
  struct facts *f = facts_new(), *g = facts_new();
  struct ew_processed *p = usual(f), *q = usual(g);
  g_autoptr(GBytes) a = ew_curve_to_bytes(curve_of(p, 0));
  GBytes *b = ew_curve_to_bytes(curve_of(q, 0));
  assert_true(g_bytes_equal(a, b));
  g_bytes_unref(b);
  ew_processed_free(q);
  g->method.half_width_rpm = 300;
  q = usual(g);
  b = ew_curve_to_bytes(curve_of(q, 0));
  assert_false(g_bytes_equal(a, b)); /* another method, other bytes */
  g_bytes_unref(b);
  ew_processed_free(p);
  ew_processed_free(q);
  facts_free(f);
  facts_free(g);
}

/* Whatever the bytes are: a curve or nothing, and no reading past their end (the sanitizers watch). */
static void hostile_bytes(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  GBytes *bytes = ew_curve_to_bytes(curve_of(p, 0));
  gsize size;
  const guint8 *data = g_bytes_get_data(bytes, &size);
  assert_null(ew_curve_from_bytes(data, 0));
  for (gsize cut = 0; cut < size; cut += 1 + cut / 20) {
    g_autofree guint8 *exact = g_memdup2(data, MAX(cut, 1));
    assert_null(ew_curve_from_bytes(exact, cut));
  }
  g_autoptr(GRand) random = g_rand_new_with_seed(8);
  for (int i = 0; i < 2000; i++) {
    g_autofree guint8 *hurt = g_memdup2(data, size);
    for (int k = 0; k < 4; k++)
      hurt[g_rand_int_range(random, 0, (gint32)size)] = (guint8)g_rand_int(random);
    ew_curve_free(ew_curve_from_bytes(hurt, size));
  }
  g_autofree guint8 *more = g_malloc(size + 1);
  memcpy(more, data, size);
  assert_null(ew_curve_from_bytes(more, size + 1)); /* a byte too many */
  g_bytes_unref(bytes);
  ew_processed_free(p);
  facts_free(f);
}

/* Where `count` bytes stand in a curve; the test fails when they don't. */
static guint8 *find(guint8 *data, gsize size, const void *what, gsize count) {
  guint8 *at = memmem(data, size, what, count);
  assert_non_null(at);
  return at;
}

/* What is one of a list is a key on disk, so that the list may grow at any place. */
static void keys_on_disk(void **state) {
  (void)state;
  static const char *const keys[] = {"j1349", "natural", "sweep", "derived"};
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(curve_of(p, 0));
  gsize size;
  g_autofree guint8 *data = g_memdup2(g_bytes_get_data(bytes, &size), g_bytes_get_size(bytes));
  for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
    find(data, size, keys[i], strlen(keys[i]) + 1);
  memcpy(find(data, size, "j1349", 6), "j1350", 6);
  assert_null(ew_curve_from_bytes(data, size)); /* a standard that nobody knows */
  ew_processed_free(p);
  facts_free(f);
}

/* Figures that no curve has, and that its readers would trip over. */
static void impossible_figures(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  struct ew_curve *c = g_ptr_array_index(p->curves, 0);
  struct {
    const char *says;
    double *place, value;
  } rows[] = {{"an infinite torque", &c->torque_n_m[3], INFINITY},
              {"a speed that is no number", &c->speed_rpm[0], NAN},
              {"a speed that falls", &c->speed_rpm[2], 100},
              {"a speed below zero", &c->speed_rpm[0], -1},
              {"a speed beyond any shaft", &c->speed_rpm[c->points - 1], 1e300},
              {"a raw sample without a speed", &c->raw_speed_rpm[1], NAN},
              {"points so near that memory ends", &c->method.grid_step_rpm, 1e-9},
              {"a window of no width", &c->method.half_width_rpm, 0},
              {"a window that is no number", &c->method.half_width_rpm, NAN},
              {"a factor of zero", &c->factor.factor, 0},
              {"a pull from no speed", &c->low_rpm, NAN}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double before = *rows[i].place;
    *rows[i].place = rows[i].value;
    g_autoptr(GBytes) bytes = ew_curve_to_bytes(c);
    gsize size;
    const void *data = g_bytes_get_data(bytes, &size);
    expect(ew_curve_from_bytes(data, size) == NULL, rows[i].says, "a curve");
    *rows[i].place = before;
  }
  gsize points = c->points;
  c->points = 0;
  g_autoptr(GBytes) none = ew_curve_to_bytes(c);
  assert_null(ew_curve_from_bytes(g_bytes_get_data(none, NULL), g_bytes_get_size(none)));
  c->points = points;
  ew_processed_free(p);
  facts_free(f);
}

/* Warnings are kept as facts: the same bytes whatever language the writer reads, and read back to the bit. */
static void warnings_are_facts(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  const struct ew_curve *a = curve_of(p, 0);
  assert_non_null(message_of(a->warnings, "pull.no-rotor-inertia"));
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(a);
  gsize size;
  g_autofree guint8 *data = g_memdup2(g_bytes_get_data(bytes, &size), g_bytes_get_size(bytes));
  static const char fact[] = "{\"id\":\"pull.no-rotor-inertia\"}";
  guint8 *at = find(data, size, fact, sizeof fact);
  struct ew_curve *b = ew_curve_from_bytes(data, size);
  for (guint i = 0; i < a->warnings->len; i++)
    assert_true(ew_message_equal(a->warnings->pdata[i], b->warnings->pdata[i]));
  ew_curve_free(b);
  *at = 'x'; /* a warning that is not a message */
  assert_null(ew_curve_from_bytes(data, size));
  ew_processed_free(p);
  facts_free(f);
}

/* The bytes as EWC2 had them: without the age of the weather, in the conditions and in the method. */
static gsize without_ages(guint8 *data, gsize size) {
  guint8 *conditions = find(data, size, "channel", 8), *method = find(data, size, "j1349", 6);
  g_assert(conditions && method && conditions < method);
  memmove(method - 16, method - 8, (gsize)(data + size - (method - 8)));
  memmove(conditions - 16, conditions - 8, (gsize)(data + size - 8 - (conditions - 8)));
  return size - 16;
}

/* An earlier program kept sentences: they are shown as they are, and are no facts of this one. */
static void sentences_of_before(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct ew_processed *p = usual(f);
  const struct ew_curve *a = curve_of(p, 0);
  g_autoptr(GBytes) bytes = ew_curve_to_bytes(a);
  gsize size;
  g_autofree guint8 *data = g_memdup2(g_bytes_get_data(bytes, &size), g_bytes_get_size(bytes));
  static const char fact[] = "{\"id\":\"pull.no-rotor-inertia\"}",
                    before[] = "no inertia of the absorber is ";
  G_STATIC_ASSERT(sizeof fact >= sizeof before);
  guint8 *at = find(data, size, fact, sizeof fact);
  memset(at, '.', sizeof fact - 1);
  memcpy(at, before, sizeof before - 1);
  memcpy(data, "2CWE", 4); /* little-endian EWC2 */
  size = without_ages(data, size);
  struct ew_curve *b = ew_curve_from_bytes(data, size);
  assert_non_null(b);
  const ew_message *said = message_of(b->warnings, "base.sentence");
  assert_non_null(said);
  assert_int_equal(b->warnings->len, a->warnings->len);
  assert_null(message_of(b->warnings, "pull.no-rotor-inertia"));
  assert_true(isnan(b->conditions.weather_age_s));
  assert_true(b->method.weather_age_s == 1800);
  assert_false(ew_curve_has_bytes(a, bytes) && ew_curve_has_bytes(b, bytes));
  ew_curve_free(b);
  ew_processed_free(p);
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(round_trip),         cmocka_unit_test(stable_bytes),
      cmocka_unit_test(hostile_bytes),      cmocka_unit_test(keys_on_disk),
      cmocka_unit_test(impossible_figures), cmocka_unit_test(warnings_are_facts),
      cmocka_unit_test(sentences_of_before)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
