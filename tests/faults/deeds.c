#include "deeds.h"
#include "../fuzz/sample_book.h"
#include "lossy_disk.h"
#include "base/machine.h"
#include "book/backup.h"
#include "book/keep.h"
#include "book/store.h"
#include "book/stream.h"
#include "book/verify.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/found.h"
#include "desk/record.h"
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#define FIRST_AT "2026-03-01T10:00:00Z" /* of the note that is there at first */

const char *const deed_names[] = {
#define X(key, whole, says) says,
    DEEDS(X)
#undef X
};
const gboolean deed_is_whole[] = {
#define X(key, whole, says) whole,
    DEEDS(X)
#undef X
};

static guint8 *first;
static gsize first_size;

G_GNUC_PRINTF(3, 4)
static void acknowledge(struct job *job, const char *file, const char *format, ...) {
  va_list list;
  va_start(list, format);
  g_autofree char *what = g_strdup_vprintf(format, list);
  va_end(list);
  g_autofree char *line = g_strdup_printf("%s\t%s\n", file, what);
  gsize length = strlen(line);
  g_mutex_lock(&job->mutex);
  struct said *s = job->said;
  g_assert(s->length + length < sizeof s->text);
  memcpy(s->text + s->length, line, length);
  s->length += length;
  s->count++;
  g_mutex_unlock(&job->mutex);
}

#define ACKNOWLEDGE(job, ...) acknowledge(job, "shop.book", __VA_ARGS__)

/* Of each book since the last deed: who checks a folder and then asks for its digest reads it once. */
static GHashTable *digests;

static void forget_digests(void) {
  if (digests)
    g_hash_table_remove_all(digests);
}

void folder_empty(const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_unlink(path);
  }
}

/* ---- the book at first ---- */

static void make_first(void) {
  sqlite3 *db;
  gboolean added;
  ew_sample_put(ew_sample_book(), ew_sample_book()->image);
  struct ew_book *book = ew_book_open(ew_sample_book()->path, FALSE, NULL);
  g_assert(book && ew_keep_note(book, FIRST_AT, "a drip", &added, NULL));
  ew_book_close(book);
  g_assert(sqlite3_open(ew_sample_book()->path, &db) == SQLITE_OK);
  g_assert(sqlite3_exec(db, "UPDATE curve SET reduction = 0", NULL, NULL, NULL) == 0);
  sqlite3_close(db);
  g_assert(g_file_get_contents(ew_sample_book()->path, (char **)&first, &first_size, NULL));
  g_unlink(ew_sample_book()->path);
}

void job_begin(struct job *job) {
  g_mutex_init(&job->mutex);
  job->said =
      mmap(NULL, sizeof *job->said, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  g_assert(job->said != MAP_FAILED);
  ew_sample_folder(); /* says where this machine's own files are, too */
  g_autofree char *one = ew_machine_path("devices");
  job->folder = g_path_get_dirname(one);
  job->book = g_build_filename(job->folder, "shop.book", NULL);
  g_assert(g_mkdir_with_parents(job->folder, 0700) == 0);
  if (!first)
    make_first();
}

void job_clear(struct job *job) {
  disk_forget();
  folder_empty(job->folder);
  g_rmdir(job->folder);
  g_rmdir(ew_sample_folder());
  munmap(job->said, sizeof *job->said);
  g_mutex_clear(&job->mutex);
  g_free(job->folder);
  g_free(job->book);
}

void job_anew(struct job *job) {
  disk_forget();
  forget_digests();
  folder_empty(job->folder);
  job->said->length = job->said->count = 0;
  job->number = 0;
  g_assert(g_file_set_contents(job->book, (char *)first, (gssize)first_size, NULL));
  g_assert(g_chmod(job->book, 0600) == 0);
  g_assert(ew_machine_write("devices", "none yet\n", NULL));
}

/* ---- deeds ---- */

/* A light load, a sweep at full load, a lift; another torque for each number. Full means as many rows as a pipe holds. */
static GString *rows_of_a_pull(guint number) {
  GString *text =
      g_string_new("Time [s],RPM [rpm],Torque [N·m],Throttle [%],Oil pressure [bar],Number\n");
  for (guint i = 0; i < 1100; i++) {
    double t = i / 100.0, sweep = CLAMP((t - 2) / 7, 0, 1);
    double rpm = 2500 + 2500 * sweep + (t > 9 ? -400 * (t - 9) : 0) + i % 5;
    gboolean full = t >= 2 && t < 9;
    double torque = full ? 200 - 40 * (sweep - 0.5) * (sweep - 0.5) + number % 50 : 10;
    g_string_append_printf(text, "%.2f,%.1f,%.2f,%d,4.%u,%u\n", t, rpm, torque + i % 3 * 0.1,
                           full ? 100 : 5, i % 10, i);
  }
  return text;
}

static double figure_of(const char *json, const char *key) {
  const char *at = strstr(json, key);
  return at ? g_ascii_strtod(at + strlen(key), NULL) : 0;
}

static void hears(const struct ew_record_news *news, gpointer user) {
  struct job *job = user;
  gint64 id = (gint64)figure_of(news->json, "\"recording\":");
  gint64 rows = (gint64)figure_of(news->json, "\"stored_rows\":");
  gint64 pull = (gint64)figure_of(news->json, "\"pull\":");
  if (news->event == EW_RECORD_COMMIT)
    ACKNOWLEDGE(job,
                "SELECT total(rows) >= %" G_GINT64_FORMAT
                " FROM stream_block WHERE recording_id = %" G_GINT64_FORMAT,
                rows, id);
  if (news->event == EW_RECORD_PULL && pull)
    ACKNOWLEDGE(job,
                "SELECT count(*) FROM curve JOIN stream_pull JOIN pull ON pull.id = pull_id AND "
                "cut_id = pull.recording_id WHERE pull_id = %" G_GINT64_FORMAT,
                pull);
}

static int pipe_of(const GString *text) {
  int ends[2];
  g_assert(pipe2(ends, O_CLOEXEC) == 0 &&
           write(ends[1], text->str, text->len) == (gssize)text->len);
  close(ends[1]);
  return ends[0];
}

static gboolean record(struct job *job, GError **error) {
  static const char *const sources[] = {"stdin:", NULL};
  GString *rows = rows_of_a_pull(job->number);
  int lines = pipe_of(rows);
  g_string_free(rows, TRUE);
  g_assert(dup2(lines, STDIN_FILENO) == STDIN_FILENO);
  close(lines);
  struct ew_record_options how = {
      .book_path = job->book, .sources = sources, .power = TRUE, .for_s = NAN, .control_fd = -1};
  atomic_int stop = 0;
  return ew_record_run(&how, hears, job, &stop, error);
}

static gboolean import(struct job *job, struct ew_book *book, GError **error) {
  GString *rows = rows_of_a_pull(job->number);
  g_autoptr(GBytes) bytes = g_string_free_to_bytes(rows);
  struct ew_desk desk = {0};
  struct ew_added added;
  const struct ew_add_options how = {0};
  gboolean good = ew_desk_open(&desk, book, error) &&
                  ew_add_bytes(&desk, bytes, "run.csv", &how, &added, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  g_assert(added.pull_ids->len == 1);
  ACKNOWLEDGE(job,
              "SELECT count(*) FROM recording r JOIN pull p ON p.recording_id = r.id JOIN curve "
              "ON pull_id = p.id WHERE r.sha256 = '%s'",
              added.sha256);
  ew_added_clear(&added);
  return TRUE;
}

static gboolean renew(struct job *job, struct ew_book *book, GError **error) {
  int renewed, gone;
  if (!ew_book_renew(book, NULL, &renewed, &gone, error))
    return FALSE;
  ACKNOWLEDGE(job, "SELECT count(*) = 0 FROM curve WHERE reduction = 0");
  return TRUE;
}

static gboolean back_up(struct job *job, struct ew_book *book, GError **error) {
  g_autofree char *name = g_strdup_printf("copy-%u.book", job->number);
  g_autofree char *path = g_build_filename(job->folder, name, NULL);
  if (!ew_book_backup(book, path, NULL, error))
    return FALSE;
  acknowledge(job, name, "SELECT count(*) FROM curve");
  return TRUE;
}

/* The spark of the first pull was told wrong: its curve is computed again, the former reading stays, and the answer that the day has
 * is on an earlier reading from then on. */
static gboolean amend(struct job *job, struct ew_book *book, GError **error) {
  const gint64 pull = 1;
  g_autofree char *spark = g_strdup_printf("spark=%u deg", 30 + job->number % 9),
                  *reason = g_strdup_printf("misread, %u", job->number);
  const char *const sets[] = {spark, NULL};
  const struct ew_amend_ask ask = {
      .pulls = &pull, .pulls_count = 1, .sets = sets, .who = "the fitter", .reason = reason};
  struct ew_desk desk = {0};
  struct ew_amended amended;
  gboolean good = ew_desk_open(&desk, book, error) && ew_amend(&desk, &ask, &amended, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  g_assert(amended.rows->len == 1 && amended.answers->len == 1);
  ew_amended_clear(&amended);
  ACKNOWLEDGE(job,
              "SELECT count(*) FROM amendment a JOIN pull p ON p.id = a.pull_id JOIN former f ON "
              "f.pull_id = p.id AND f.reading = a.reading - 1 WHERE a.reason = '%s' AND p.reading "
              ">= a.reading",
              reason);
  return TRUE;
}

static gboolean write_note(struct job *job, struct ew_book *book, GError **error) {
  g_autofree char *at =
      g_strdup_printf("2026-03-02T10:%02u:%02uZ", job->number / 60 % 60, job->number % 60);
  gboolean added;
  if (!ew_keep_note(book, at, "smoke", &added, error))
    return FALSE;
  ACKNOWLEDGE(job, "SELECT count(*) FROM note WHERE at LIKE '%.19s%%'", at);
  return TRUE;
}

static gboolean take_back(struct job *job, struct ew_book *book, GError **error) {
  if (!ew_keep_note_withdrawn(book, 1, "it was water", error))
    return FALSE;
  ACKNOWLEDGE(job, "SELECT count(*) FROM note WHERE id = 1 AND withdrawn IS NOT NULL");
  return TRUE;
}

static gboolean discard(struct job *job, struct ew_book *book, GError **error) {
  gint64 id = 1 + job->number % 4;
  if (!ew_keep_discard(book, id, "a hose was off", error))
    return FALSE;
  ACKNOWLEDGE(job,
              "SELECT count(*) FROM pull WHERE id = %" G_GINT64_FORMAT
              " AND discarded = 'a hose was off'",
              id);
  return TRUE;
}

static gboolean find(struct job *job, struct ew_book *book, GError **error) {
  gint64 id = 2;
  g_autoptr(GArray) owners = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autofree char *text = g_strdup_printf("specks on plug %u", job->number);
  g_array_append_val(owners, id);
  const struct ew_found_ask ask = {
      .belongs = EW_FOUND_PULL, .owners = owners, .text = text, .who = "the fitter"};
  if (!ew_write_found(book, &ask, error))
    return FALSE;
  ACKNOWLEDGE(job, "SELECT count(*) FROM found WHERE text = '%s'", text);
  return TRUE;
}

static gboolean measure(struct job *job, struct ew_book *book, GError **error) {
  g_autofree char *says = g_strdup_printf("a scratch %u mm long", job->number);
  const struct ew_build_seen seen = {.what = (char *)"bearing", .says = says};
  struct ew_kept_record kept;
  if (!ew_keep_build_record(book, 1, EW_BUILD_SEEN, &seen, &kept, error))
    return FALSE;
  ACKNOWLEDGE(job, "SELECT count(*) FROM build_record WHERE yaml LIKE '%%%s%%'", says);
  return TRUE;
}

static gboolean set(struct job *job, struct ew_book *book, GError **error) {
  g_autofree char *value = g_strdup_printf("shop %u", job->number);
  if (!ew_keep_setting(book, "shop", value, error))
    return FALSE;
  ACKNOWLEDGE(job,
              "SELECT count(*) FROM setting WHERE key = 'shop' AND CAST(substr(value, 6) AS "
              "INTEGER) >= %u",
              job->number);
  return TRUE;
}

static gboolean keep_devices(struct job *job, GError **error) {
  g_autofree char *text = g_strdup_printf("device %u\n", job->number);
  if (!ew_machine_write("devices", text, error))
    return FALSE;
  acknowledge(job, "devices", "%u", job->number);
  return TRUE;
}

gboolean job_do(struct job *job, enum deed deed, GError **error) {
  static gboolean (*const on_book[])(struct job *, struct ew_book *, GError **) = {
      [DEED_IMPORT] = import,       [DEED_RENEW] = renew,     [DEED_BACKUP] = back_up,
      [DEED_AMEND] = amend,         [DEED_NOTE] = write_note, [DEED_FOUND] = find,
      [DEED_TAKE_BACK] = take_back, [DEED_DISCARD] = discard, [DEED_MEASURE] = measure,
      [DEED_SETTING] = set,         [DEED_DEVICES] = NULL};
  job->number++;
  forget_digests();
  if (deed == DEED_RECORD)
    return record(job, error);
  if (deed == DEED_DEVICES)
    return keep_devices(job, error);
  struct ew_book *book = ew_book_open(job->book, FALSE, error);
  gboolean good = book && on_book[deed](job, book, error);
  ew_book_close(book);
  ew_book_forget_trouble();
  return good;
}

/* ---- what is stored, as one digest ---- */

/* Does it begin with this shape? '9' stands for a digit, 'f' for one of sixteen. */
static gboolean has_shape(const char *at, const char *shape) {
  for (; *shape; at++, shape++) {
    gboolean fits = *shape == '9'   ? g_ascii_isdigit(*at)
                    : *shape == 'f' ? g_ascii_isxdigit(*at) && !g_ascii_isupper(*at)
                                    : *at == *shape;
    if (!fits)
      return FALSE;
  }
  return TRUE;
}

/* How much of the text is a day, a moment or a row's name (RFC 9562) from here on; 0: nothing. */
static gsize length_of_name(const char *at) {
  static const char name[] = "ffffffff-ffff-ffff-ffff-ffffffffffff", day[] = "2099-99-99";
  if (has_shape(at, name))
    return strlen(name);
  if (!has_shape(at, day))
    return 0;
  gsize clock = at[strlen(day)] == 'T' ? strspn(at + strlen(day) + 1, "0123456789:.") : 0;
  return clock && at[strlen(day) + 1 + clock] == 'Z' ? strlen(day) + clock + 2 : strlen(day);
}

/* Times and names apart: they are their own each time. */
static void add_text(GChecksum *sum, const char *text) {
  const char *from = text, *at = text;
  while (*at) {
    gsize skip = length_of_name(at);
    if (skip) {
      g_checksum_update(sum, (const guchar *)from, at - from);
      g_checksum_update(sum, (const guchar *)"then", 4);
      from = at + skip;
    }
    at += MAX(skip, 1);
  }
  g_checksum_update(sum, (const guchar *)from, at - from);
}

static void add_value(GChecksum *sum, sqlite3_stmt *s, int column) {
  if (sqlite3_column_type(s, column) == SQLITE_TEXT)
    add_text(sum, (const char *)sqlite3_column_text(s, column));
  else {
    const void *bytes = sqlite3_column_blob(s, column);
    gssize size = sqlite3_column_bytes(s, column);
    g_checksum_update(sum, (const guchar *)(size ? bytes : ""), size);
  }
  g_checksum_update(sum, (const guchar *)"|", 1);
}

static void add_table(GChecksum *sum, sqlite3 *db, const char *table) {
  g_autofree char *sql = g_strdup_printf("SELECT * FROM %s ORDER BY rowid", table);
  sqlite3_stmt *s;
  g_checksum_update(sum, (const guchar *)table, -1);
  if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) != SQLITE_OK)
    g_error("%s: %s", sql, sqlite3_errmsg(db));
  while (sqlite3_step(s) == SQLITE_ROW)
    for (int i = 0; i < sqlite3_column_count(s); i++)
      add_value(sum, s, i);
  sqlite3_finalize(s);
}

static void add_book(GChecksum *sum, const char *path) {
  sqlite3 *db;
  sqlite3_stmt *s;
  g_assert(sqlite3_open(path, &db) == SQLITE_OK);
  g_assert(sqlite3_prepare_v2(db,
                              "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT "
                              "LIKE 'sqlite%' AND name <> 'writer' ORDER BY name",
                              -1, &s, NULL) == SQLITE_OK);
  while (sqlite3_step(s) == SQLITE_ROW)
    add_table(sum, db, (const char *)sqlite3_column_text(s, 0));
  sqlite3_finalize(s);
  sqlite3_close(db);
}

static const char *digest_of(const char *path) {
  digests = digests ? digests : g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  if (!g_hash_table_contains(digests, path)) {
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    add_book(sum, path);
    g_hash_table_insert(digests, g_strdup(path), g_strdup(g_checksum_get_string(sum)));
  }
  return g_hash_table_lookup(digests, path);
}

/* ---- what must hold ---- */

/* By the book's own verification, which computes every curve anew. */
static char *wrong_of_all(struct ew_book *book) {
  g_autoptr(GError) error = NULL;
  struct ew_verification v;
  char *wrong = NULL;
  if (!ew_book_verify(book, NULL, &v, &error))
    return g_strdup_printf("it can't be verified: %s", error->message);
  if (!v.whole)
    wrong = g_strdup_printf("it is not whole: %s", (char *)g_ptr_array_index(v.problems, 0));
  ew_verification_clear(&v);
  return wrong;
}

static char *wrong_of_pages(const char *path) {
  sqlite3 *db;
  sqlite3_stmt *s;
  g_assert(sqlite3_open(path, &db) == SQLITE_OK);
  g_assert(sqlite3_prepare_v2(db, "PRAGMA integrity_check(1)", -1, &s, NULL) == SQLITE_OK);
  const char *says = sqlite3_step(s) == SQLITE_ROW ? (const char *)sqlite3_column_text(s, 0) : "";
  char *wrong = strcmp(says, "ok") == 0 ? NULL : g_strdup_printf("SQLite says: %s", says);
  sqlite3_finalize(s);
  sqlite3_close(db);
  return wrong;
}

/* What is stored was found whole before, times apart, in most of ten thousand runs: then opening it and SQLite's own check of
 * the file are enough, at a tenth of the time. */
static char *wrong_of_book(const char *path) {
  static GHashTable *whole; /* digests of what was verified */
  g_autoptr(GError) error = NULL;
  struct ew_book *book = ew_book_open(path, FALSE, &error);
  if (!book)
    return g_strdup_printf("it does not open: %s", error->message);
  whole = whole ? whole : g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  char *wrong = wrong_of_pages(path);
  const char *digest = wrong ? NULL : digest_of(path);
  if (digest && !g_hash_table_contains(whole, digest))
    wrong = wrong_of_all(book);
  if (digest && !wrong)
    g_hash_table_add(whole, g_strdup(digest));
  ew_book_close(book);
  g_autoptr(GError) damage = ew_book_take_trouble();
  return wrong || !damage ? wrong : g_strdup(damage->message);
}

/* Rows bear their own numbers. */
static char *wrong_of_rows(sqlite3 *db) {
  sqlite3_stmt *s;
  char *wrong = NULL;
  gint64 next = 0, last = 0;
  g_assert(sqlite3_prepare_v2(db, "SELECT recording_id, rows, bytes FROM stream_block ORDER BY id",
                              -1, &s, NULL) == SQLITE_OK);
  while (!wrong && sqlite3_step(s) == SQLITE_ROW) {
    gint64 id = sqlite3_column_int64(s, 0), rows = sqlite3_column_int64(s, 1);
    next = id == last ? next : 0;
    last = id;
    for (gint64 i = 0; i < rows && !wrong; i++) {
      double number;
      memcpy(&number, (const double *)sqlite3_column_blob(s, 2) + 6 * i + 5, sizeof number);
      if (!(number == (double)next++))
        wrong = g_strdup_printf("row %d of recording %d is another one", (int)next - 1, (int)id);
    }
  }
  sqlite3_finalize(s);
  return wrong;
}

static gint64 ask(sqlite3 *db, const char *sql) {
  sqlite3_stmt *s;
  if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) != SQLITE_OK)
    g_error("%s: %s", sql, sqlite3_errmsg(db));
  gint64 figure = sqlite3_step(s) == SQLITE_ROW ? sqlite3_column_int64(s, 0) : 0;
  sqlite3_finalize(s);
  return figure;
}

static char *wrong_of_curves(sqlite3 *db) {
  gint64 early = ask(db, "SELECT count(*) FROM curve JOIN pull ON pull.id = pull_id WHERE reading "
                         "= 1 AND reduction = 0");
  gint64 first_ones = ask(db, "SELECT count(*) FROM pull WHERE reading = 1 AND at < '2026-09-01'");
  return early == 0 || early == first_ones
             ? NULL
             : g_strdup_printf("%d of %d curves renewed", (int)(first_ones - early),
                               (int)first_ones);
}

/* Whatever was cut off: a pull has each of its former readings with the amendment that ended it, its own curve and its line in the
 * log; and an answer says which readings it is of, none that the pull has not had. */
static char *wrong_of_amendments(sqlite3 *db) {
  static const char *const wrong[][2] = {
      {"a pull without its former readings",
       "SELECT count(*) FROM pull p WHERE reading <> 1 + (SELECT count(*) FROM former f WHERE "
       "f.pull_id = p.id AND f.reading < p.reading)"},
      {"a pull without its amendments",
       "SELECT count(*) FROM pull p WHERE reading <> 1 + (SELECT count(DISTINCT reading) FROM "
       "amendment a WHERE a.pull_id = p.id)"},
      {"a former reading of none",
       "SELECT count(*) FROM former f LEFT JOIN pull p ON p.id = f.pull_id WHERE p.id IS NULL OR "
       "f.reading >= p.reading"},
      {"an amended pull with the curve it had before",
       "SELECT count(*) FROM pull p JOIN curve c ON c.pull_id = p.id JOIN former f ON f.pull_id = "
       "p.id AND f.reading = p.reading - 1 WHERE c.reduction = 0 OR f.setup = p.setup"},
      {"an amendment that the log does not know",
       "SELECT count(*) FROM amendment a WHERE NOT EXISTS (SELECT 1 FROM change_log l WHERE "
       "instr(l.detail, a.reason))"},
      {"an answer that does not say which readings it is of",
       "SELECT count(*) FROM verdict WHERE readings IS NULL OR readings LIKE '%.2%'"}};
  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++)
    if (ask(db, wrong[i][1]) != 0)
      return g_strdup(wrong[i][0]);
  return NULL;
}

static char *not_there(const char *folder, const char *line) {
  g_auto(GStrv) said = g_strsplit(line, "\t", 2);
  g_autofree char *path = g_build_filename(folder, said[0], NULL), *text = NULL;
  sqlite3 *db;
  gint64 there;
  if (!g_file_get_contents(path, &text, NULL, NULL))
    return g_strdup_printf("%s was said to be stored, and is not there", said[0]);
  if (g_ascii_isdigit(*said[1]))
    there = figure_of(text, "device ") >= g_ascii_strtod(said[1], NULL);
  else {
    g_assert(sqlite3_open(path, &db) == SQLITE_OK);
    there = ask(db, said[1]);
    sqlite3_close(db);
  }
  return there ? NULL : g_strdup_printf("acknowledged, and not there: %s", line);
}

static char *wrong_inside(const char *path) {
  sqlite3 *db;
  g_assert(sqlite3_open(path, &db) == SQLITE_OK);
  char *wrong = wrong_of_rows(db);
  wrong = wrong ? wrong : wrong_of_curves(db);
  wrong = wrong ? wrong : wrong_of_amendments(db);
  sqlite3_close(db);
  return wrong;
}

char *job_wrong(const struct job *job, const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  char *wrong = NULL;
  for (const char *name; !wrong && (name = g_dir_read_name(dir));) {
    g_autofree char *path = g_build_filename(folder, name, NULL), *text = NULL;
    if (g_str_has_suffix(name, ".book"))
      wrong = wrong_of_book(path);
    if (g_str_has_suffix(name, ".book") && !wrong)
      wrong = wrong_inside(path);
    if (strcmp(name, "devices") == 0 &&
        (!g_file_get_contents(path, &text, NULL, NULL) || !g_str_has_suffix(text, "\n")))
      wrong = g_strdup_printf("half of a file: '%s'", text);
    if (wrong) {
      g_autofree char *what = g_steal_pointer(&wrong);
      wrong = g_strdup_printf("%s: %s", name, what);
    }
  }
  g_autofree char *all = g_strndup(job->said->text, job->said->length);
  g_auto(GStrv) lines = g_strsplit(all, "\n", -1);
  for (guint i = 0; !wrong && i < job->said->count; i++)
    wrong = not_there(folder, lines[i]);
  return wrong;
}

static int by_name(gconstpointer a, gconstpointer b) {
  return strcmp(*(char *const *)a, *(char *const *)b);
}

char *job_digest(const char *folder) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; (name = g_dir_read_name(dir));)
    if (!g_str_has_suffix(name, "-wal") && !g_str_has_suffix(name, "-shm"))
      g_ptr_array_add(names, g_strdup(name));
  g_ptr_array_sort(names, by_name);
  for (guint i = 0; i < names->len; i++) {
    g_autofree char *path = g_build_filename(folder, names->pdata[i], NULL), *text = NULL;
    gsize size = 0;
    g_checksum_update(sum, names->pdata[i], -1);
    if (g_str_has_suffix(names->pdata[i], ".book"))
      g_checksum_update(sum, (const guchar *)digest_of(path), -1);
    else if (g_file_get_contents(path, &text, &size, NULL))
      g_checksum_update(sum, (const guchar *)text, (gssize)size);
  }
  return g_strdup(g_checksum_get_string(sum));
}
