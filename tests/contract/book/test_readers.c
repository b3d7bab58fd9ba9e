/* The contract of the readers of a book (store.h, stream.h and those beside them): a failure of the store at any operation is told to
 * who asked, and where nobody did, to who ends the command or the request. Never a figure, and never "there is none". */
#include "book/shop.h"
#include "book/change.h"
#include "book/engines.h"
#include "book/figures.h"
#include "book/found.h"
#include "book/job.h"
#include "book/note.h"
#include "book/recorder.h"
#include "book/hold.h"
#include "book/amend.h"
#include "book/thinned.h"
#include "fake.h"
#include "postgresql.h"

/* ---- the readers: what each answers is of no interest here ---- */
static void read_setting(struct ew_book *book, GError **error) {
  g_autofree char *value = NULL;
  ew_setting_get(book, "shop", &value, error);
}
static void read_identity(struct ew_book *book, GError **error) {
  g_free(ew_book_identity(book, error));
}
static void read_engine(struct ew_book *book, GError **error) {
  struct ew_engine_row row;
  ew_engine_find(book, NULL, &row, error);
  ew_engine_row_clear(&row);
}
static void read_engine_by_name(struct ew_book *book, GError **error) {
  struct ew_engine_row row;
  ew_engine_get(book, "six", &row, error);
  ew_engine_row_clear(&row);
}
static void read_names(struct ew_book *book, GError **error) {
  g_autoptr(GPtrArray) names = ew_engine_names(book, error);
}
static void read_map(struct ew_book *book, GError **error) {
  g_autofree char *yaml = NULL;
  ew_channel_map_get(book, "source", &yaml, error);
}
static void read_overdue(struct ew_book *book, GError **error) {
  g_autoptr(ew_message) overdue = NULL;
  ew_calibration_overdue(book, &overdue, error);
}
static void read_recording(struct ew_book *book, GError **error) {
  struct ew_recording_row row;
  ew_recording_get(book, 1, &row, error);
  ew_recording_row_clear(&row);
}
/* A pull whose rows are in its live recording. */
static void read_cut(struct ew_book *book, GError **error) {
  struct ew_recording_row row;
  ew_recording_get(book, 3, &row, error);
  ew_recording_row_clear(&row);
}
static void read_recordings(struct ew_book *book, GError **error) {
  g_autoptr(GArray) ids = ew_recording_ids(book, error);
}
static void read_pull(struct ew_book *book, GError **error) {
  struct ew_pull_row row;
  ew_pull_get(book, 1, &row, error);
  ew_pull_row_clear(&row);
}
static void read_last(struct ew_book *book, GError **error) {
  struct ew_pull_row row;
  ew_pull_last(book, 0, &row, error);
  ew_pull_row_clear(&row);
}
static void read_pulls(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(book, 0, error);
}
static void read_newest(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_pull_newest(book, 0, 5, error);
}
static void read_count(struct ew_book *book, GError **error) {
  gint64 count;
  ew_pull_count(book, 0, &count, error);
}
static void read_curve(struct ew_book *book, GError **error) {
  struct ew_curve_row row;
  ew_curve_get(book, 1, &row, error);
  ew_curve_row_clear(&row);
}
static void read_answers(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_verdict_list(book, 0, error);
}
static void read_looks(struct ew_book *book, GError **error) {
  int looks;
  ew_verdict_looks(book, "a b", "1:2", &looks, error);
}
static void read_calibrations(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_calibration_list(book, NULL, error);
}
static void read_figures(struct ew_book *book, GError **error) {
  g_autofree char *digest = NULL;
  ew_figures_of(book, 1, &digest, error);
}
static void read_lines(struct ew_book *book, GError **error) {
  g_autoptr(GArray) lines = ew_engine_lines(book, NULL, error);
}
static void read_streams(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_stream_list(book, error);
}
static void read_rule(struct ew_book *book, GError **error) {
  struct ew_thin_rule rule;
  gboolean stands;
  ew_thin_rule_get(book, &rule, &stands, error);
}
static void read_thinned(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_thinned_list(book, 1, error);
}
static void read_thinned_sum(struct ew_book *book, GError **error) {
  struct ew_thin_sum sum;
  ew_thinned_sum(book, &sum, error);
}
static void read_thinned_near(struct ew_book *book, GError **error) {
  struct ew_thinned_around around;
  ew_thinned_near(book, 3, &around, error);
  ew_thinned_around_clear(&around);
}
static void read_trips(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_trip_list(book, error);
}
static void read_notes(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_note_list(book, "2026-06-12", error);
}
static void read_found(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_found_list(book, EW_FOUND_PULL, 1, error);
}
static void read_builds(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_build_list(book, 0, error);
}
static void read_jobs(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_job_list(book, error);
}
static void read_prices(struct ew_book *book, GError **error) {
  g_autoptr(ew_job) shop = ew_job_load(book, 0, error);
}
static void read_holds(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_hold_list(book, 0, error);
}
static void read_amendments(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_amendment_list(book, 0, error);
}
static void read_recorder(struct ew_book *book, GError **error) {
  struct ew_recorder_row row;
  gboolean found;
  ew_recorder_of(book, "abc", &row, &found, error);
  ew_recorder_row_clear(&row);
}
static void read_recorders(struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_recorder_list(book, NULL, error);
}
static void read_marks(struct ew_book *book, GError **error) {
  g_autoptr(GPtrArray) marks = ew_recorder_marks(book, "bench", error);
}

static const struct {
  const char *name;
  void (*read)(struct ew_book *book, GError **error);
} readers[] = {
    {"a setting", read_setting},
    {"the book's identity", read_identity},
    {"the engine in the cell", read_engine},
    {"an engine by name", read_engine_by_name},
    {"names of engines", read_names},
    {"a channel map", read_map},
    {"an overdue calibration", read_overdue},
    {"a recording", read_recording},
    {"a pull cut live", read_cut},
    {"numbers of recordings", read_recordings},
    {"a pull", read_pull},
    {"the last pull", read_last},
    {"pulls", read_pulls},
    {"the newest pulls", read_newest},
    {"how many pulls", read_count},
    {"a curve", read_curve},
    {"answers", read_answers},
    {"looks at a pair", read_looks},
    {"calibrations", read_calibrations},
    {"the digest of figures", read_figures},
    {"engines with what they are searched by", read_lines},
    {"live recordings", read_streams},
    {"trips", read_trips},
    {"the rule for idle samples", read_rule},
    {"thinned runs", read_thinned},
    {"what was thinned", read_thinned_sum},
    {"how near a pull it is thinned", read_thinned_near},
    {"notes of a day", read_notes},
    {"what was found", read_found},
    {"builds", read_builds},
    {"customers' jobs", read_jobs},
    {"price tables", read_prices},
    {"what pulls wait for", read_holds},
    {"amendments", read_amendments},
    {"the recorder of a fingerprint", read_recorder},
    {"recorders", read_recorders},
    {"fingerprints of a recorder", read_marks},
};

/* Recordings 2 and 3: one of a session, and a pull of its rows. */
static gboolean keep_live_pull(struct ew_book *book, GError **error) {
  char *names[] = {(char *)"Oil pressure"}, *units[] = {(char *)"bar"};
  const struct ew_stream_facts facts = {0, "live", "tcp:", "power", names, units, 1};
  const double rows[] = {0, 3.1, 0.1, 3.2};
  struct ew_live_part part = {
      .facts = &facts, .values = rows, .rows = 2, .columns = 2, .end = "ended"};
  const struct ew_cut_place place = {.rows = 2};
  g_autoptr(GBytes) line = ew_cut_line();
  const struct ew_recording_row row = {
      .rows = 2, .channels = 2, .name = (char *)"cut", .sha256 = (char *)"-", .bytes = line};
  if (!ew_keep_live(book, &part, 1, NULL, 0, error) || !ew_book_begin(book, error))
    return FALSE;
  gint64 id = ew_recording_add(book, &row, 0.1, error);
  return id == 3 && ew_stream_pull_add(book, 2, id, 0, 0.1, "[]", &place, error) &&
         ew_book_commit(book, error);
}

/* `moved`: its rows are in PostgreSQL. */
static struct ew_book *filled(struct shop *shop, gboolean moved) {
  struct ew_book *plain = open_book(shop->path, TRUE);
  g_autofree char *text = sweep_text(1);
  g_autoptr(GError) error = NULL;
  const struct ew_new_engine six = {.name = "six", .yaml = "name: six\n"};
  expect(keep_recording(plain, text, &error) && ew_keep_engine(plain, &six, &error) &&
             keep_live_pull(plain, &error),
         "a book", "%s", error ? error->message : "");
  ew_book_close(plain);
  gboolean read_only;
  struct ew_port *port = ew_sqlite_open(shop->path, FALSE, &read_only, &error);
  expect(port != NULL, "a book", "%s", error ? error->message : "");
  if (moved) {
    struct ew_port *file = port;
    port = postgresql_of(ew_sqlite_handle(file));
    file->class->close(file);
  }
  return ew_book_over(fake_over(port));
}

/* Failed at each operation in turn until one run meets none: how many. */
static int fail_at_each(struct ew_book *book, gsize reader, gboolean asked) {
  struct fake *fake = fake_of(ew_book_port(book));
  for (int at = 1;; at++) {
    GError *error = NULL;
    fake->asked = fake->struck = 0;
    fake->at = at;
    readers[reader].read(book, asked ? &error : NULL);
    fake->at = 0;
    g_autoptr(GError) trouble = ew_book_take_trouble();
    gboolean struck = fake->struck > 0, told = error != NULL;
    g_clear_error(&error);
    expect(told == (asked && struck), readers[reader].name, "operation %d, asked", at);
    expect((trouble != NULL) == (!asked && struck), readers[reader].name, "operation %d, not asked",
           at);
    if (!struck)
      return at - 1;
  }
}

static void fail_readers(gboolean moved) {
  struct shop shop = shop_new();
  struct ew_book *book = filled(&shop, moved);
  int stops = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(readers); i++)
    for (int asked = 0; asked < 2; asked++) {
      int here = fail_at_each(book, i, asked);
      expect(here > 0, readers[i].name, "asks the store for nothing");
      stops += here;
    }
  print_message("%s: %zu readers, failed at %d operations\n", moved ? "postgresql" : "sqlite",
                G_N_ELEMENTS(readers), stops);
  ew_book_close(book);
  shop_clear(&shop);
}

static void failures_are_told(void **state) {
  (void)state;
  fail_readers(FALSE);
  if (postgresql_address())
    fail_readers(TRUE);
}

/* ---- what a list, a search, an overlay and a report are made of is the same from either store ---- */

static void same_pulls(struct ew_book *a, struct ew_book *b) {
  g_autoptr(GArray) here = ew_pull_list(a, 0, NULL);
  g_autoptr(GArray) there = ew_pull_list(b, 0, NULL);
  assert_true(here->len > 0 && here->len == there->len);
  for (guint i = 0; i < here->len; i++) {
    const struct ew_pull_row *x = &g_array_index(here, struct ew_pull_row, i),
                             *y = &g_array_index(there, struct ew_pull_row, i);
    assert_true(x->id == y->id && x->run == y->run && x->recording_id == y->recording_id);
    assert_string_equal(x->at, y->at);
    assert_string_equal(x->setup, y->setup);
    assert_memory_equal(&x->top_rpm, &y->top_rpm, sizeof x->top_rpm);
    assert_memory_equal(&x->band_mean_n_m, &y->band_mean_n_m, sizeof x->band_mean_n_m);
  }
}

static void same_curves(struct ew_book *a, struct ew_book *b) {
  struct ew_curve_row here, there;
  assert_true(ew_curve_get(a, 1, &here, NULL) && ew_curve_get(b, 1, &there, NULL));
  assert_string_equal(here.digest, there.digest);
  assert_true(g_bytes_equal(here.bytes, there.bytes));
  ew_curve_row_clear(&here);
  ew_curve_row_clear(&there);
}

static void same_recordings(struct ew_book *a, struct ew_book *b) {
  for (gint64 id = 1; id <= 3; id++) {
    struct ew_recording_row here, there;
    assert_true(ew_recording_get(a, id, &here, NULL) && ew_recording_get(b, id, &there, NULL));
    g_autoptr(GBytes) x = ew_recording_file(&here, NULL);
    g_autoptr(GBytes) y = ew_recording_file(&there, NULL);
    assert_true(x && y && g_bytes_equal(x, y));
    ew_recording_row_clear(&here);
    ew_recording_row_clear(&there);
  }
}

static void same_found(struct ew_book *a, struct ew_book *b) {
  static const char *const wanted[] = {NULL, "six", "no such engine", "%", "S"};
  for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
    g_autoptr(GArray) here = ew_engine_lines(a, wanted[i], NULL);
    g_autoptr(GArray) there = ew_engine_lines(b, wanted[i], NULL);
    assert_true(here && there);
    assert_int_equal(here->len, there->len);
  }
}

static void answers_are_the_same(void **state) {
  (void)state;
  if (!postgresql_address())
    skip();
  struct shop shop = shop_new();
  struct ew_book *moved = filled(&shop, TRUE), *file = open_book(shop.path, FALSE);
  same_pulls(file, moved);
  same_curves(file, moved);
  same_recordings(file, moved);
  same_found(file, moved);
  ew_book_close(moved);
  ew_book_close(file);
  shop_clear(&shop);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(failures_are_told),
                                     cmocka_unit_test(answers_are_the_same)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
