/* Pulls whose rows are in their live recording, against the same rows kept as a file: digests, curves, what verify says;
 * and places that lead nowhere. */
#include "book/cut.h"
#include "book/figures.h"
#include "pull/figures.h"
#include "shop.h"
#include <math.h>

#define SENSORS                                                                                    \
  "sensors:\n  - {channel: AI 1, name: Torque, unit: N·m, kind: linear, gain: 40.5, offset: "     \
  "-3.25}\n"                                                                                       \
  "  - {channel: AI 2, name: RPM, unit: rpm, kind: table, raw: [0, 5, 10], values: [0, 4000, "     \
  "8000]}\n"
#define COLUMNS 7u

static char *names[] = {"RPM", "Torque", "Baro", "IAT", "Humidity", "TPS", NULL};
static char *units[] = {"rpm", "N·m", "hPa", "°C", "%", "%", NULL};
static char *raw_names[] = {"AI 2", "AI 1", "Baro", "IAT", "Humidity", "TPS", NULL};
static char *raw_units[] = {"V", "V", "hPa", "°C", "%", "%", NULL};

/* A sweep as a source sends it: volts for speed and torque, then the rest. `lead` rows before it belong to nobody. */
static GArray *raw_rows(guint lead, gboolean volts) {
  struct recording r = recording_new(TRUE);
  r.noise_n_m = 0.5;
  sweep(&r, 2500, 6500, 400);
  struct ew_table *t = ew_table_read_bytes(r.text->str, r.text->len, "raw", NULL);
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(double));
  for (gsize i = 0; i < lead + t->rows; i++)
    for (guint c = 0; c < COLUMNS; c++) {
      gsize at = i < lead ? 0 : i - lead;
      double value = c == 0 ? 100 + (double)i / r.hz : t->columns[c][at];
      if (volts && c == 1)
        value = value / 800;
      else if (volts && c == 2)
        value = (value + 3.25) / 40.5;
      else if (c == 5 && i % 50 == 7)
        value = NAN;
      g_array_append_val(rows, value);
    }
  ew_table_free(t);
  recording_clear(&r);
  return rows;
}

/* Stored in blocks of 1, 2, 3, ... 40, 1, 2, ... times `each` rows: the id of the stream; *anchor: its end. */
static gint64 keep_blocks(struct ew_book *book, const GArray *rows, gboolean volts, gsize each,
                          struct ew_cut_anchor *anchor) {
  struct ew_stream_facts facts = {0,
                                  "bench",
                                  "tcp://logger:1",
                                  "power",
                                  volts ? raw_names : names,
                                  volts ? raw_units : units,
                                  COLUMNS - 1};
  const double *values = (const double *)(void *)rows->data;
  gsize count = rows->len / COLUMNS, at = 0;
  g_autoptr(GError) error = NULL;
  struct ew_live_part part = {.facts = &facts, .columns = COLUMNS};
  for (gsize block = 1; at < count; at += part.rows, block = block % 40 + 1) {
    part.values = values + at * COLUMNS;
    part.rows = MIN(block * each, count - at);
    part.end = at + part.rows == count ? "ended" : NULL;
    expect(ew_keep_live(book, &part, 1, NULL, 0, &error), "stream", "%s", error->message);
    part.id = part.kept_id;
    part.sequence = part.kept_sequence;
  }
  *anchor = (struct ew_cut_anchor){part.sequence, (gint64)count};
  return part.id;
}

static gint64 keep_stream(struct ew_book *book, const GArray *rows, gboolean volts,
                          struct ew_cut_anchor *anchor) {
  return keep_blocks(book, rows, volts, 1, anchor);
}

static struct ew_frames *file_frames(const GArray *rows, gsize from, gboolean volts) {
  struct ew_source_channels raw = {COLUMNS - 1, volts ? raw_names : names,
                                   volts ? raw_units : units},
                            known;
  g_autoptr(ew_node) root = ew_node_parse("sensors", SENSORS, strlen(SENSORS), NULL);
  g_autoptr(ew_sensors) sensors = volts ? ew_sensors_read(root, "sensors", NULL) : NULL;
  struct ew_sensor_plan plan;
  ew_sensor_plan_make(sensors, &raw, &plan);
  ew_sensor_plan_channels(&plan, &raw, &known);
  struct ew_frames *f = g_new0(struct ew_frames, 1);
  f->headings = ew_stream_headings_of(known.names, known.units, known.count);
  f->columns = COLUMNS;
  f->rows = rows->len / COLUMNS - from;
  f->values = g_new(double, f->rows *COLUMNS);
  for (gsize r = 0; r < f->rows; r++) {
    const double *row = &g_array_index(rows, double, (from + r) * COLUMNS);
    f->values[r * COLUMNS] = row[0];
    ew_sensor_plan_apply(&plan, row + 1, f->values + r * COLUMNS + 1);
  }
  ew_source_channels_clear(&known);
  ew_sensor_plan_clear(&plan);
  return f;
}

/* As the desk keeps a pull: its recording by place (NULL: as a file). The id of the recording. */
static gint64 keep_cut(struct ew_book *book, gint64 stream_id, const struct ew_frames *frames,
                       const struct ew_cut_place *place, char **digest) {
  struct facts *f = facts_new();
  g_autoptr(GError) error = NULL;
  g_autoptr(GBytes) text = ew_frames_text(frames, NULL);
  struct ew_processed *p = place ? ew_process_frames(frames, "live", NULL, &f->reduce, &error)
                                 : ew_process(g_bytes_get_data(text, NULL), g_bytes_get_size(text),
                                              "live", NULL, &f->reduce, &error);
  expect(p && p->curves->len == 1, "a pull", "%s", error ? error->message : "none");
  g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, text),
                  *figures = ew_figures_digest_frames(frames, NULL),
                  *method = ew_fields_write_yaml(&ew_method_fields, &f->method),
                  *cell = ew_fields_write_yaml(&ew_bench_fields, &f->bench);
  GBytes *bytes = ew_curve_to_bytes(curve_of(p, 0));
  *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  struct ew_new_pull pull = {.row = {.run = 1,
                                     .mounting = 1,
                                     .kind = (char *)"sweep",
                                     .at = (char *)"2026-06-12T10:00:00Z",
                                     .purpose = (char *)"pull",
                                     .setup = (char *)"",
                                     .top_rpm = 6500,
                                     .band_mean_n_m = 180},
                             .curve = {method, cell, (char *)"", *digest, bytes}};
  struct ew_new_cut cut = {
      stream_id, frames->values[0], frames->values[(frames->rows - 1) * COLUMNS], NULL, frames,
      place};
  struct ew_pull_row last;
  ew_pull_last(book, 0, &last, NULL);
  struct ew_new_recording n = {.row = {.rows = (gint64)p->series->rows,
                                       .channels = p->series->channels_count,
                                       .name = (char *)"live",
                                       .sha256 = sha256,
                                       .bytes = text},
                               .figures = figures,
                               .last = &last,
                               .pulls = &pull,
                               .pulls_count = 1,
                               .cut = &cut};
  struct ew_kept_recording kept;
  expect(ew_keep_recording(book, &n, &kept, &error), "kept", "%s", error ? error->message : "");
  g_array_unref(kept.pull_ids);
  ew_pull_row_clear(&last);
  g_bytes_unref(bytes);
  ew_processed_free(p);
  facts_free(f);
  return kept.id;
}

static gint64 bytes_kept(struct ew_book *book, gint64 id) {
  gint64 bytes;
  assert_true(ew_sql_number(ew_book_port(book), &bytes, NULL,
                            "SELECT length(bytes) FROM recording WHERE id = ?", "i", id));
  return bytes;
}

static void assert_whole(struct ew_book *book) {
  g_autofree char *problem = NULL;
  expect(is_whole(book, NULL, &problem), "whole", "%s", problem);
}

static void the_rows_of_the_session_are_the_pull(void **state) {
  (void)state;
  for (int volts = 0; volts < 2; volts++) {
    struct shop s = shop_new(), other = shop_new();
    struct ew_book *book = open_book(s.path, TRUE), *files = open_book(other.path, TRUE);
    g_autoptr(GArray) rows = raw_rows(33, volts);
    struct ew_cut_anchor anchor;
    gint64 stream_id = keep_stream(book, rows, volts, &anchor),
           stream_there = keep_stream(files, rows, volts, &anchor);
    g_autoptr(ew_frames) frames = file_frames(rows, 33, volts);
    struct ew_cut_place place;
    assert_true(ew_cut_find(book, stream_id, &anchor, 33, (gint64)frames->rows, &place, NULL));
    place.sensors = volts ? SENSORS : NULL;
    g_autofree char *once = NULL, *twice = NULL;
    gint64 id = keep_cut(book, stream_id, frames, &place, &once),
           file_id = keep_cut(files, stream_there, frames, NULL, &twice);
    assert_string_equal(once, twice); /* the very bits of the curve */
    assert_true(bytes_kept(book, id) < 80 && bytes_kept(files, file_id) > 20000);
    struct ew_recording_row a, b;
    assert_true(ew_recording_get(book, id, &a, NULL) && ew_recording_get(files, file_id, &b, NULL));
    assert_true(a.frames && !a.bytes && b.bytes && !b.frames);
    g_autoptr(GBytes) file = ew_recording_file(&a, NULL);
    assert_true(g_bytes_equal(file, b.bytes));
    assert_string_equal(a.sha256, b.sha256);
    assert_true(a.rows == b.rows && a.channels == b.channels);
    ew_recording_row_clear(&a);
    ew_recording_row_clear(&b);
    assert_whole(book);
    assert_whole(files);
    g_autofree char *figures = NULL, *read = NULL;
    assert_true(ew_figures_of(book, id, &figures, NULL));
    run_sql(s.path, "DELETE FROM figures");
    assert_true(ew_figures_of(book, id, &read, NULL)); /* read again where it was forgotten */
    assert_string_equal(figures, read);
    ew_book_close(book);
    ew_book_close(files);
    shop_clear(&s);
    shop_clear(&other);
  }
}

static void places_are_found_and_refused(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(GArray) rows = raw_rows(0, FALSE);
  struct ew_cut_anchor anchor;
  gint64 id = keep_stream(book, rows, FALSE, &anchor), count = anchor.rows;
  const struct {
    const char *says;
    gint64 from, rows, block, skip; /* block -1: refused */
  } cases[] = {{"all of it", 0, count, 0, 0},
               {"its first row", 0, 1, 0, 0},
               {"the first of a block", 3, 1, 2, 0},
               {"within a block", 5, 3, 2, 2},
               {"its last row", count - 1, 1, anchor.block - 1, -1},
               {"none", 5, 0, -1, 0},
               {"before the begin", -1, 3, -1, 0},
               {"beyond the end", count - 2, 3, -1, 0},
               {"far beyond", G_MAXINT64, 3, -1, 0},
               {"more than there can be", 5, G_MAXINT64, -1, 0}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    struct ew_cut_place place;
    g_autoptr(GError) error = NULL;
    gboolean found = ew_cut_find(book, id, &anchor, cases[i].from, cases[i].rows, &place, &error);
    expect(found == (cases[i].block >= 0) && found == !error, cases[i].says, "%s",
           error ? error->message : "found");
    if (!found)
      continue;
    expect(place.block == cases[i].block && (cases[i].skip < 0 || place.skip == cases[i].skip),
           cases[i].says, "block %d, row %d", (int)place.block, (int)place.skip);
    g_autoptr(ew_frames) frames = ew_cut_frames(book, id, &place, NULL);
    expect(frames &&
               frames->values[0] == g_array_index(rows, double, (gsize)cases[i].from *COLUMNS),
           cases[i].says, "another row");
  }
  const struct ew_cut_place nowhere[] = {
      {0, 0, count + 1, NULL}, {0, 1, 5, NULL},          {2, -1, 5, NULL},
      {9999, 0, 5, NULL},      {-1, 0, 5, NULL},         {2, 0, 0, NULL},
      {2, 0, -5, NULL},        {2, 0, G_MAXINT64, NULL}, {2, G_MAXINT64, 1, NULL},
      {2, 0, 5, "sensors: 3"}, {G_MININT64, 0, 5, NULL}};
  for (gsize i = 0; i < G_N_ELEMENTS(nowhere); i++) {
    g_autoptr(GError) error = NULL;
    expect(!ew_cut_frames(book, id, &nowhere[i], &error) && error, "nowhere", "%zu was read", i);
  }
  ew_book_close(book);
  shop_clear(&s);
}

/* What is done to the file, and what verify then says. */
static void a_book_that_was_changed_says_so(void **state) {
  (void)state;
  const struct {
    const char *says, *sql, *words;
  } rows[] = {
      {"another place", "UPDATE stream_pull SET skip = skip - 1", "do not have the digest"},
      {"beyond the end", "UPDATE stream_pull SET rows = rows + 1", "does not have the"},
      {"no rows", "UPDATE stream_pull SET rows = NULL", "does not have the"},
      {"another calibration", "UPDATE stream_pull SET sensors = replace(sensors, '40.5', '40.6')",
       "do not have the digest"},
      {"no calibration", "UPDATE stream_pull SET sensors = NULL", "do not have the digest"},
      {"a block that is gone", "DELETE FROM stream_block WHERE sequence = 12", "does not have the"},
      {"bytes of its own", "UPDATE recording SET bytes = x'00' WHERE id = 2", "and it has bytes"},
      {"another session", "UPDATE stream_pull SET recording_id = 2", ""}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct shop s = shop_new();
    struct ew_book *book = open_book(s.path, TRUE);
    g_autoptr(GArray) raw = raw_rows(33, TRUE);
    struct ew_cut_anchor anchor;
    gint64 stream_id = keep_stream(book, raw, TRUE, &anchor);
    g_autoptr(ew_frames) frames = file_frames(raw, 33, TRUE);
    struct ew_cut_place place;
    assert_true(ew_cut_find(book, stream_id, &anchor, 33, (gint64)frames->rows, &place, NULL));
    place.sensors = SENSORS;
    g_autofree char *digest = NULL;
    keep_cut(book, stream_id, frames, &place, &digest);
    run_sql(s.path, rows[i].sql);
    struct ew_verification v;
    g_autoptr(GError) error = NULL;
    expect(ew_book_verify(book, NULL, &v, &error), rows[i].says, "%s", error->message);
    gboolean said = FALSE;
    for (guint k = 0; k < v.problems->len; k++)
      said |= strstr(v.problems->pdata[k], rows[i].words) != NULL;
    expect(!v.whole && said, rows[i].says, "%s",
           v.problems->len ? (char *)v.problems->pdata[0] : "whole");
    ew_verification_clear(&v);
    ew_book_close(book);
    shop_clear(&s);
  }
}

/* Two pulls may share rows, and the same rows cut twice are one recording. */
static void rows_may_be_shared(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(GArray) raw = raw_rows(33, TRUE);
  struct ew_cut_anchor anchor;
  gint64 stream_id = keep_stream(book, raw, TRUE, &anchor), ids[3];
  const gsize from[] = {33, 20, 33};
  for (int i = 0; i < 3; i++) {
    g_autoptr(ew_frames) frames = file_frames(raw, from[i], TRUE);
    struct ew_cut_place place;
    assert_true(
        ew_cut_find(book, stream_id, &anchor, (gint64)from[i], (gint64)frames->rows, &place, NULL));
    place.sensors = SENSORS;
    g_autofree char *digest = NULL;
    ids[i] = keep_cut(book, stream_id, frames, &place, &digest);
  }
  assert_true(ids[0] != ids[1] && ids[0] == ids[2]);
  assert_whole(book);
  ew_book_close(book);
  shop_clear(&s);
}

/* A file that is in the book already keeps its bytes when the same rows are measured again. */
static void a_known_file_keeps_its_bytes(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(GArray) raw = raw_rows(33, TRUE);
  struct ew_cut_anchor anchor;
  gint64 first = keep_stream(book, raw, TRUE, &anchor),
         second = keep_stream(book, raw, TRUE, &anchor);
  g_autoptr(ew_frames) frames = file_frames(raw, 33, TRUE);
  g_autofree char *digest = NULL, *again = NULL;
  gint64 id = keep_cut(book, first, frames, NULL, &digest);
  run_sql(s.path, "DELETE FROM stream_pull");
  struct ew_cut_place place;
  assert_true(ew_cut_find(book, second, &anchor, 33, (gint64)frames->rows, &place, NULL));
  place.sensors = SENSORS;
  assert_int_equal(keep_cut(book, second, frames, &place, &again), id);
  assert_true(bytes_kept(book, id) > 20000);
  assert_whole(book);
  ew_book_close(book);
  shop_clear(&s);
}

/* More figures than are held in memory: read from the stream each time, and the same in every way that they are asked for. */
static void a_long_one_is_read_where_it_stands(void **state) {
  (void)state;
  const gsize count = 160000, from = 33;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  g_autoptr(GArray) rows = g_array_new(FALSE, FALSE, sizeof(double));
  for (gsize i = 0; i < count * COLUMNS; i++) {
    double value = i % COLUMNS == 0 ? (double)(i / COLUMNS) / 1000
                   : i % 1013 == 1  ? (double)NAN
                                    : (double)(i * 7 % 1009) / 101;
    g_array_append_val(rows, value);
  }
  struct ew_cut_anchor anchor;
  gint64 id = keep_blocks(book, rows, TRUE, 50, &anchor);
  g_autoptr(ew_frames) held = file_frames(rows, from, TRUE);
  struct ew_cut_place place;
  assert_true(ew_cut_find(book, id, &anchor, from, (gint64)held->rows, &place, NULL));
  place.sensors = SENSORS;
  g_autoptr(ew_frames) read = ew_cut_frames(book, id, &place, NULL);
  assert_true(read && !read->values && read->rows == held->rows && held->values);
  g_autoptr(GBytes) a = ew_frames_text(held, NULL);
  g_autoptr(GBytes) b = ew_frames_text(read, NULL);
  assert_true(g_bytes_equal(a, b));
  g_autofree char *whole = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, a),
                  *digest = ew_frames_digest(read, NULL),
                  *figures = ew_figures_digest_frames(read, NULL),
                  *in_file = ew_figures_digest(g_bytes_get_data(a, NULL), g_bytes_get_size(a), "");
  assert_string_equal(digest, whole);
  assert_string_equal(figures, in_file);
  gboolean wanted[COLUMNS] = {TRUE, FALSE, TRUE};
  struct ew_table *t = ew_frames_table(read, "long", NULL);
  assert_true(ew_table_fill(t, wanted, NULL) && t->columns[0] && !t->columns[1] && t->columns[2]);
  for (gsize r = 0; r < held->rows; r++)
    assert_true(t->columns[0][r] == held->values[r * COLUMNS] &&
                (t->columns[2][r] == held->values[r * COLUMNS + 2] ||
                 (isnan(t->columns[2][r]) && isnan(held->values[r * COLUMNS + 2]))));
  ew_table_free(t);
  /* what goes while it is read is missed each time, not only at first */
  run_sql(s.path, "DELETE FROM stream_block WHERE sequence = 50");
  g_autoptr(GError) error = NULL;
  assert_null(ew_frames_digest(read, &error));
  assert_non_null(strstr(error->message, "does not have the"));
  g_clear_error(&error);
  assert_null(ew_figures_digest_frames(read, &error));
  assert_non_null(error);
  g_clear_error(&error);
  assert_null(ew_frames_table(read, "long", &error));
  assert_non_null(error);
  g_clear_error(&error);
  assert_null(ew_cut_frames(book, id, &place, &error));
  g_clear_pointer(&read, ew_frames_free);
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_rows_of_the_session_are_the_pull),
      cmocka_unit_test(places_are_found_and_refused),
      cmocka_unit_test(a_book_that_was_changed_says_so),
      cmocka_unit_test(rows_may_be_shared),
      cmocka_unit_test(a_known_file_keeps_its_bytes),
      cmocka_unit_test(a_long_one_is_read_where_it_stands),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
