/* A file becomes a connection: distrusted first, then held against the schema, then brought up to date. */
#include "book/sqlite/sqlite.h"
#include "base/error.h"
#include "book/sqlite/schema.h"
#include <stdlib.h>
#include <sys/stat.h>

enum { WAIT_MS = 5000 /* for another program's turn */, TURN_MS = 10 };

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

/* A new book, or a copy, gets its log from whoever opens it first. Two who open it at once would both read and then both ask
 * to write, which no busy handler may wait out (sqlite.org/c3ref/busy_handler.html): it is asked for again instead. */
static int give_log(sqlite3 *db) {
  for (int waited_ms = 0;; waited_ms += TURN_MS) {
    int code = sqlite3_exec(db, "PRAGMA journal_mode = WAL", NULL, NULL, NULL);
    if ((code & 0xff) != SQLITE_BUSY || waited_ms >= WAIT_MS)
      return code;
    sqlite3_sleep(TURN_MS);
  }
}

static gboolean configure(sqlite3 *db, GError **error) {
  if (give_log(db) == SQLITE_OK &&
      sqlite3_exec(
          db,
          "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; "
          /* samples that are thinned are no secret: to write zeros over them would fill the log with as much as goes */
          "PRAGMA secure_delete = FAST",
          NULL, NULL, NULL) == SQLITE_OK)
    return TRUE;
  if (sqlite3_errcode(db) == SQLITE_NOTADB)
    return ew_refuse_with(error, EW_REMEDY_OTHER_BOOK, "this file is not a book");
  return ew_sqlite_error(db, error);
}

static gboolean connect(sqlite3 **db, const char *name, int flags, GError **error) {
  gboolean open = sqlite3_open_v2(name, db, flags | SQLITE_OPEN_NOMUTEX, NULL) == SQLITE_OK;
  if (open)
    distrust(*db);
  return (open && sqlite3_busy_timeout(*db, WAIT_MS) == SQLITE_OK) || ew_sqlite_error(*db, error);
}

static gboolean open_to_write(sqlite3 **db, const char *path, GError **error) {
  return connect(db, path, SQLITE_OPEN_READWRITE, error) && ew_schema_check(*db, error) &&
         configure(*db, error) && ew_schema_migrate(*db, error);
}

/* A file that is never written to, with no log that waits: read as it is, with no file beside it. */
static gboolean read_as_it_is(sqlite3 **db, const char *path, GError **error) {
  g_autofree char *real = realpath(path, NULL);
  g_autofree char *log = real ? g_strconcat(real, "-wal", NULL) : NULL;
  g_autofree char *name = real ? g_uri_escape_string(real, "/", TRUE) : NULL;
  g_autofree char *uri = name ? g_strdup_printf("file:%s?mode=ro&immutable=1", name) : NULL;
  struct stat facts;
  if (log && stat(log, &facts) == 0 && facts.st_size > 0)
    return ew_refuse(error,
                     "rows wait in its log '%s', and the disk takes nothing: free some space, "
                     "or copy both files to a disk that can be written",
                     log);
  return uri && connect(db, uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, error) &&
         ew_schema_check(*db, error);
}

/* The disk is full or can't be written: what is in the book can be read all the same. */
static gboolean open_to_read(sqlite3 **db, const char *path, GError **error) {
  sqlite3_close_v2(g_steal_pointer(db));
  gboolean good = connect(db, path, SQLITE_OPEN_READONLY, NULL) && ew_schema_check(*db, NULL);
  if (!good) {
    sqlite3_close_v2(g_steal_pointer(db));
    good = read_as_it_is(db, path, error);
  }
  if (good && ew_sqlite_number(*db, "PRAGMA user_version") != ew_schema_newest())
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

static gboolean open_there(sqlite3 **db, const char *path, gboolean create, gboolean *read_only,
                           GError **error) {
  g_autoptr(GError) problem = NULL;
  if (open_to_write(db, path, &problem))
    return TRUE;
  if (!create && is_of_the_disk(*db)) {
    *read_only = TRUE;
    if (open_to_read(db, path, error))
      return TRUE;
  }
  if (error && !*error)
    g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}

struct ew_port *ew_sqlite_open(const char *path, gboolean create, gboolean *read_only,
                               GError **error) {
  sqlite3 *db = NULL;
  *read_only = FALSE;
  if (open_there(&db, path, create, read_only, error))
    return ew_sqlite_over(db);
  sqlite3_close_v2(db);
  return NULL;
}
