#include "book/book.h"
#include "base/error.h"
#include "book/book_file.h"
#include "book/schema.h"
#include "book/sql.h"
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <sys/stat.h>

struct ew_book {
  sqlite3 *db;
  char *path;
  gboolean whole, step; /* a whole is under way; so is a step of it */
  gboolean read_only;   /* its file or disk can't be written */
};

char *ew_book_default_path(void) {
  return g_build_filename(g_get_user_data_dir(), "enginewright", "shop.book", NULL);
}

const char *ew_book_path(const struct ew_book *book) {
  return book->path;
}

struct sqlite3 *ew_book_handle(struct ew_book *book) {
  return book->db;
}

/* Before the file is read at all: nothing that it holds may run, and none of its sizes is believed. */
static void distrust(sqlite3 *db) {
  static const int limits[][2] = {{SQLITE_LIMIT_SQL_LENGTH, 100000},
                                  {SQLITE_LIMIT_COLUMN, 100},
                                  {SQLITE_LIMIT_EXPR_DEPTH, 100},
                                  {SQLITE_LIMIT_COMPOUND_SELECT, 10},
                                  {SQLITE_LIMIT_VDBE_OP, 25000},
                                  {SQLITE_LIMIT_FUNCTION_ARG, 10},
                                  {SQLITE_LIMIT_ATTACHED, 1} /* VACUUM INTO needs it */,
                                  {SQLITE_LIMIT_TRIGGER_DEPTH, 1},
                                  {SQLITE_LIMIT_LIKE_PATTERN_LENGTH, 100},
                                  {SQLITE_LIMIT_VARIABLE_NUMBER, 50}};
  sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
  sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
  sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
  sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_VIEW, 0, NULL);
  for (gsize i = 0; i < G_N_ELEMENTS(limits); i++)
    sqlite3_limit(db, limits[i][0], limits[i][1]);
  sqlite3_exec(db, "PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0", NULL, NULL, NULL);
}

static gboolean configure(sqlite3 *db, GError **error) {
  if (sqlite3_exec(db,
                   "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON",
                   NULL, NULL, NULL) == SQLITE_OK)
    return TRUE;
  if (sqlite3_errcode(db) == SQLITE_NOTADB)
    return ew_refuse(error, "this file is no book: choose another with --book");
  return ew_sql_error(db, error);
}

static gboolean connect(struct ew_book *book, const char *name, int flags, GError **error) {
  gboolean open = sqlite3_open_v2(name, &book->db, flags | SQLITE_OPEN_NOMUTEX, NULL) == SQLITE_OK;
  if (open)
    distrust(book->db);
  return (open && sqlite3_busy_timeout(book->db, 5000) == SQLITE_OK) ||
         ew_sql_error(book->db, error);
}

static gboolean open_to_write(struct ew_book *book, GError **error) {
  return connect(book, book->path, SQLITE_OPEN_READWRITE, error) &&
         ew_schema_check(book->db, error) && configure(book->db, error) &&
         ew_schema_migrate(book->db, error);
}

/* A file that is never written to, with no log that waits: read as it is, with no file beside it. */
static gboolean read_as_it_is(struct ew_book *book, GError **error) {
  g_autofree char *real = realpath(book->path, NULL);
  g_autofree char *log = real ? g_strconcat(real, "-wal", NULL) : NULL;
  g_autofree char *name = real ? g_uri_escape_string(real, "/", TRUE) : NULL;
  g_autofree char *uri = name ? g_strdup_printf("file:%s?mode=ro&immutable=1", name) : NULL;
  struct stat facts;
  if (log && stat(log, &facts) == 0 && facts.st_size > 0)
    return ew_refuse(error,
                     "rows wait in its log '%s', and the disk takes nothing: free some space, "
                     "or copy both files to a disk that can be written",
                     log);
  return uri && connect(book, uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, error) &&
         ew_schema_check(book->db, error);
}

/* The disk is full or can't be written: what is in the book can be read all the same. */
static gboolean open_to_read(struct ew_book *book, GError **error) {
  sqlite3_close_v2(g_steal_pointer(&book->db));
  book->read_only = TRUE;
  gboolean good =
      connect(book, book->path, SQLITE_OPEN_READONLY, NULL) && ew_schema_check(book->db, NULL);
  if (!good) {
    sqlite3_close_v2(g_steal_pointer(&book->db));
    good = read_as_it_is(book, error);
  }
  if (good && ew_sql_number(book->db, "PRAGMA user_version", "") != ew_schema_newest())
    return ew_refuse(error,
                     "this book is of an earlier version of the program and can't be brought "
                     "up to date where it is, since nothing can be written there: copy it to "
                     "a disk that can be written");
  return good;
}

/* Did the disk say no, and not the book? */
static gboolean is_of_the_disk(sqlite3 *db) {
  int code = sqlite3_errcode(db) & 0xff;
  return code == SQLITE_READONLY || code == SQLITE_CANTOPEN || code == SQLITE_IOERR ||
         code == SQLITE_FULL || code == SQLITE_PERM;
}

static gboolean open_there(struct ew_book *book, gboolean create, GError **error) {
  g_autoptr(GError) problem = NULL;
  if (open_to_write(book, &problem))
    return TRUE;
  if (create || !is_of_the_disk(book->db) || !open_to_read(book, create ? NULL : error)) {
    if (!error || !*error)
      g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  return TRUE;
}

static gboolean make_folder(const char *path, GError **error) {
  g_autofree char *folder = g_path_get_dirname(path);
  return g_mkdir_with_parents(folder, 0700) == 0 ||
         ew_fail(error, "%s: the folder cannot be made: %s", folder, g_strerror(errno));
}

struct ew_book *ew_book_open(const char *path, gboolean create, GError **error) {
  int there = ew_book_file_look(path, error);
  if (there == 0 && !create)
    ew_refuse(error, "%s: there is no book here; 'enginewright book new' makes one", path);
  if (there < 0 || (there == 0 && !create) ||
      (there == 0 && (!make_folder(path, error) || !ew_book_file_make(path, FALSE, error))))
    return NULL;
  struct ew_book *book = g_new0(struct ew_book, 1);
  book->path = g_strdup(path);
  g_autoptr(GError) problem = NULL;
  if (open_there(book, there == 0, &problem))
    return book;
  g_prefix_error(&problem, "%s: ", path);
  g_propagate_error(error, g_steal_pointer(&problem));
  ew_book_close(book);
  if (there == 0)
    ew_sql_unlink(path);
  return NULL;
}

gboolean ew_book_is_read_only(const struct ew_book *book) {
  return book->read_only;
}

void ew_book_close(struct ew_book *book) {
  if (!book)
    return;
  sqlite3_close_v2(book->db);
  g_free(book->path);
  g_free(book);
}

static gboolean say(struct ew_book *book, const char *sql, GError **error) {
  return sqlite3_exec(book->db, sql, NULL, NULL, NULL) == SQLITE_OK ||
         ew_sql_error(book->db, error);
}

/* SQLite itself gives up a transaction when the disk is full: what follows must not begin another. */
gboolean ew_book_begin(struct ew_book *book, GError **error) {
  if (!book->whole)
    return say(book, "BEGIN IMMEDIATE", error);
  if (sqlite3_get_autocommit(book->db))
    return ew_fail(error, "the book gave up what was to be kept in one piece: is the disk full?");
  book->step = say(book, "SAVEPOINT step", error);
  return book->step;
}

gboolean ew_book_commit(struct ew_book *book, GError **error) {
  if (say(book, book->whole ? "RELEASE step" : "COMMIT", error)) {
    book->step = FALSE;
    return TRUE;
  }
  ew_book_rollback(book);
  return FALSE;
}

void ew_book_rollback(struct ew_book *book) {
  gboolean open = !sqlite3_get_autocommit(book->db);
  if (open && !book->whole)
    sqlite3_exec(book->db, "ROLLBACK", NULL, NULL, NULL);
  else if (open && book->step)
    sqlite3_exec(book->db, "ROLLBACK TO step; RELEASE step", NULL, NULL, NULL);
  book->step = FALSE;
}

gboolean ew_book_begin_whole(struct ew_book *book, GError **error) {
  g_assert(!book->whole);
  book->whole = ew_book_begin(book, error);
  return book->whole;
}

gboolean ew_book_end_whole(struct ew_book *book, gboolean good, GError **error) {
  book->whole = FALSE;
  if (good)
    return ew_book_commit(book, error);
  ew_book_rollback(book);
  return FALSE;
}

char *ew_time_now(void) {
  g_autoptr(GDateTime) now = g_date_time_new_now_utc();
  return g_date_time_format(now, "%Y-%m-%dT%H:%M:%S.%fZ");
}

double ew_time_parse(const char *text) {
  g_autoptr(GTimeZone) utc = g_time_zone_new_utc();
  g_autoptr(GDateTime) time = text ? g_date_time_new_from_iso8601(text, utc) : NULL;
  return time ? (double)g_date_time_to_unix(time) + g_date_time_get_microsecond(time) / 1e6
              : (double)NAN;
}

const char *ew_book_who(void) {
  return g_getenv("EW_USER") ? g_getenv("EW_USER") : g_get_user_name();
}

gboolean ew_book_log(struct ew_book *book, const char *what, const char *detail, GError **error) {
  g_autofree char *now = ew_time_now();
  return ew_sql_run(book->db, error,
                    "INSERT INTO change_log (at, who, what, detail) VALUES (?, ?, ?, ?)", "tttt",
                    now, ew_book_who(), what, detail);
}

void ew_book_write_log(struct ew_book *book, struct ew_json *json) {
  static const char *const keys[] = {"at", "who", "what", "detail"};
  sqlite3_stmt *s =
      ew_sql_query(book->db, NULL, "SELECT at, who, what, detail FROM change_log ORDER BY id", "");
  while (ew_sql_next(s, NULL)) {
    ew_json_open(json, NULL);
    for (int k = 0; k < 4; k++) {
      g_autofree char *text = ew_sql_text(s, k);
      ew_json_text(json, keys[k], text);
    }
    ew_json_close(json);
  }
  sqlite3_finalize(s);
}
