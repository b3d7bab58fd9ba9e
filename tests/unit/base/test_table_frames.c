/* Rows at hand against the reader of files: the same table from both ways, with bits of figures compared. Figures are
 * pseudo-random bit patterns as well as plain ones (xorshift64*, Vigna 2016, seed printed). */
#include "base/table_frames.h"
#include "unit.h"
#include <math.h>
#include <string.h>

#define ROWS 700

static double next_plain(guint64 *seed) {
  *seed ^= *seed >> 12, *seed ^= *seed << 25, *seed ^= *seed >> 27;
  return (double)(*seed * 2685821657736338717u >> 11);
}

static double any_finite(guint64 *seed) {
  double value = NAN;
  while (!isfinite(value)) {
    guint64 bits = (guint64)next_plain(seed) << 11 ^ (guint64)next_plain(seed);
    memcpy(&value, &bits, sizeof value);
  }
  return value;
}

static struct ew_frames *frames_of(const char *const *headings, gsize rows) {
  struct ew_frames *f = g_new0(struct ew_frames, 1);
  f->headings = g_strdupv((char **)(gsize)headings);
  f->columns = g_strv_length(f->headings);
  f->rows = rows;
  f->values = g_new(double, rows * f->columns);
  return f;
}

static void assert_same(struct ew_frames *f) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GBytes) text = ew_frames_text(f, NULL);
  struct ew_table *direct = ew_frames_table(f, "run", &error);
  struct ew_table *read =
      ew_table_read_bytes(g_bytes_get_data(text, NULL), g_bytes_get_size(text), "run", &error);
  assert_null(error);
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, text),
                  *streamed = ew_frames_digest(f, NULL);
  assert_string_equal(digest, streamed);
  g_autofree gboolean *all = g_new(gboolean, f->columns);
  for (gsize c = 0; c < f->columns; c++)
    all[c] = TRUE;
  assert_true(ew_table_fill(direct, all, &error));
  assert_int_equal(direct->rows, read->rows);
  assert_int_equal(direct->layout->columns->len, read->layout->columns->len);
  assert_int_equal(direct->layout->delimiter, read->layout->delimiter);
  assert_int_equal(direct->layout->decimal, read->layout->decimal);
  assert_int_equal(direct->layout->header_line, read->layout->header_line);
  assert_int_equal(direct->layout->data_line, read->layout->data_line);
  assert_int_equal(direct->layout->notes->len, read->layout->notes->len);
  for (guint c = 0; c < read->layout->columns->len; c++) {
    const struct ew_column *a = direct->layout->columns->pdata[c],
                           *b = read->layout->columns->pdata[c];
    assert_string_equal(a->name, b->name);
    assert_true(g_strcmp0(a->unit, b->unit) == 0);
    assert_int_equal(a->content, b->content);
    assert_int_equal(a->group, b->group);
    assert_int_equal(a->values, b->values);
    assert_int_equal(a->missing, b->missing);
    assert_int_equal(a->unreadable, b->unreadable);
    for (gsize r = 0; r < read->rows; r++) {
      double x = direct->columns[c][r], y = read->columns[c][r];
      assert_true(isnan(x) ? isnan(y) : memcmp(&x, &y, sizeof x) == 0);
    }
  }
  ew_table_free(direct);
  ew_table_free(read);
}

static void a_pull_is_read_as_its_file(void **state) {
  (void)state;
  const char *headings[] = {
      "Time [s]", "Engine speed [rpm]", "Torque [N·m]", "Oil pressure [bar]", "Oil temp (degC)",
      "lambda",   "Torque [N·m]",       "torque_Nm",    "Spare [-]",          NULL};
  g_autoptr(ew_frames) f = frames_of(headings, ROWS);
  for (gsize r = 0; r < ROWS; r++)
    for (gsize c = 0; c < f->columns; c++)
      f->values[r * f->columns + c] =
          c == 0 ? 0.01 * (double)r : 1000 * sin((double)(r * 7 + c)) / 3;
  assert_same(f);
}

static void gaps_and_columns_without_a_reading(void **state) {
  (void)state;
  const char *headings[] = {"Time [s]", "rpm", "never", "late", "infinite", NULL};
  g_autoptr(ew_frames) f = frames_of(headings, ROWS);
  for (gsize r = 0; r < ROWS; r++) {
    double *row = f->values + r * f->columns;
    row[0] = (double)r / 100;
    row[1] = r % 3 ? (double)NAN : 3000.0 + (double)r;
    row[2] = NAN;
    row[3] = r < 600 ? (double)NAN : 1.5;
    row[4] = r % 2 ? (double)INFINITY : -0.0;
  }
  assert_same(f);
}

static void every_finite_bit_pattern_is_itself(void **state) {
  (void)state;
  guint64 seed = 20261201;
  print_message("seed %llu\n", (unsigned long long)seed);
  const char *headings[] = {"Time [s]", "a", "b [bar]", NULL};
  g_autoptr(ew_frames) f = frames_of(headings, 5000);
  for (gsize i = 0; i < f->rows * f->columns; i++)
    f->values[i] = any_finite(&seed);
  assert_same(f);
}

/* Names that are figures pass for a row of the table in a file; at hand they are names. */
static void columns_named_by_numbers_keep_their_names(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  const char *headings[] = {"Time [s]", "1", "2", "", NULL};
  g_autoptr(ew_frames) f = frames_of(headings, 3);
  for (gsize i = 0; i < f->rows * f->columns; i++)
    f->values[i] = (double)i;
  struct ew_table *t = ew_frames_table(f, "run", &error);
  assert_non_null(t);
  const char *const names[] = {"Time", "1", "2", "column 4"};
  for (guint c = 0; c < 4; c++)
    assert_string_equal(((struct ew_column *)t->layout->columns->pdata[c])->name, names[c]);
  ew_table_free(t);
}

static void nothing_is_refused(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  const char *headings[] = {"Time [s]", NULL};
  g_autoptr(ew_frames) f = frames_of(headings, 0);
  assert_null(ew_frames_table(f, "run", &error));
  assert_string_equal(error->message, "run: no row of figures in it");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_pull_is_read_as_its_file),
      cmocka_unit_test(gaps_and_columns_without_a_reading),
      cmocka_unit_test(every_finite_bit_pattern_is_itself),
      cmocka_unit_test(columns_named_by_numbers_keep_their_names),
      cmocka_unit_test(nothing_is_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
