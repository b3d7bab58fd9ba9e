/* Names of rows, the writer, and days of the shop's zone. */
#include "book/origin.h"
#include "base/error.h"
#include "book/book_inside.h"
#include "book/sql.h"
#include "book/store.h"
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>

/* Of this machine, without telling its id to whoever reads the book (machine-id(5) asks for that). */
static char *machine_of(void) {
  g_autofree char *id = NULL;
  if (!g_file_get_contents("/etc/machine-id", &id, NULL, NULL))
    id = g_strdup(g_get_host_name());
  g_autofree char *text = g_strconcat("enginewright writer ", g_strstrip(id), NULL);
  char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
  sum[32] = 0;
  return sum;
}

/* Which copy is it? A copy has another inode, or one that was made at another time. */
static char *place_of(const char *path) {
  struct statx facts;
  g_autofree char *machine = machine_of();
  if (statx(AT_FDCWD, path, 0, STATX_INO | STATX_BTIME, &facts) != 0)
    return g_steal_pointer(&machine);
  gboolean born = facts.stx_mask & STATX_BTIME;
  return g_strdup_printf("%s %" G_GUINT64_FORMAT " %" G_GINT64_FORMAT ".%09u", machine,
                         (guint64)facts.stx_ino, born ? (gint64)facts.stx_btime.tv_sec : 0,
                         born ? facts.stx_btime.tv_nsec : 0);
}

static gboolean find_text(struct ew_book *book, char **text, GError **error, const char *sql,
                          const char *value) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(book->port, &problem, sql, "t", value);
  g_free(*text);
  *text = ew_sql_next(s, &problem) ? ew_sql_text(s, 0) : NULL;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

/* What it writes into the outbox begins there; NULL: the book belongs to no shop. */
static gboolean begin_writer(struct ew_book *book, const char *place, GError **error) {
  g_autofree char *now = ew_time_now();
  char uid[EW_UUID_SIZE];
  ew_uuid7(uid);
  g_free(book->writer);
  book->writer = g_strdup(uid);
  return ew_sql_run(
      book->port, error,
      "INSERT INTO writer (uid, cell, place, at, first_seq) VALUES (?, ?, ?, ?, (SELECT "
      "max(seq) + 1 FROM outbox))",
      "tttt", uid, book->cell, place, now);
}

/* Once a book ships, a writer that another came after is not taken up again: its numbers would be given twice. */
gboolean ew_origin_begin(struct ew_book *book, GError **error) {
  if (book->writer)
    return TRUE;
  g_autofree char *place = place_of(book->path);
  return find_text(book, &book->cell, error, "SELECT value FROM setting WHERE key = ?",
                   "cell_uid") &&
         (book->cell || ew_sql_damaged(error, "the cell's name is missing")) &&
         find_text(book, &book->writer, error,
                   "SELECT uid FROM writer WHERE place = ? AND first_seq IS NOT DISTINCT FROM "
                   "(SELECT max(first_seq) FROM writer)",
                   place) &&
         (book->writer || begin_writer(book, place, error));
}

/* The zone is looked up once while its name stays. */
GTimeZone *ew_book_zone(struct ew_book *book, GError **error) {
  g_autofree char *name = NULL;
  if (!find_text(book, &name, error, "SELECT value FROM setting WHERE key = ?", "zone"))
    return NULL;
  if (g_strcmp0(name, book->zone_name) == 0 && book->zone)
    return book->zone;
  GTimeZone *zone = ew_zone_find(name ? name : "", error);
  if (!zone)
    return NULL;
  g_clear_pointer(&book->zone, g_time_zone_unref);
  g_free(book->zone_name);
  book->zone_name = g_steal_pointer(&name);
  book->zone = zone;
  return zone;
}

gboolean ew_book_day(struct ew_book *book, const char *instant, char day[EW_DAY_SIZE],
                     GError **error) {
  GTimeZone *zone = ew_book_zone(book, error);
  return zone && (ew_zone_day(zone, instant, day) ||
                  ew_refuse(error, "'%.40s' is not a time in UTC such as 2026-11-25T14:05:09.120Z",
                            instant));
}

gboolean ew_book_is_day(struct ew_book *book, const char *instant, const char *day) {
  char own[EW_DAY_SIZE];
  return ew_book_day(book, instant, own, NULL) && strcmp(own, day) == 0;
}

gboolean ew_origin_new(struct ew_book *book, const char *instant, struct ew_origin *origin,
                       GError **error) {
  g_assert(book->writing && book->writer);
  g_autofree char *now = instant ? NULL : ew_time_now();
  ew_uuid7(origin->uid);
  origin->cell = book->cell;
  origin->writer = book->writer;
  return ew_book_day(book, instant ? instant : now, origin->day, error);
}

/* Rows with a day of their own, and the instant that it follows from: as steps 9 and 10 of the schema have it. */
static const struct {
  const char *table, *instant;
} dated[] = {{"engine", "added_at"}, {"recording", "coalesce(measured_at, added_at)"},
             {"pull", "at"},         {"verdict", "at"},
             {"calibration", "at"},  {"build", "started_at"},
             {"build_record", "at"}, {"attachment", "coalesce(taken_at, at)"},
             {"job", "at"},          {"job_record", "at"},
             {"thinning", "at"},     {"note", "at"},
             {"mark", "at"},         {"alarm_trip", "at"},
             {"found", "at"},        {"hold", "at"},
             {"amendment", "at"},    {"recorder", "at"},
             {"change_log", "at"}};

struct moved {
  gint64 id;
  char day[EW_DAY_SIZE];
};

/* Those of one table whose day is another in that zone. NULL with *error. */
static GArray *moved_rows(struct ew_book *book, gsize table, GTimeZone *zone, GError **error) {
  g_assert(table < G_N_ELEMENTS(dated));
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct moved));
  GError *problem = NULL;
  g_autofree char *sql = g_strdup_printf("SELECT id, %s, day FROM %s ORDER BY id",
                                         dated[table].instant, dated[table].table);
  struct ew_port_rows *s = ew_sql_query(book->port, &problem, sql, "");
  while (ew_sql_next(s, &problem)) {
    struct moved row = {.id = ew_sql_int(s, 0)};
    if (ew_zone_day(zone, ew_sql_peek(s, 1), row.day) && strcmp(row.day, ew_sql_peek(s, 2)) != 0)
      g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  if (!problem)
    return rows;
  g_array_unref(rows);
  ew_sql_tell(problem, error);
  return NULL;
}

static gboolean move_table(struct ew_book *book, gsize table, GTimeZone *zone, GError **error) {
  g_autoptr(GArray) rows = moved_rows(book, table, zone, error);
  g_autofree char *sql = g_strdup_printf("UPDATE %s SET day = ? WHERE id = ?", dated[table].table);
  gboolean good = rows != NULL;
  for (guint i = 0; good && i < rows->len; i++) {
    const struct moved *row = &g_array_index(rows, struct moved, i);
    good = ew_sql_run(book->port, error, sql, "ti", row->day, row->id);
  }
  return good;
}

gboolean ew_origin_move(struct ew_book *book, const char *name, GError **error) {
  g_autoptr(GTimeZone) zone = ew_zone_find(name, error);
  gboolean good = zone != NULL;
  for (gsize i = 0; good && i < G_N_ELEMENTS(dated); i++)
    good = move_table(book, i, zone, error);
  return good;
}

/* Rows whose name is none, or whose writer is not in the table of writers. */
static gboolean check_table(struct ew_book *book, const char *table, ew_origin_fault fault,
                            gpointer user, GError **error) {
  GError *problem = NULL;
  g_autofree char *sql =
      g_strdup_printf("SELECT id, uid, EXISTS (SELECT 1 FROM writer w WHERE w.uid = t.writer AND "
                      "w.cell = t.cell) FROM %s t ORDER BY id",
                      table);
  struct ew_port_rows *s = ew_sql_query(book->port, &problem, sql, "");
  while (ew_sql_next(s, &problem))
    if (!ew_uuid7_is(ew_sql_peek(s, 1)) || !ew_sql_int(s, 2))
      fault(table, ew_sql_int(s, 0), user);
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

gboolean ew_origin_check(struct ew_book *book, ew_origin_fault fault, gpointer user,
                         GError **error) {
  gboolean good = TRUE;
  for (gsize i = 0; good && i < G_N_ELEMENTS(dated); i++)
    good = check_table(book, dated[i].table, fault, user, error);
  return good;
}
