/* The contract of a book's store (book/port.h) and of the verbs above it (book/keep.h): one list of cases, run against each
 * store there is, and against the same when it is late or gives unordered rows in another order. Then every verb is stopped
 * at each operation in turn: a failure keeps nothing, "run it again" keeps all of it once. */
#include "book/change.h"
#include "book/shop.h"
#include "book/figures.h"
#include "book/found.h"
#include "book/note.h"
#include "fake.h"
#include "postgresql.h"

struct store_kind {
  const char *name;
  struct ew_port *(*open)(const char *path);
  struct ew_book *(*beside)(struct ew_port *port, const char *path); /* another who has it open */
  gboolean copies;                                                   /* into a file */
};
struct world {
  struct shop shop;
  const struct store_kind *kind;
  struct ew_book *book;
  struct ew_port *port;
};

/* ---- stores ---- */
static struct ew_port *of_sqlite(const char *path) {
  gboolean read_only;
  assert_true(g_file_set_contents(path, "", 0, NULL));
  struct ew_port *port = ew_sqlite_open(path, TRUE, &read_only, NULL);
  assert_non_null(port);
  return port;
}
static struct ew_port *of_late(const char *path) {
  struct ew_port *port = fake_over(of_sqlite(path));
  fake_of(port)->wait_us = 50;
  return port;
}
static struct ew_port *of_unordered(const char *path) {
  struct ew_port *port = fake_over(of_sqlite(path));
  fake_of(port)->reorder = TRUE;
  return port;
}
/* The tables of a new book; only where there is a PostgreSQL (postgresql.h). */
static struct ew_port *of_postgresql(const char *path) {
  struct ew_port *file = of_sqlite(path);
  struct ew_port *port = postgresql_of(ew_sqlite_handle(file));
  file->class->close(file);
  return port;
}
/* For what is counted and failed at each operation. */
static struct ew_port *of_late_postgresql(const char *path) {
  return fake_over(of_postgresql(path));
}
static struct ew_book *beside_sqlite(struct ew_port *port, const char *path) {
  (void)port;
  return open_book(path, FALSE);
}
static struct ew_book *beside_postgresql(struct ew_port *port, const char *path) {
  (void)path;
  return ew_book_over(postgresql_beside(port));
}
static const struct store_kind stores[] = {
    {"sqlite", of_sqlite, beside_sqlite, TRUE},
    {"late", of_late, beside_sqlite, TRUE},
    {"unordered", of_unordered, beside_sqlite, TRUE},
    {"postgresql", of_postgresql, beside_postgresql, FALSE},
};
static const struct store_kind failing[] = {
    {"sqlite", of_late, beside_sqlite, TRUE},
    {"postgresql", of_late_postgresql, beside_postgresql, FALSE},
};

static gboolean is_there(const struct store_kind *kind) {
  return kind->beside != beside_postgresql || postgresql_address();
}

static struct world world_new(const struct store_kind *kind) {
  struct world w = {.shop = shop_new(), .kind = kind};
  ew_sql_take_unheard(); /* what the case before did not want to hear */
  w.port = kind->open(w.shop.path);
  w.book = ew_book_over(w.port);
  return w;
}
static void world_clear(struct world *w) {
  ew_book_close(w->book);
  shop_clear(&w->shop);
}

static gint64 number(struct ew_port *port, const char *sql) {
  gint64 value;
  g_autoptr(GError) error = NULL;
  expect(ew_sql_number(port, &value, &error, sql, ""), sql, "%s", error->message);
  return value;
}

/* ---- cases of the store ---- */
static void commits(struct world *w) {
  struct ew_port *port = w->port;
  struct ew_book *other = w->kind->beside(w->port, w->shop.path);
  assert_false(port->class->is_open(port));
  assert_int_equal(port->class->begin(port, NULL), EW_PORT_DONE);
  assert_true(port->class->is_open(port));
  assert_true(
      ew_sql_run(port, NULL, "INSERT INTO setting (key, value) VALUES (?, ?)", "tt", "a", "b"));
  g_autofree char *before = setting_of(other, "a");
  assert_null(before);
  assert_int_equal(port->class->commit(port, NULL), EW_PORT_DONE);
  g_autofree char *after = setting_of(other, "a");
  assert_string_equal(after, "b");
  ew_book_close(other);
}

static void rolls_back(struct world *w) {
  struct ew_port *port = w->port;
  port->class->rollback(port); /* of none: nothing */
  assert_int_equal(port->class->begin(port, NULL), EW_PORT_DONE);
  assert_true(
      ew_sql_run(port, NULL, "INSERT INTO setting (key, value) VALUES (?, ?)", "tt", "a", "b"));
  port->class->rollback(port);
  assert_false(port->class->is_open(port));
  assert_int_equal(number(port, "SELECT count(*) FROM setting WHERE key = 'a'"), 0);
}

static void gives_values_back(struct world *w) {
  static const char bytes[] = {0, 1, 0, (char)0xff};
  struct ew_port_rows *s = ew_sql_query(w->port, NULL, "SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9",
                                        "iidttbbzd", G_MININT64, G_MAXINT64, -0.1, "é", NULL, bytes,
                                        sizeof bytes, "", (gsize)0, (gsize)3, (double)NAN);
  gsize size;
  assert_true(ew_sql_next(s, NULL));
  assert_true(ew_sql_int(s, 0) == G_MININT64 && ew_sql_int(s, 1) == G_MAXINT64);
  assert_true(ew_sql_double(s, 2) == -0.1 && isnan(ew_sql_double(s, 8)));
  assert_string_equal(ew_sql_peek(s, 3), "é");
  assert_null(ew_sql_peek(s, 4));
  assert_memory_equal(ew_sql_bytes(s, 5, &size), bytes, sizeof bytes);
  assert_int_equal(size, sizeof bytes);
  ew_sql_bytes(s, 6, &size);
  assert_int_equal(size, 0);
  assert_memory_equal(ew_sql_bytes(s, 7, &size), "\0\0\0", 3);
  assert_false(ew_sql_next(s, NULL));
  ew_sql_done(s);
}

static void text_becomes_valid(struct world *w) {
  struct ew_port_rows *s = ew_sql_query(w->port, NULL, "SELECT ?1", "t", "a\xff");
  assert_true(ew_sql_next(s, NULL) && g_utf8_validate(ew_sql_peek(s, 0), -1, NULL));
  ew_sql_done(s);
}

static void orders(struct world *w) {
  const char *keys[] = {"c", "a", "b"};
  for (int i = 0; i < 3; i++)
    assert_true(ew_keep_setting(w->book, keys[i], "x", NULL));
  struct ew_port_rows *s = ew_sql_query(
      w->port, NULL, "SELECT key FROM setting WHERE length(key) = 1 ORDER BY key DESC", "");
  for (const char *want = "cba"; *want; want++)
    assert_true(ew_sql_next(s, NULL) && ew_sql_peek(s, 0)[0] == *want);
  assert_false(ew_sql_next(s, NULL));
  ew_sql_done(s);
}

static void failures_are_sentences(struct world *w) {
  static const char *const wrong[] = {"SELEKT 1", "SELECT x FROM nowhere",
                                      "INSERT INTO setting (key, value) VALUES ('zone', 'twice')",
                                      "INSERT INTO setting (key, value) VALUES ('b', NULL)",
                                      "INSERT INTO curve (pull_id, method, cell, engine, digest, "
                                      "bytes, program) VALUES (99, '', '', '', "
                                      "'', zeroblob(1), '')"};
  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    gint64 value = 7;
    expect(!ew_sql_run(w->port, &error, wrong[i], ""), wrong[i], "done");
    assert_non_null(error);
    if (i < 2) {
      assert_false(ew_sql_number(w->port, &value, NULL, wrong[i], ""));
      assert_int_equal(value, 0);
    }
  }
}

static void left_before_the_end(struct world *w) {
  g_autoptr(GError) error = NULL;
  expect(ew_keep_setting(w->book, "a", "x", &error), "a", "%s", error->message);
  expect(ew_keep_setting(w->book, "b", "x", &error), "b", "%s", error->message);
  struct ew_port_rows *s = ew_sql_query(w->port, NULL, "SELECT key FROM setting ORDER BY key", "");
  assert_true(ew_sql_next(s, NULL));
  ew_sql_done(s);
  assert_true(ew_keep_setting(w->book, "c", "x", NULL));
}

static void fills(struct world *w) {
  g_autofree char *large = g_malloc0(3 << 20);
  memset(large, 7, 3 << 20);
  g_autoptr(GBytes) bytes = g_bytes_new(large, 3 << 20);
  const struct ew_owner day = {EW_OWNER_DAY, 0, "2026-03-02"};
  gint64 id = ew_keep_attachment(w->book, &day, "large.bin", bytes, NULL, NULL, NULL);
  g_autoptr(GBytes) back = ew_attachment_bytes(w->book, id, NULL);
  assert_true(id > 0 && back && g_bytes_equal(back, bytes));
}

static void tells_changes(struct world *w) {
  struct ew_port_change a, b, c;
  struct ew_book *other = w->kind->beside(w->port, w->shop.path);
  assert_true(w->port->class->change(w->port, &a, NULL));
  assert_true(ew_keep_setting(w->book, "a", "x", NULL));
  assert_true(w->port->class->change(w->port, &b, NULL));
  assert_true(ew_keep_setting(other, "a", "y", NULL));
  assert_true(w->port->class->change(w->port, &c, NULL));
  assert_true(a.by_this != b.by_this && b.by_others != c.by_others);
  ew_book_close(other);
}

static void count_fault(const char *what, gpointer user) {
  (void)what;
  ++*(int *)user;
}
static int say_stop(void *user) {
  return *(int *)user;
}

static void copies(struct world *w) {
  if (!w->kind->copies)
    return;
  g_autofree char *copy = g_build_filename(w->shop.folder, "copy.book", NULL);
  assert_true(ew_keep_setting(w->book, "a", "x", NULL));
  assert_true(w->port->class->copy(w->port, copy, NULL));
  struct ew_book *other = open_book(copy, FALSE);
  g_autofree char *there = setting_of(other, "a");
  assert_string_equal(there, "x");
  ew_book_close(other);
}

static void checks(struct world *w) {
  int faults = 0, stop = 1;
  assert_true(ew_keep_setting(w->book, "a", "x", NULL));
  assert_true(w->port->class->size(w->port, NULL) > 0);
  assert_true(w->port->class->check(w->port, count_fault, &faults, NULL) && faults == 0);
  w->port->class->watch(w->port, say_stop, &stop, 1);
  assert_false(w->port->class->check(w->port, count_fault, &faults, NULL));
  w->port->class->watch(w->port, NULL, NULL, 0);
  assert_true(w->port->class->check(w->port, count_fault, &faults, NULL));
}

static void is_durable(struct world *w) {
  for (int power = 0; power < 2; power++)
    assert_true(w->port->class->durable(w->port, power, NULL));
  assert_true(w->port->class->checkpoint(w->port, FALSE, NULL) &&
              w->port->class->checkpoint(w->port, TRUE, NULL));
}

/* ---- verbs: each with what it must leave behind ---- */
static gboolean do_settings(struct world *w, GError **error) {
  const struct ew_setting all[] = {
      {.key = "shop", .value = "A"},
      {.key = "terms", .value = "none", .when = EW_SETTING_UNLESS_SET}};
  return ew_keep_settings(w->book, all, 2, error);
}
static gboolean do_zone(struct world *w, GError **error) {
  return ew_keep_setting(w->book, "zone", "Europe/Berlin", error);
}
static gboolean do_engine(struct world *w, GError **error) {
  const struct ew_setting cell = {.key = "cell", .value = "{}"};
  const struct ew_new_engine e = {
      .name = "six", .yaml = "name: six\n", .settings = &cell, .settings_count = 1};
  return ew_keep_engine(w->book, &e, error) != 0;
}
static gboolean do_in_cell(struct world *w, GError **error) {
  gint64 before;
  return ew_keep_engine_in_cell(w->book, 1, &before, error);
}
static gboolean do_calibration(struct world *w, GError **error) {
  const struct ew_calibration_row row = {
      .kind = (char *)"zero", .json = (char *)"{}", .value = 0.1};
  return ew_keep_calibration(w->book, &row, error);
}
static gboolean do_log(struct world *w, GError **error) {
  return ew_keep_log(w->book, "backup", "x.book", error);
}
static gboolean do_discard(struct world *w, GError **error) {
  return ew_keep_discard(w->book, 1, "missed", error);
}
static gboolean do_answer(struct world *w, GError **error) {
  const struct ew_verdict_row row = {.question = (char *)"compare",
                                     .pair = (char *)"p",
                                     .pulls = (char *)"1:2",
                                     .says = (char *)"x",
                                     .json = (char *)"{}"};
  return ew_keep_answer(w->book, &row, error);
}
static gboolean do_note(struct world *w, GError **error) {
  gboolean added;
  return ew_keep_note(w->book, "2026-03-02T10:00:00Z", "a drip", &added, error) != 0;
}
static gboolean do_note_withdrawn(struct world *w, GError **error) {
  return ew_keep_note_withdrawn(w->book, 1, "wiped", error);
}
static gboolean do_found(struct world *w, GError **error) {
  const gint64 pulls[] = {1, 2};
  return ew_keep_found(w->book, EW_FOUND_PULL, pulls, 2, "a grey plug", NULL, error);
}
static gboolean do_found_withdrawn(struct world *w, GError **error) {
  const gint64 pull = 2;
  return ew_keep_found_withdrawn(w->book, EW_FOUND_PULL, &pull, 1, "another's", error);
}
static gboolean do_attachment(struct world *w, GError **error) {
  g_autoptr(GBytes) bytes = g_bytes_new_static("plug", 4);
  const struct ew_owner pull = {EW_OWNER_PULL, 1, NULL};
  return ew_keep_attachment(w->book, &pull, "plug.txt", bytes, "note", NULL, error) != 0;
}
static gboolean do_attachment_withdrawn(struct world *w, GError **error) {
  return ew_keep_attachment_withdrawn(w->book, 1, "wrong", error);
}
static gboolean fill_nothing(struct ew_build *build, const struct ew_engine_row *engine,
                             gpointer user, GError **error) {
  (void)build, (void)engine, (void)user, (void)error;
  return TRUE;
}
static gboolean do_build(struct world *w, GError **error) {
  g_autoptr(GBytes) bytes = g_bytes_new_static("card", 4);
  const struct ew_new_file file = {"card.txt", NULL, bytes};
  const struct ew_new_build build = {.engine_name = "four",
                                     .engine_yaml = "name: four\n",
                                     .name = "first",
                                     .fill = fill_nothing,
                                     .files = &file,
                                     .files_count = 1};
  struct ew_kept_builds kept;
  return ew_keep_builds(w->book, &build, 1, &kept, error);
}
static gboolean do_live(struct world *w, GError **error) {
  char *names[] = {(char *)"Oil pressure", NULL}, *units[] = {(char *)"bar", NULL};
  const struct ew_stream_facts facts = {0, "live", "tcp:", "power", names, units, 1};
  const double rows[] = {0, 3.1, 0.1, 3.2};
  struct ew_live_part part = {
      .facts = &facts, .values = rows, .rows = 2, .columns = 2, .end = "ended"};
  const struct ew_live_place place = {.part = &part, .time_s = 0.1};
  const struct ew_trip_row trip = {
      .name = "oil", .action = "shut down", .says = "low", .time_s = 0.1, .value = 1, .bound = 2};
  const struct ew_live_note notes[] = {{.key = "alarms standing", .text = "oil"},
                                       {.text = "a noise", .places = &place, .places_count = 1},
                                       {.trip = &trip, .places = &place, .places_count = 1}};
  return ew_keep_live(w->book, &part, 1, notes, 3, error);
}
#define IDLE_ROWS ((gsize)3 * 4096)
/* Three blocks in which nothing happens: that in the middle may be thinned. */
static gboolean do_idle(struct world *w, GError **error) {
  char *names[] = {(char *)"Oil pressure", NULL}, *units[] = {(char *)"bar", NULL};
  const struct ew_stream_facts facts = {0, "idle", "tcp:", "power", names, units, 1};
  g_autofree double *rows = g_new(double, 2 * IDLE_ROWS);
  for (gsize i = 0; i < IDLE_ROWS; i++) {
    rows[2 * i] = 0.01 * (double)i;
    rows[2 * i + 1] = 3 + 0.001 * (double)(i % 7);
  }
  struct ew_live_part part = {
      .facts = &facts, .values = rows, .rows = IDLE_ROWS, .columns = 2, .end = "ended"};
  return ew_keep_live(w->book, &part, 1, NULL, 0, error);
}
static gboolean do_thin(struct world *w, GError **error) {
  const struct ew_thin_rule rule = {1, 1, 1e-6};
  struct ew_thin_done done = {0};
  gint64 id;
  if (!ew_sql_number(w->port, &id, error, "SELECT id FROM recording WHERE name = 'idle'", ""))
    return FALSE;
  gboolean good = ew_keep_thinned(w->book, id, &rule, 1e11, &done, error);
  expect(!good || done.state == EW_THIN_THINNED, "thinned", "%s", ew_thin_state_key(done.state));
  return good;
}
static gboolean do_job(struct world *w, GError **error) {
  return ew_keep_job(w->book, "summer six", "2026-06-12", error) != 0;
}
static gboolean do_job_record(struct world *w, GError **error) {
  struct ew_job_sent sent = {.quote = 1};
  return ew_keep_job_record(w->book, 1, EW_JOB_SENT, &sent, error) && sent.mark.id > 0;
}
static gboolean do_prices(struct world *w, GError **error) {
  g_autoptr(GArray) lines = ew_job_lines_new();
  const struct ew_job_line line = {
      .code = g_strdup("oil"), .name = g_strdup("Oil"), .days = -1, .price = 98750};
  g_array_append_val(lines, line);
  struct ew_job_prices prices = {.mark = {.lines = lines}, .version = 1, .currency = (char *)"EUR"};
  return ew_keep_job_record(w->book, 0, EW_JOB_PRICES, &prices, error);
}
static gboolean do_job_withdrawn(struct world *w, GError **error) {
  return ew_keep_job_withdrawn(w->book, 1, "not sent", error);
}
/* A pull of a text of its own; its curve's bytes are no curve, which a store does not ask. */
static gboolean keep_file(struct world *w, GBytes *bytes, const struct ew_new_cut *cut,
                          GError **error) {
  g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  struct ew_pull_row last = {0};
  g_autoptr(GError) problem = NULL;
  ew_pull_last(w->book, 0, &last, &problem);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  const struct ew_new_pull pull = {
      .row = {.kind = (char *)"sweep",
              .at = (char *)"2026-06-12T10:00:00Z",
              .purpose = (char *)"pull",
              .setup = (char *)"",
              .run = 1,
              .mounting = 1,
              .top_rpm = 6000,
              .band_mean_n_m = 200},
      .curve = {(char *)"", (char *)"", (char *)"", sha256, bytes, NULL}};
  struct ew_new_recording n = {.row = {.rows = 1,
                                       .channels = 1,
                                       .name = (char *)"run.csv",
                                       .sha256 = sha256,
                                       .bytes = bytes},
                               .figures = sha256,
                               .last = &last,
                               .pulls = &pull,
                               .pulls_count = 1,
                               .map_source = "source",
                               .map = "channels: {}\n",
                               .cut = cut};
  struct ew_kept_recording kept;
  gboolean good = ew_keep_recording(w->book, &n, &kept, error);
  ew_pull_row_clear(&last);
  if (good) {
    assert_false(kept.stale || kept.known_bytes || kept.known_figures);
    assert_int_equal(kept.pull_ids->len, 1);
    g_array_unref(kept.pull_ids);
  }
  return good;
}

static gboolean do_recording(struct world *w, GError **error) {
  static int count;
  g_autofree char *text = g_strdup_printf("text %d", ++count);
  g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
  return keep_file(w, bytes, NULL, error);
}

/* A pull of the rows that do_live kept: they are not stored again. */
static gboolean do_cut(struct world *w, GError **error) {
  char *headings[] = {(char *)"Time [s]", (char *)"Oil pressure [bar]", NULL};
  double values[] = {0, 3.1, 0.1, 3.2};
  const struct ew_frames frames = {.headings = headings, .rows = 2, .columns = 2, .values = values};
  const struct ew_cut_place place = {.block = 0, .rows = 2};
  struct ew_new_cut cut = {.to_s = 0.1, .frames = &frames, .place = &place};
  g_autoptr(GBytes) text = ew_frames_text(&frames, NULL);
  return ew_sql_number(w->port, &cut.recording_id, error, "SELECT max(recording_id) FROM stream",
                       "") &&
         keep_file(w, text, &cut, error);
}

EW_MESSAGE(odd, "test.odd", EW_CAUTION, "pull {pull} is odd");
EW_MESSAGE(grave, "test.grave", EW_DANGER, "pull {pull} is wrong");

static gboolean do_hold(struct world *w, GError **error) {
  g_autoptr(GPtrArray) findings = ew_messages_new();
  ew_messages_add(findings, ew_message(&odd, ew_say_count("pull", 2)));
  ew_messages_add(findings, ew_message(&grave, ew_say_count("pull", 2)));
  return ew_keep_hold(w->book, 2, findings, NULL, error);
}
static gboolean do_hold_first(struct world *w, GError **error) {
  g_autoptr(GPtrArray) findings = ew_messages_new();
  ew_messages_add(findings, ew_message(&odd, ew_say_count("pull", 1)));
  return ew_keep_hold(w->book, 1, findings, NULL, error);
}
static gboolean do_right(struct world *w, GError **error) {
  const gint64 pull = 1;
  return ew_keep_right(w->book, &pull, 1, NULL, "it is a large engine", error);
}
/* Pull 1 begins a run of its own. */
static gboolean move_first(struct world *w, struct ew_pull_place *place, GError **error) {
  struct ew_pull_row first;
  if (!ew_pull_get(w->book, 1, &first, error))
    return FALSE;
  *place = (struct ew_pull_place){.id = 1,
                                  .run = 7,
                                  .mounting = first.mounting,
                                  .was_run = first.run,
                                  .was_mounting = first.mounting};
  ew_pull_row_clear(&first);
  return TRUE;
}
/* Pull 2 as it stands, with another set-up; told of all of its recording: another map. Pull 1 moves with it. */
static gboolean amend_second(struct world *w, gint64 reading, const char *reason, GError **error) {
  struct ew_pull_row row;
  struct ew_curve_row curve;
  struct ew_recording_row recording;
  struct ew_pull_place first;
  if (!move_first(w, &first, error) || !ew_pull_get(w->book, 2, &row, error))
    return FALSE;
  gboolean good = ew_curve_get(w->book, 2, &curve, error) &&
                  ew_recording_get(w->book, row.recording_id, &recording, error);
  g_autoptr(GPtrArray) changes = ew_messages_new();
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  if (good) {
    ew_messages_add(changes, ew_message(&odd, ew_say_count("pull", 2)));
    row.reading = reading;
    g_free(row.setup);
    row.setup = g_strdup("spark: 30 deg\n");
    g_free(recording.channel_map);
    recording.channel_map = g_strdup("time: t\n");
    const struct ew_amended_pull pull = {.row = &row, .curve = &curve, .changes = changes};
    const struct ew_new_amendment n = {.pulls = &pull,
                                       .pulls_count = 1,
                                       .recording = &recording,
                                       .moved = &first,
                                       .moved_count = 1,
                                       .reason = reason};
    good = ew_keep_amendment(w->book, &n, ids, NULL, error);
    assert_true(!good || (ids->len == 1 && g_array_index(ids, gint64, 0) > 0));
    ew_recording_row_clear(&recording);
  }
  ew_curve_row_clear(&curve);
  ew_pull_row_clear(&row);
  return good;
}
static gboolean do_amend(struct world *w, GError **error) {
  return amend_second(w, 1, "forgot the barometer", error);
}
static gboolean do_recorder(struct world *w, GError **error) {
  return ew_keep_recorder(w->book, "left bench", "rate: 50 Hz\n", NULL, "abc", error) != 0;
}
static gboolean do_recorder_again(struct world *w, GError **error) {
  return ew_keep_recorder(w->book, "left bench", "rate: 100 Hz\n", "me", NULL, error) != 0;
}
static gboolean do_recorder_mark(struct world *w, GError **error) {
  return ew_keep_recorder_mark(w->book, "def", "left bench", error);
}
static gboolean do_recorder_withdrawn(struct world *w, GError **error) {
  return ew_keep_recorder_withdrawn(w->book, "left bench", "sold", error);
}

/* In an order in which each finds what it needs. `says` counts what it must have left. */
static const struct {
  const char *name;
  gboolean (*run)(struct world *w, GError **error);
  const char *count; /* is 1 when it is kept, 0 before */
} verbs[] = {
    {"settings", do_settings, "SELECT count(*) FROM setting WHERE key = 'terms'"},
    {"the zone", do_zone,
     "SELECT count(*) FROM setting WHERE key = 'zone' AND value = 'Europe/Berlin'"},
    {"an engine", do_engine, "SELECT count(*) FROM engine WHERE name = 'six'"},
    {"an engine put in the cell", do_in_cell,
     "SELECT count(*) FROM setting WHERE key = 'engine_in_cell'"},
    {"a calibration", do_calibration, "SELECT count(*) FROM calibration"},
    {"a line of the log", do_log, "SELECT count(*) FROM change_log WHERE what = 'backup'"},
    {"a recording with its pull", do_recording, "SELECT count(*) FROM pull"},
    {"another", do_recording, "SELECT count(*) - 1 FROM curve"},
    {"a discard", do_discard, "SELECT count(discarded) FROM pull"},
    {"a hold of two findings", do_hold, "SELECT count(*) / 2 FROM hold WHERE pull_id = 2"},
    {"another hold", do_hold_first, "SELECT count(*) FROM hold WHERE pull_id = 1"},
    {"right as it is", do_right, "SELECT count(*) FROM hold WHERE answer = 'right'"},
    {"an amendment", do_amend, "SELECT count(*) FROM former"},
    {"a recorder", do_recorder, "SELECT count(*) FROM recorder_mark"},
    {"a further version of it", do_recorder_again, "SELECT max(version) - 1 FROM recorder"},
    {"another mark of it", do_recorder_mark, "SELECT count(*) - 1 FROM recorder_mark"},
    {"the same withdrawn", do_recorder_withdrawn, "SELECT count(withdrawn) / 2 FROM recorder"},
    {"an answer", do_answer, "SELECT count(*) FROM verdict"},
    {"a note", do_note, "SELECT count(*) FROM note"},
    {"a note taken back", do_note_withdrawn, "SELECT count(withdrawn) FROM note"},
    {"what was found, of two pulls", do_found, "SELECT count(*) / 2 FROM found"},
    {"the same taken back", do_found_withdrawn, "SELECT count(withdrawn) FROM found"},
    {"an attachment", do_attachment, "SELECT count(*) FROM attachment"},
    {"an attachment taken back", do_attachment_withdrawn,
     "SELECT count(withdrawn) FROM attachment"},
    {"a build with a file", do_build, "SELECT count(*) FROM build"},
    {"a customer's job", do_job, "SELECT count(*) FROM job"},
    {"a record of it", do_job_record, "SELECT count(*) FROM job_record WHERE job_id = 1"},
    {"a price table", do_prices, "SELECT count(lines) FROM job_record WHERE job_id IS NULL"},
    {"a record of the job taken back", do_job_withdrawn, "SELECT count(withdrawn) FROM job_record"},
    {"rows, a mark and a trip while it runs", do_live, "SELECT count(*) FROM trip_time"},
    {"a pull of these rows", do_cut, "SELECT count(*) FROM stream_pull WHERE rows = 2"},
    {"a recording in which nothing happens", do_idle,
     "SELECT count(*) FROM recording WHERE name = 'idle'"},
    {"idle samples thinned", do_thin, "SELECT count(*) FROM thinned"},
};

/* All verbs in turn leave what they should, each with a line of the log, a name and a writer a row. */
static void verbs_keep(struct world *w) {
  for (gsize i = 0; i < G_N_ELEMENTS(verbs); i++) {
    g_autoptr(GError) error = NULL;
    gint64 lines = number(w->port, "SELECT count(*) FROM change_log");
    expect(number(w->port, verbs[i].count) == 0, verbs[i].name, "there before");
    expect(verbs[i].run(w, &error), verbs[i].name, "%s", error->message);
    expect(number(w->port, verbs[i].count) == 1, verbs[i].name, "not there after");
    expect(number(w->port, "SELECT count(*) FROM change_log") > lines, verbs[i].name, "not logged");
  }
  assert_int_equal(number(w->port, "SELECT count(DISTINCT writer) FROM change_log"), 1);
  assert_int_equal(number(w->port, "SELECT count(*) - count(DISTINCT uid) FROM change_log"), 0);
  assert_int_equal(number(w->port,
                          "SELECT count(*) FROM change_log a JOIN change_log b ON b.id = a.id + 1 "
                          "WHERE b.uid <= a.uid"),
                   0);
}

/* As they were measured, whatever order the store gives rows in; a place that leads nowhere is refused. */
static void cut_has_its_rows(struct world *w) {
  struct ew_recording_row row;
  assert_true(do_live(w, NULL) && do_cut(w, NULL));
  gint64 id = number(w->port, "SELECT cut_id FROM stream_pull");
  assert_true(ew_recording_get(w->book, id, &row, NULL));
  assert_true(row.frames && !row.bytes && row.frames->rows == 2 && row.frames->columns == 2);
  assert_true(row.frames->values[2] == 0.1 && row.frames->values[3] == 3.2);
  g_autoptr(GBytes) file = ew_recording_file(&row, NULL);
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, file);
  assert_string_equal(digest, row.sha256);
  ew_recording_row_clear(&row);
  assert_true(ew_sql_run(w->port, NULL, "UPDATE stream_pull SET rows = 3", ""));
  g_autoptr(GError) error = NULL;
  assert_false(ew_recording_get(w->book, id, &row, &error));
  assert_int_equal(error->code, EW_ERROR_INPUT);
}

static void conflicts_are_told(struct world *w) {
  g_autoptr(GError) error = NULL;
  assert_true(do_settings(w, NULL));
  const struct ew_setting stale = {
      .key = "shop", .value = "B", .when = EW_SETTING_IF_STILL, .was = "Z"};
  assert_false(ew_keep_settings(w->book, &stale, 1, &error));
  assert_int_equal(error->code, EW_ERROR_NO);
  const struct ew_setting fresh = {
      .key = "shop", .value = "B", .when = EW_SETTING_IF_STILL, .was = "A"};
  assert_true(ew_keep_settings(w->book, &fresh, 1, NULL));
  const struct ew_new_engine new = {.name = "six", .yaml = "a", .if_still = TRUE};
  assert_true(ew_keep_engine(w->book, &new, NULL) == 1 && ew_keep_engine(w->book, &new, NULL) == 0);
}

static void all_or_none_of_several(struct world *w) {
  assert_true(do_recording(w, NULL));
  const gint64 pulls[] = {1, 99};
  assert_false(ew_keep_found(w->book, EW_FOUND_PULL, pulls, 2, "grey", NULL, NULL));
  assert_int_equal(number(w->port, "SELECT count(*) FROM found"), 0);
  assert_false(ew_keep_discard(w->book, 99, "none", NULL));
}

static void lists_keep_their_order(struct world *w) {
  for (int i = 0; i < 3; i++)
    assert_true(do_recording(w, NULL));
  g_autoptr(GArray) pulls = ew_pull_list(w->book, 0, NULL);
  g_autoptr(GArray) ids = ew_recording_ids(w->book, NULL);
  for (guint i = 0; i < 3; i++)
    assert_true(g_array_index(pulls, struct ew_pull_row, i).id == i + 1 &&
                g_array_index(ids, gint64, i) == i + 1);
}

static void known_recordings(struct world *w) {
  assert_true(do_recording(w, NULL));
  struct ew_pull_row last, none = {0};
  assert_true(ew_pull_last(w->book, 0, &last, NULL));
  struct ew_recording_row row;
  assert_true(ew_recording_get(w->book, 1, &row, NULL));
  g_autofree char *figures = NULL;
  assert_true(ew_figures_stored(w->book, 1, &figures, NULL));
  struct ew_new_recording n = {.row = row, .figures = figures, .last = &none};
  struct ew_kept_recording kept;
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) &&
              kept.stale); /* prepared before that pull */
  g_array_unref(kept.pull_ids);
  n.last = &last;
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) && kept.known_bytes && kept.id == 1);
  g_array_unref(kept.pull_ids);
  n.row.sha256 = (char *)"another";
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) && kept.known_figures && kept.id == 1);
  g_array_unref(kept.pull_ids);
  assert_int_equal(number(w->port, "SELECT count(*) FROM recording"), 1);
  /* a fact that came between: the last pull is the same, and yet it is prepared again */
  struct ew_last_kept before;
  assert_true(ew_book_last_kept(w->book, &before, NULL));
  n.before = &before;
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) && !kept.stale);
  g_array_unref(kept.pull_ids);
  assert_true(ew_keep_setting(w->book, "zone", "Europe/Lisbon", NULL));
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) && kept.stale);
  g_array_unref(kept.pull_ids);
  assert_true(ew_book_last_kept(w->book, &before, NULL));
  assert_true(ew_keep_recording(w->book, &n, &kept, NULL) && !kept.stale);
  g_array_unref(kept.pull_ids);
  ew_recording_row_clear(&row);
  ew_pull_row_clear(&last);
}

/* A held pull counts nowhere until each question is answered; the gravest stands first. */
static void held_pulls(struct world *w) {
  struct ew_pull_row row;
  guint added = 9;
  assert_true(do_recording(w, NULL) && do_recording(w, NULL) && do_hold(w, NULL));
  assert_true(ew_pull_get(w->book, 2, &row, NULL) && row.held && !ew_pull_counts(&row));
  g_autoptr(ew_message) first = ew_message_read(row.held, strlen(row.held), NULL);
  assert_true(first && ew_message_is(first, &grave));
  ew_pull_row_clear(&row);
  assert_true(do_hold(w, NULL)); /* the same questions again: nothing */
  assert_int_equal(number(w->port, "SELECT count(*) FROM hold"), 2);
  assert_false(do_right(w, NULL)); /* of pull 1, which is not held */
  const gint64 both[] = {2, 1};
  assert_false(ew_keep_right(w->book, both, 2, NULL, "ours", NULL));
  assert_false(ew_keep_right(w->book, both, 1, NULL, " ", NULL));
  assert_int_equal(number(w->port, "SELECT count(answered_at) FROM hold"), 0);
  assert_true(ew_keep_right(w->book, both, 1, NULL, "ours", NULL));
  assert_true(ew_pull_get(w->book, 2, &row, NULL) && !row.held && ew_pull_counts(&row));
  ew_pull_row_clear(&row);
  g_autoptr(GPtrArray) again = ew_messages_new();
  ew_messages_add(again, ew_message(&odd, ew_say_count("pull", 2)));
  assert_true(ew_keep_hold(w->book, 2, again, &added, NULL) && added == 0); /* it was answered */
  g_autoptr(GArray) rows = ew_hold_list(w->book, 2, NULL);
  assert_true(rows->len == 2 && g_array_index(rows, struct ew_hold_row, 1).reason);
}

/* The former stays to the byte, a second device is refused, answers know that they are on an earlier reading. */
static void readings(struct world *w) {
  struct ew_pull_row row;
  struct ew_former_row former;
  g_autoptr(GError) error = NULL;
  assert_true(do_recording(w, NULL) && do_recording(w, NULL) && do_answer(w, NULL) &&
              do_hold(w, NULL));
  assert_false(amend_second(w, 1, " ", NULL));
  assert_int_equal(number(w->port, "SELECT count(*) FROM amendment"), 0);
  expect(do_amend(w, &error), "amend", "%s", error->message);
  assert_false(do_amend(w, &error)); /* from reading 1 again */
  assert_int_equal(error->code, EW_ERROR_INPUT);
  assert_int_equal(number(w->port, "SELECT count(*) FROM former"), 1);
  assert_true(ew_pull_get(w->book, 2, &row, NULL));
  assert_true(row.reading == 2 && !row.held && row.part == 0);
  assert_string_equal(row.setup, "spark: 30 deg\n");
  assert_true(ew_former_get(w->book, 2, 1, &former, NULL));
  assert_string_equal(former.pull.setup, "");
  assert_true(former.pull.part == 0 && former.pull.recording_id == row.recording_id);
  assert_null(former.channel_map);
  ew_former_row_clear(&former);
  ew_pull_row_clear(&row);
  assert_false(ew_former_get(w->book, 2, 2, &former, NULL));
  g_autoptr(GArray) answers = ew_verdict_list(w->book, 0, NULL);
  const struct ew_verdict_row *first = &g_array_index(answers, struct ew_verdict_row, 0);
  assert_string_equal(first->readings, "1.1:2.1");
  assert_true(first->earlier);
  assert_true(do_answer(w, NULL));
  g_autoptr(GArray) now = ew_verdict_list(w->book, 0, NULL);
  const struct ew_verdict_row *second = &g_array_index(now, struct ew_verdict_row, 1);
  assert_string_equal(second->readings, "1.1:2.2");
  assert_false(second->earlier);
  g_autoptr(GArray) all = ew_amendment_list(w->book, 0, NULL);
  assert_int_equal(all->len, 1);
  g_autoptr(GPtrArray) changes =
      ew_amendment_changes(&g_array_index(all, struct ew_amendment_row, 0));
  assert_true(changes->len == 1 && ew_message_is(changes->pdata[0], &odd));
}

static void recorders(struct world *w) {
  struct ew_recorder_row row;
  gboolean found;
  assert_false(ew_keep_recorder(w->book, "a.b", "", NULL, NULL, NULL));
  assert_false(ew_keep_recorder_withdrawn(w->book, "left bench", "sold", NULL));
  assert_true(do_recorder(w, NULL) && do_recorder_again(w, NULL));
  assert_true(ew_recorder_of(w->book, "abc", &row, &found, NULL) && found && row.version == 2);
  assert_string_equal(row.yaml, "rate: 100 Hz\n");
  ew_recorder_row_clear(&row);
  assert_true(ew_recorder_get(w->book, "left bench", 1, &row, &found, NULL) && found);
  assert_string_equal(row.yaml, "rate: 50 Hz\n");
  ew_recorder_row_clear(&row);
  assert_true(ew_recorder_of(w->book, "def", &row, &found, NULL) && !found);
  assert_true(do_recorder_withdrawn(w, NULL));
  assert_true(ew_recorder_of(w->book, "abc", &row, &found, NULL) && !found);
  g_autoptr(GArray) all = ew_recorder_list(w->book, NULL, NULL);
  g_autoptr(GPtrArray) marks = ew_recorder_marks(w->book, "left bench", NULL);
  assert_true(all->len == 2 && marks->len == 1);
}

static gboolean three(struct ew_book *book, gpointer user, GError **error) {
  struct world *w = user;
  return w->book == book && do_settings(w, error) && do_engine(w, error) &&
         ew_keep_discard(book, 99, "none", error);
}

static void one_of_many(struct world *w) {
  assert_false(ew_book_as_one(w->book, three, w, NULL));
  assert_int_equal(
      number(w->port, "SELECT (SELECT count(*) FROM engine) + (SELECT count(*) FROM change_log)"),
      0);
}

static const struct {
  const char *name;
  void (*run)(struct world *w);
} cases[] = {
    {"a pull cut live has the rows of its session", cut_has_its_rows},
    {"what is committed is seen by others, and not before", commits},
    {"what is rolled back is gone", rolls_back},
    {"values come back as they went", gives_values_back},
    {"text is valid UTF-8", text_becomes_valid},
    {"rows come in the order asked for", orders},
    {"a failure is a sentence and no number", failures_are_sentences},
    {"rows may be left before their end", left_before_the_end},
    {"bytes are written into their room", fills},
    {"changes of this and of others are told", tells_changes},
    {"a copy is whole", copies},
    {"a check finds nothing, and can be stopped", checks},
    {"both durabilities", is_durable},
    {"each verb keeps, logs and names what it says", verbs_keep},
    {"what somebody else changed is not written over", conflicts_are_told},
    {"of several all or none", all_or_none_of_several},
    {"lists keep their order", lists_keep_their_order},
    {"a recording is known by bytes and figures, and a stale one told", known_recordings},
    {"a held pull counts when each question is answered", held_pulls},
    {"a reading stands beside the former, and answers know theirs", readings},
    {"a recorder's profile gets a further version", recorders},
    {"many verbs as one", one_of_many},
};

static void the_contract(void **state) {
  (void)state;
  int run = 0;
  for (gsize s = 0; s < G_N_ELEMENTS(stores); s++)
    for (gsize i = 0; is_there(&stores[s]) && i < G_N_ELEMENTS(cases); i++) {
      struct world w = world_new(&stores[s]);
      gboolean left_out = cases[i].run == copies && !stores[s].copies;
      print_message("%s: %s%s\n", stores[s].name, cases[i].name, left_out ? ": left out" : "");
      cases[i].run(&w);
      run += !left_out;
      world_clear(&w);
    }
  print_message("%zu cases, run %d times on %zu stores\n", G_N_ELEMENTS(cases), run,
                G_N_ELEMENTS(stores) - !postgresql_address());
}

/* Everything that a verb can change, in a line. */
static char *state_of(struct ew_port *port) {
  static const char *const tables[] = {
      "setting",      "engine",      "recording",  "pull",       "curve",    "verdict",
      "channel_map",  "calibration", "build",      "attachment", "note",     "stream",
      "stream_block", "mark",        "alarm_trip", "trip_time",  "found",    "figures",
      "change_log",   "hold",        "amendment",  "former",     "recorder", "recorder_mark",
      "stream_pull",  "job",         "job_record", "thinning",   "thinned"};
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < G_N_ELEMENTS(tables); i++) {
    g_autofree char *sql = g_strdup_printf("SELECT count(*) FROM %s", tables[i]);
    g_string_append_printf(text, "%s %" G_GINT64_FORMAT " ", tables[i], number(port, sql));
  }
  g_string_append_printf(
      text, "%" G_GINT64_FORMAT,
      number(port,
             "SELECT (SELECT count(discarded) FROM pull) + (SELECT count(withdrawn) FROM note) + "
             "(SELECT count(withdrawn) FROM found) + (SELECT count(withdrawn) FROM attachment) + "
             "(SELECT sum(reading) FROM pull) + (SELECT count(answered_at) FROM hold) + (SELECT "
             "count(withdrawn) FROM recorder) + (SELECT count(withdrawn) FROM job_record)"));
  return g_string_free(text, FALSE);
}

static void arm(struct world *w, int at, gboolean again, gboolean always) {
  struct fake *f = fake_of(w->port);
  f->asked = f->struck = 0;
  f->at = at;
  f->again = again;
  f->always = always;
}

/* Stopped at each of its operations in turn. How many there were. */
static int stop_at_each(struct world *w, gsize verb, gboolean always, gboolean again) {
  g_autofree char *before = state_of(w->port);
  for (int at = 1;; at++) {
    g_autoptr(GError) error = NULL;
    arm(w, at, again, always);
    gboolean good = verbs[verb].run(w, &error);
    gboolean struck = fake_of(w->port)->struck > 0;
    arm(w, 0, FALSE, FALSE);
    g_autofree char *after = state_of(w->port);
    expect(good == (error == NULL), verbs[verb].name, "%d", at);
    if (good)
      expect(number(w->port, verbs[verb].count) == 1, verbs[verb].name, "stopped at %d: %s", at,
             after);
    else
      expect(struck && strcmp(before, after) == 0, verbs[verb].name, "stopped at %d: %s, before %s",
             at, after, before);
    if (good)
      return at;
  }
}

/* A failure, once or from there on, keeps nothing; the verb is then run to its end, and the next one is tried. */
static void fail_on(const struct store_kind *kind) {
  int stops = 0;
  for (int always = 0; always < 2; always++) {
    struct world w = world_new(kind);
    fake_of(w.port)->wait_us = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(verbs); i++)
      stops += stop_at_each(&w, i, always, FALSE) - 1;
    world_clear(&w);
  }
  print_message("%s: %zu verbs, failed at %d operations\n", kind->name, G_N_ELEMENTS(verbs), stops);
  assert_true(stops > 300);
}

static void failures(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(failing); i++)
    if (is_there(&failing[i]))
      fail_on(&failing[i]);
}

static void run_again_once(struct world *w, gsize verb) {
  g_autoptr(GError) error = NULL;
  gint64 lines = number(w->port, "SELECT count(*) FROM change_log");
  arm(w, verb % 2 ? 5 : 1, TRUE, FALSE);
  gboolean good = verbs[verb].run(w, &error);
  /* a read before the verb may be what was struck: then nothing was begun */
  expect(good || verbs[verb].run == do_recording || verbs[verb].run == do_cut ||
             verbs[verb].run == do_amend || verbs[verb].run == do_thin,
         verbs[verb].name, "%s", error->message);
  arm(w, 0, FALSE, FALSE);
  if (!good)
    assert_true(verbs[verb].run(w, NULL));
  expect(number(w->port, verbs[verb].count) == 1, verbs[verb].name, "not once");
  expect(number(w->port, "SELECT count(*) FROM change_log") > lines, verbs[verb].name,
         "not logged");
}

/* "Run it again" for ever ends in an error that keeps nothing; once, and it is done, once. */
static void again_on(const struct store_kind *kind) {
  struct world w = world_new(kind), other = world_new(kind);
  fake_of(w.port)->wait_us = fake_of(other.port)->wait_us = 0;
  int stops = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(verbs); i++)
    stops += stop_at_each(&w, i, TRUE, TRUE) - 1;
  for (gsize i = 0; i < G_N_ELEMENTS(verbs); i++)
    run_again_once(&other, i);
  print_message("%s: told to run again at %d operations\n", kind->name, stops);
  world_clear(&w);
  world_clear(&other);
}

static void again(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(failing); i++)
    if (is_there(&failing[i]))
      again_on(&failing[i]);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_contract), cmocka_unit_test(failures),
                                     cmocka_unit_test(again)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
